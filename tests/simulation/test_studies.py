"""The studies, with every run: what sentinel/core/drift/README.md tells at length, on fewer series.

Bounds of what should hold exactly leave two standard errors of the smaller study.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.simulation.benefit import SLOW_WEAR, WEAR, Benefit, Moving, benefit_of_the_rules, benefits
from tests.simulation.coverage import KINDS, Coverage, coverages, crossing_coverages
from tests.simulation.false_alarms import PRINTERS, WATCH, false_alarms
from tests.support.amount import amount

HARDEST = "no trend, mostly long wander, bursts"


@pytest.fixture(scope="module")
def found() -> dict[str, Coverage]:
    return coverages()


def test_ninety_per_cent_interval_holds_88_to_92_of_100_readings_to_come(found: dict[str, Coverage]) -> None:
    assert 0.88 <= found["all"].ninety <= 0.92
    assert 0.48 <= found["all"].half <= 0.56
    assert {name for name in KINDS if not 0.86 <= found[name].ninety <= 0.95} <= {HARDEST}
    assert found[HARDEST].ninety >= 0.83


def test_most_steady_series_show_no_trend_and_most_sloped_ones_do(found: dict[str, Coverage]) -> None:
    assert found["no trend"].trend <= 0.05
    assert found["no trend, mostly wander"].trend <= 0.12
    assert found["slope, bursts, wander"].trend >= 0.75


@pytest.mark.parametrize("wander", [0.0, 0.3])
def test_true_crossing_lies_within_its_bounds_at_least_nearly_as_often_as_said(wander: float) -> None:
    for half, ninety in crossing_coverages(wander).values():
        assert half >= 0.45
        assert ninety >= 0.84


@pytest.mark.parametrize("between", [0.0, 0.5, 0.9])
@pytest.mark.parametrize("sigma_known", [True, False])
def test_a_printer_of_300_series_has_at_most_one_false_alarm_a_quarter(between: float, sigma_known: bool) -> None:
    alarms = false_alarms(replace(WATCH, sigma_known=sigma_known), between)
    assert np.mean(alarms.alarms) <= 1.0
    assert max(alarms.occasions) <= 1.0 + 2 / np.sqrt(PRINTERS)


MOVING = (
    Moving(WEAR),
    Moving(SLOW_WEAR),
    Moving(steps=True),
    Moving(WEAR, steps=True),
    Moving(WEAR, steps=True, recorded=0.8),
)


@pytest.fixture(scope="module")
def gained() -> dict[Moving, Benefit]:
    """In every room, played together."""
    return dict(zip(MOVING, benefits(MOVING), strict=True))


@pytest.mark.parametrize("wear", [WEAR, SLOW_WEAR])
def test_wear_is_outside_for_at_most_half_the_days_of_a_fixed_interval(
    wear: tuple[float, float], gained: dict[Moving, Benefit]
) -> None:
    found = gained[Moving(wear)]
    assert found.fixed.checks >= found.by_forecast.checks
    assert found.ratio <= 0.5


def test_steps_that_nobody_recorded_are_found_no_sooner_by_a_forecast(gained: dict[Moving, Benefit]) -> None:
    """Nothing foretells them: with as many checks there is nothing to gain, and the study must say so."""
    assert 0.85 <= gained[Moving(steps=True)].ratio <= 1.3


def test_wear_and_steps_together_gain_as_far_as_steps_follow_recorded_events(gained: dict[Moving, Benefit]) -> None:
    unrecorded, recorded = (gained[Moving(WEAR, steps=True, recorded=share)].ratio for share in (0.0, 0.8))
    assert recorded <= 0.65
    assert recorded < unrecorded < 1.0


def test_the_due_rules_keep_the_gain_beside_fifteen_steady_figures() -> None:
    assert benefit_of_the_rules(SLOW_WEAR, conditions=amount(4, long=12)).ratio <= 0.6
