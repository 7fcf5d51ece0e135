"""What told causes change in what is expected, and what they can never change."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.application.checking import GUARDED
from sentinel.core.assessment import CODES
from sentinel.core.diagnosis.expectation import HEALTHY, LEAST, PRIOR_CASES, learnt, posterior_means
from sentinel.core.diagnosis.findings import FORBIDS_RECALIBRATION
from sentinel.settings.diagnosis import HOUSE_WEIGHTS

FREE = set(HOUSE_WEIGHTS) - GUARDED - {HEALTHY}
CAUSES = sorted(set(HOUSE_WEIGHTS) - {HEALTHY})

some_weights = st.fixed_dictionaries(dict.fromkeys(HOUSE_WEIGHTS, st.floats(0.001, 100)))
some_cases = st.dictionaries(st.sampled_from(CAUSES), st.integers(0, 1000))


def factors(cases: Mapping[str, int], weights: Mapping[str, float] = HOUSE_WEIGHTS) -> dict[str, float]:
    return learnt(weights, cases, GUARDED)


def test_the_posterior_is_that_of_a_dirichlet_worked_out_by_hand() -> None:
    """Three causes weighed 2 : 1 : 1 are 10, 5 and 5 of 20 cases; 6 of the first and 14 of the second told make 16, 19
    and 5 of 40. (a_c + n_c) / sum(a + n): Gelman et al., Bayesian Data Analysis, 3rd edition, section 3.4, from memory.
    """
    assert PRIOR_CASES == 20
    means = posterior_means({"a": 0.2, "b": 0.1, "c": 0.1, HEALTHY: 5.0}, {"a": 6, "b": 14})
    by_hand = {"a": Fraction(16, 40), "b": Fraction(19, 40), "c": Fraction(5, 40)}
    assert means == pytest.approx({cause: float(share) for cause, share in by_hand.items()})


def test_the_prior_is_worth_twenty_cases() -> None:
    """With as many told as it is worth, a cause stands in the middle between what was configured and what was told."""
    told = posterior_means(HOUSE_WEIGHTS, {"tone-shift": 20})
    configured = HOUSE_WEIGHTS["tone-shift"] / sum(HOUSE_WEIGHTS[cause] for cause in CAUSES)
    assert told["tone-shift"] == pytest.approx((configured + 1) / 2)


def test_nothing_is_changed_where_nothing_was_told() -> None:
    assert factors({}) == {}
    assert factors({"tone-shift": 0, "gremlins": 9}) == {}


def test_a_cause_met_here_gains_on_one_that_was_not() -> None:
    found = factors({"tone-shift": 15, "solid-off-aim": 8})
    assert found["tone-shift"] > found["solid-off-aim"] > found["substrate-shade"]


def test_causes_that_forbid_nothing_stand_to_each_other_as_in_the_posterior() -> None:
    cases = {"tone-shift": 3, "solid-off-aim": 1}
    means, found = posterior_means(HOUSE_WEIGHTS, cases), factors(cases)
    assert found["tone-shift"] / found["solid-off-aim"] == pytest.approx(means["tone-shift"] / means["solid-off-aim"])


@given(some_cases, some_weights)
def test_no_cause_that_withholds_or_forbids_is_expected_less_than_configured(
    cases: dict[str, int], weights: dict[str, float]
) -> None:
    found = factors(cases, weights)
    assert all(found[cause] >= 1 - 1e-9 for cause in GUARDED if found)
    assert all(found[cause] >= LEAST - 1e-9 for cause in FREE if found)


@given(some_cases, some_weights)
def test_the_weights_of_all_causes_add_to_what_they_did(cases: dict[str, int], weights: dict[str, float]) -> None:
    found = factors(cases, weights)
    whole = sum(weights[cause] for cause in CAUSES)
    assert sum(weights[cause] * found.get(cause, 1.0) for cause in CAUSES) == pytest.approx(whole)


@given(some_cases, some_weights, st.fixed_dictionaries(dict.fromkeys(HOUSE_WEIGHTS, st.floats(1e-6, 1))))
def test_no_sheet_points_less_to_what_withholds_or_forbids_by_learning(
    cases: dict[str, int], weights: dict[str, float], likelihoods: dict[str, float]
) -> None:
    """By Bayes' rule, of any sheet with one fault or none, whatever it shows."""
    found = factors(cases, weights)

    def shares(learnt: Mapping[str, float]) -> dict[str, float]:
        joint = {each: weights[each] * learnt.get(each, 1.0) * likelihoods[each] for each in weights}
        return {each: value / sum(joint.values()) for each, value in joint.items()}

    before, after = shares({}), shares(found)
    assert sum(after[each] for each in GUARDED) >= sum(before[each] for each in GUARDED) - 1e-9


def test_what_withholds_a_verdict_and_what_forbids_recalibrating_is_guarded() -> None:
    assert {cause.value for cause in CODES} | {cause.value for cause in FORBIDS_RECALIBRATION} <= GUARDED
    assert {"tone-shift", "solid-off-aim", "substrate-shade", "unexplained"} <= FREE
