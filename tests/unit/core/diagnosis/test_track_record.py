"""How often confidences were right: the interval against a published table, and what counts as right."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from sentinel.core.diagnosis.track_record import EDGES, FEWEST, KnownCase, track_record, wilson_interval


@pytest.mark.parametrize(
    ("right", "cases", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_interval_is_that_of_the_published_examples(right: int, cases: int, low: float, high: float) -> None:
    """R. G. Newcombe, Two-sided confidence intervals for the single proportion, Statistics in Medicine 17 (1998)
    857-872, table I, method 3 (the score interval of Wilson, 1927), from memory."""
    assert wilson_interval(right, cases) == pytest.approx((low, high), abs=5e-5)


def test_of_no_case_every_share_is_possible() -> None:
    assert wilson_interval(0, 0) == (0.0, 1.0)


def finding(cause: str, confidence: float, ink: str | None = None) -> dict[str, Any]:
    return {"cause": cause, "ink": ink, "confidence": confidence}


@pytest.mark.parametrize(
    ("case", "named", "right"),
    [
        (KnownCase((), "tone-shift"), finding("tone-shift", 0.9, "C"), True),
        (KnownCase((), "tone-shift", "C"), finding("tone-shift", 0.9, "C"), True),
        (KnownCase((), "tone-shift", "M"), finding("tone-shift", 0.9, "C"), False),
        (KnownCase((), "tone-shift", "M"), finding("tone-shift", 0.9), True),
        (KnownCase((), "tone-shift"), finding("solid-off-aim", 0.9), False),
        (KnownCase((), None), finding("unexplained", 0.9), False),
    ],
)
def test_a_finding_is_right_that_names_the_cause_and_no_other_ink(
    case: KnownCase, named: dict[str, Any], right: bool
) -> None:
    assert case.is_right(named) is right


def test_every_confidence_is_counted_in_one_bin_and_the_first_of_each_check_apart() -> None:
    cases = [
        KnownCase((finding("tone-shift", 1.0), finding("substrate-shade", 0.0)), "tone-shift"),
        KnownCase((finding("tone-shift", 0.9), finding("substrate-shade", 0.05)), "substrate-shade"),
        KnownCase((finding("tone-shift", 0.7), finding("substrate-shade", 0.3)), "tone-shift"),
        KnownCase((), "tone-shift"),
        KnownCase((), None),
        KnownCase((finding("tone-shift", 0.89),), None),
    ]
    found = track_record(cases)
    assert (found.cases, found.silent, found.false_alarms) == (6, 1, 1)
    assert [(each.findings, each.right) for each in found.first] == [(0, 0), (0, 0), (0, 0), (2, 1), (2, 1)]
    assert [(each.findings, each.right) for each in found.all] == [(2, 1), (1, 0), (0, 0), (2, 1), (2, 1)]
    assert [(each.low, each.high) for each in found.first] == list(pairwise(EDGES))


def test_of_few_cases_it_is_said_that_they_are_few() -> None:
    few, enough = (
        track_record([KnownCase((finding("tone-shift", 0.95),), "tone-shift")] * number).first[-1]
        for number in (FEWEST - 1, FEWEST)
    )
    assert (few.enough, enough.enough) == (False, True)
    assert enough.as_json()["interval"] == [0.8389, 1.0]
