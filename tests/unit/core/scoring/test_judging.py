"""From figures and limits to verdict and reasons."""

from __future__ import annotations

import math

import pytest

from sentinel.core.scoring.judging import is_recovered, judge
from sentinel.core.scoring.membership import Count
from sentinel.core.scoring.names import METRIC_WORDS, figure_words
from sentinel.core.scoring.policy import Limit, laid_over
from sentinel.core.verdict import Verdict
from tests.unit.core.builders import codes

LIMITS = {"all": {"de00_mean": Limit(2.0, 3.0)}}
PASS, WARN, FAIL = Verdict.PASS, Verdict.WARN, Verdict.FAIL


@pytest.mark.parametrize(
    ("value", "verdict", "reasons"),
    [
        (0.0, PASS, []),
        (2.0, PASS, []),
        (math.nextafter(2.0, 3), PASS, []),
        (2.0 * (1 + 1e-10), PASS, []),
        (2.0 * (1 + 1e-8), WARN, ["warning-limit"]),
        (3.0, WARN, ["warning-limit"]),
        (math.nextafter(3.0, 4), WARN, ["warning-limit"]),
        (3.0 * (1 + 1e-8), FAIL, ["action-limit"]),
        (50.0, FAIL, ["action-limit"]),
    ],
)
def test_a_figure_at_its_limit_is_within_it(value: float, verdict: Verdict, reasons: list[str]) -> None:
    found, why = judge({"all": {"de00_mean": value}}, LIMITS)
    assert (found, codes(why)) == (verdict, reasons)


def test_a_reason_says_the_figure_its_limit_and_what_came() -> None:
    [warning] = judge({"all": {"de00_mean": 2.5}}, LIMITS)[1]
    said = "mean ΔE00 of all patches: expected at most the warning limit 2.00 ΔE00, got 2.50 ΔE00"
    assert str(warning.message) == said
    [action] = judge({"all": {"de00_mean": 3.5}}, LIMITS)[1]
    assert str(action.message) == "mean ΔE00 of all patches: expected at most the action limit 3.00 ΔE00, got 3.50 ΔE00"


def test_a_figure_just_beyond_its_limit_is_not_shown_as_the_limit() -> None:
    [warning] = judge({"all": {"de00_mean": 2.004}}, LIMITS)[1]
    expected, got = str(warning.message).rsplit(", got ", 1)
    assert not expected.endswith(f" {got}")


def test_where_both_limits_are_equal_there_is_no_warning() -> None:
    limits = {"all": {"de00_max": Limit(3.0, 3.0)}}
    assert judge({"all": {"de00_max": 3.0}}, limits)[0] is PASS
    assert judge({"all": {"de00_max": 3.1}}, limits)[0] is FAIL


def test_the_worst_figure_decides_and_its_reasons_come_first() -> None:
    limits = {
        "greys": {"de00_mean": Limit(2, 3)},
        "paper": {"de00_mean": Limit(1, 3)},
        "all": {"de00_mean": Limit(2, 3), "de00_max": Limit(8, 12)},
    }
    metrics = {"all": {"de00_mean": 2.5, "de00_max": 20.0}, "paper": {"de00_mean": 4.0}}
    verdict, why = judge(metrics, limits)
    assert verdict is FAIL
    assert codes(why) == ["action-limit", "action-limit", "warning-limit", "group-absent"]


def test_an_absent_group_is_told_and_changes_no_verdict() -> None:
    verdict, why = judge({"all": {"de00_mean": 1.0}}, {**LIMITS, "solids": {"de00_max": Limit(3, 5)}})
    assert (verdict, codes(why)) == (PASS, ["group-absent"])
    assert str(why[0].message) == "the aim has no values of solids: their limits were not checked"


def test_an_absent_group_is_told_once_however_many_limits_it_has() -> None:
    limits = {"greys": {"de00_mean": Limit(1, 2), "dch_max": Limit(1, 2)}, "skin": {}}
    [reason] = judge({"all": {}}, limits)[1]
    assert str(reason.message) == "the aim has no values of greys: their limits were not checked"


def test_a_figure_that_cannot_be_had_is_told_and_changes_no_verdict() -> None:
    limits = {"all": {"uniformity": Limit(1, 2), "de00_mean": Limit(2, 3)}, "tones_K": {"tv_max": Limit(2, 3)}}
    verdict, why = judge({"all": {"de00_mean": 1.0}, "tones_K": {"de00_mean": 1.0}}, limits)
    assert (verdict, codes(why)) == (PASS, ["group-absent", "group-absent"])
    assert [str(reason.message) for reason in why] == [
        "largest ΔE*ab between two quarters of the sheet of all patches: not to be had from this file, its limit was "
        "not checked",
        "largest error of tone value of tone scale K: not to be had from this file, its limit was not checked",
    ]


@pytest.mark.parametrize("metric", sorted(METRIC_WORDS))
@pytest.mark.parametrize("group", ["all", "dark", "solid_C", "tones_7CLR_3", "skin"])
def test_any_metric_of_any_group_can_have_limits(group: str, metric: str) -> None:
    limits = {group: {metric: Limit(1.0, 2.0)}}
    found = [judge({"all": {}, group: {metric: value}}, limits) for value in (0.9, 1.1, 2.1)]
    assert [verdict for verdict, _ in found] == [PASS, WARN, FAIL]
    assert str(figure_words(group, metric)) in str(found[2][1][0].message)


@pytest.mark.parametrize("metric", ["dl_mean", "da_mean", "db_mean", "dc_mean", "tv_mean"])
@pytest.mark.parametrize(("size", "verdict"), [(0.9, PASS), (1.0, PASS), (1.1, WARN), (2.0, WARN), (2.1, FAIL)])
def test_a_signed_figure_is_held_to_its_limits_by_its_size(metric: str, size: float, verdict: Verdict) -> None:
    for value in (size, -size):
        assert judge({"all": {metric: value}}, {"all": {metric: Limit(1.0, 2.0)}})[0] is verdict


@pytest.mark.parametrize(("read", "aim"), [(50.0, 50.3), (50.3, 50.0), (49.7, 50.0), (10.0, 10.3)])
def test_a_difference_that_is_the_limit_on_paper_is_within_it_on_both_sides(read: float, aim: float) -> None:
    """In binary 50.3 - 50 is below 0.3 and 50 - 49.7 above it."""
    limits = {"all": {"dl_mean": Limit(0.3, 0.3, recover=0.3)}}
    assert judge({"all": {"dl_mean": read - aim}}, limits) == (PASS, ())
    assert is_recovered({"all": {"dl_mean": read - aim}}, limits)


def test_a_group_of_the_target_that_was_not_read_is_not_absent_from_the_chart() -> None:
    limits = {
        "paper": {"de00_mean": Limit(1, 2)},
        "greys": {"de00_mean": Limit(1, 2)},
        "dark": {"dl_mean": Limit(1, 2)},
    }
    verdict, why = judge({"all": {}}, limits, {"paper": Count(0, 0, 1), "greys": Count(0, 2, 29)})
    assert (verdict, codes(why)) == (PASS, ["group-not-read", "group-not-read", "group-absent"])
    assert [str(reason.message) for reason in why] == [
        "bare stock: the aim's 1 patch is not in the file, its limits were not checked",
        "greys: none of the aim's 29 patches has values in the file, their limits were not checked",
        "the aim has no values of dark patches: their limits were not checked",
    ]


@pytest.mark.parametrize("value", [-2.5, 2.5])
def test_a_signed_figure_beyond_its_limit_is_told_by_its_size(value: float) -> None:
    [reason] = judge({"greys": {"db_mean": value}}, {"greys": {"db_mean": Limit(1.0, 2.0)}})[1]
    assert str(reason.message) == "mean Δb* of greys: expected at most the action limit 2.00 Δb*, got 2.50 Δb*"


def test_a_figure_without_a_limit_is_not_judged() -> None:
    assert judge({"all": {"de00_mean": 1.0, "de00_max": 99.0}, "paper": {"de00_mean": 99.0}}, LIMITS) == (PASS, ())


def test_single_limits_are_laid_over_those_below_and_all_others_stay() -> None:
    below = {"all": {"de00_mean": Limit(2, 3), "de00_max": Limit(8, 12)}, "paper": {"de00_mean": Limit(1, 3)}}
    above = {"all": {"de00_max": Limit(4, 6)}, "greys": {"de00_mean": Limit(2, 4)}}
    assert laid_over(below, above) == {
        "all": {"de00_mean": Limit(2, 3), "de00_max": Limit(4, 6)},
        "paper": {"de00_mean": Limit(1, 3)},
        "greys": {"de00_mean": Limit(2, 4)},
    }
    assert below["all"]["de00_max"] == Limit(8, 12)


def test_nothing_laid_over_changes_nothing() -> None:
    assert laid_over(LIMITS, {}) == LIMITS
    assert laid_over({}, LIMITS) == LIMITS


@pytest.mark.parametrize(
    ("value", "limit", "recovered"),
    [
        (2.9, Limit(2.0, 3.0), True),
        (3.0, Limit(2.0, 3.0), True),
        (3.1, Limit(2.0, 3.0), False),
        (1.5, Limit(2.0, 3.0, recover=1.5), True),
        (math.nextafter(1.5, 2), Limit(2.0, 3.0, recover=1.5), True),
        (1.5 * (1 + 1e-8), Limit(2.0, 3.0, recover=1.5), False),
        (2.4, Limit(2.0, 3.0, recover=2.5), True),
        (-1.4, Limit(2.0, 3.0, recover=1.5), True),
        (-1.6, Limit(2.0, 3.0, recover=1.5), False),
    ],
)
def test_a_condition_recovers_at_or_below_the_recovery_limit(value: float, limit: Limit, recovered: bool) -> None:
    assert is_recovered({"all": {"dl_mean": value}}, {"all": {"dl_mean": limit}}) is recovered


def test_every_figure_must_be_low_enough_to_recover() -> None:
    limits = {"all": {"de00_mean": Limit(2, 3, 1.5)}, "greys": {"dch_max": Limit(2, 3, 1.0)}}
    assert is_recovered({"all": {"de00_mean": 1.5}, "greys": {"dch_max": 1.0}}, limits)
    assert not is_recovered({"all": {"de00_mean": 1.5}, "greys": {"dch_max": 1.1}}, limits)
    assert not is_recovered({"all": {"de00_mean": 1.6}, "greys": {"dch_max": 1.0}}, limits)


def test_a_recovery_limit_changes_no_verdict() -> None:
    for value in (1.0, 2.5, 3.5):
        plain, strict = ({"all": {"de00_mean": limit}} for limit in (Limit(2, 3), Limit(2, 3, 1.0)))
        assert judge({"all": {"de00_mean": value}}, plain) == judge({"all": {"de00_mean": value}}, strict)


def test_a_limit_laid_over_another_brings_its_own_recovery() -> None:
    below = {"all": {"de00_mean": Limit(2, 3, 1.0)}}
    assert laid_over(below, {"all": {"de00_mean": Limit(2, 3)}})["all"]["de00_mean"].recover is None
