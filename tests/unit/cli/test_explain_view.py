"""What `explain` says to people: reasons plainly, their statistics with the rule, a unit behind every number."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from sentinel.cli.explain import _with_unit, explained_text
from sentinel.core.cases.standing import standing
from sentinel.core.conditions.due import Climate, DueRules, PastCheck
from sentinel.core.conditions.explanation import explain
from sentinel.core.conditions.forecasts import ConditionForecast, Leaving, Shift
from sentinel.core.conditions.state import Situation
from sentinel.core.verdict import Verdict
from tests.support.clock import NOON
from tests.support.units import without_unit

DAY = timedelta(days=1)
LEAVING = Leaving(
    group="solid_C", metric="dl_mean", trend=True, readings=9, level=1.2, slope=0.25, limit=2.0,
    expected=NOON + 3 * DAY, likely=(None, None), wide=(NOON + DAY, None), check_by=NOON, reading=(-0.4, 1.9),
)  # fmt: skip
SHIFT = Shift("paper", "db_mean", "ewma", "above", NOON - 9 * DAY, 7.1, 6.0, fresh=False)
RULES = DueRules(
    max_age=7 * DAY, warned_times=3, square_metres=250.0, standstill=4 * DAY, lead=3 * DAY, drift=True,
    climate=Climate(celsius=(18.0, 26.0), percent_humidity=(40.0, 60.0)),
)  # fmt: skip


def text() -> str:
    forecast = ConditionForecast(
        118, NOON - 90 * DAY, 9, trends=1, no_trends=4, no_forecasts=2, leaving=(LEAVING,), shifts=(SHIFT,)
    )
    checks = (PastCheck(118, NOON - 8 * DAY, Verdict.PASS),)
    found = explain(Situation(RULES, checks, forecast=forecast), NOON)
    return explained_text("north/satin-240", found, standing({}, replace(found.report), NOON), ZoneInfo("UTC"))


def test_every_number_has_its_unit() -> None:
    told = re.sub(r"T\d\d:\d\d:\d\d\+\d\d:\d\d|without one = |\d{4}-\d\d-\d\d", "", text())
    assert without_unit(told) == []


def test_settings_and_inputs_are_told_with_what_they_count() -> None:
    told = text()
    for line in (
        "set to: 7 days",
        "set to: 3 checks",
        "set to: 250 square metres",
        "set to: celsius = 18 °C, 26 °C; percent_humidity = 40 %, 60 %",
        "readings that count = 9 readings",
        "a reading of -0.4 ΔL* to +1.9 ΔL* is expected on",
    ):
        assert line in told, told


def test_reasons_are_said_plainly_and_their_statistics_stand_with_the_rule() -> None:
    head, *rules = text().split("\n\n")
    assert "has been higher than usual since" in head
    assert not re.search("sigma|EWMA|confidence", head)
    assert re.search("drift chart, EWMA: 7.1 sigma", "\n".join(rules))


@pytest.mark.parametrize(("value", "said"), [(1, "1 day ahead"), (1.5, "1.5 days ahead"), (0, "0 days ahead")])
def test_one_of_a_thing_is_one(value: float, said: str) -> None:
    assert _with_unit(value, "days ahead") == said
