"""From figures and limits to verdict and reasons."""

from __future__ import annotations

import math

import pytest

from sentinel.core.scoring.judging import judge
from sentinel.core.scoring.limits import Limit, laid_over
from sentinel.core.verdict import Verdict
from tests.unit.core.builders import codes

LIMITS = {"all": {"de00_mean": Limit(2.0, 3.0)}}
PASS, WARN, FAIL = Verdict.PASS, Verdict.WARN, Verdict.FAIL


@pytest.mark.parametrize(
    ("value", "verdict", "reasons"),
    [
        (0.0, PASS, []),
        (2.0, PASS, []),
        (math.nextafter(2.0, 3), WARN, ["warning-limit"]),
        (3.0, WARN, ["warning-limit"]),
        (math.nextafter(3.0, 4), FAIL, ["action-limit"]),
        (50.0, FAIL, ["action-limit"]),
    ],
)
def test_a_figure_at_its_limit_is_within_it(value: float, verdict: Verdict, reasons: list[str]) -> None:
    found, why = judge({"all": {"de00_mean": value}}, LIMITS)
    assert (found, codes(why)) == (verdict, reasons)


def test_a_reason_says_the_figure_its_limit_and_what_came() -> None:
    [warning] = judge({"all": {"de00_mean": 2.5}}, LIMITS)[1]
    assert warning.message == "mean ΔE00 of all patches: expected at most the warning limit 2.00, got 2.50"
    [action] = judge({"all": {"de00_mean": 3.5}}, LIMITS)[1]
    assert action.message == "mean ΔE00 of all patches: expected at most the action limit 3.00, got 3.50"


def test_a_figure_just_beyond_its_limit_is_not_shown_as_the_limit() -> None:
    [warning] = judge({"all": {"de00_mean": 2.004}}, LIMITS)[1]
    expected, got = warning.message.rsplit(", got ", 1)
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
    assert "no solids patches" in why[0].message


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
