from __future__ import annotations

from dataclasses import replace

import pytest

from sentinel.core.drift.control_limits import limits_for
from sentinel.core.drift.rules import WatchDesign

WATCH = WatchDesign(100, 6, 8, sigma_known=True, autocorrelation=0.0, false_alarms=1.0)


def test_same_question_has_the_same_answer() -> None:
    first = limits_for(WATCH, 0.2, 0.5)
    limits_for.cache_clear()
    assert limits_for(WATCH, 0.2, 0.5) == first


@pytest.mark.parametrize(
    "harder",
    [
        replace(WATCH, series=400),
        replace(WATCH, checks_per_quarter=13),
        replace(WATCH, baseline_readings=5),
        replace(WATCH, sigma_known=False),
        replace(WATCH, autocorrelation=0.5),
        replace(WATCH, false_alarms=0.25),
    ],
)
def test_every_chart_needs_wider_limits_where_more_can_go_wrong(harder: WatchDesign) -> None:
    usual, wider = limits_for(WATCH, 0.2, 0.5), limits_for(harder, 0.2, 0.5)
    assert wider.individuals > usual.individuals
    assert wider.ewma > usual.ewma
    assert wider.cusum > usual.cusum


@pytest.mark.parametrize("series", [1, 3000])
def test_allowance_that_cannot_be_read_off_is_refused(series: int) -> None:
    with pytest.raises(ValueError, match="expected 2 to 2000 series for one false alarm a quarter"):
        limits_for(replace(WATCH, series=series), 0.2, 0.5)
