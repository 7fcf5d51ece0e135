"""Days outside the limits under checks by the forecast, against a fixed interval with as many checks."""

from __future__ import annotations

from dataclasses import dataclass

from tests.simulation.plans import as_the_rules_do, by_forecast, fixed_with_as_many_checks
from tests.simulation.print_room import Outcome, Plan, Room, room, run
from tests.support.amount import amount

SEED = 20_264
"""Of no room that the plan's parameters were chosen on."""
CONDITIONS = amount(20, long=400)

WEAR, SLOW_WEAR = (60.0, 360.0), (120.0, 720.0)


@dataclass(frozen=True, slots=True)
class Benefit:
    """What came of both plans; `interval` is that of the fixed one in days."""

    by_forecast: Outcome
    interval: float
    fixed: Outcome

    @property
    def ratio(self) -> float:
        """Days outside by the forecast over those by the fixed interval."""
        return self.by_forecast.days_outside / self.fixed.days_outside


def benefit(wear: tuple[float, float] | None, *, steps: bool, recorded: float = 0.0) -> Benefit:
    """In one room; the forecast's plan looks after recorded events, which the share `recorded` of the steps follow."""
    return _compared(room(SEED, CONDITIONS, wear=wear, steps=steps, recorded=recorded), by_forecast())


def benefit_of_the_rules(wear: tuple[float, float], conditions: int = 60) -> Benefit:
    """The same for the due rules, each condition with 15 steady figures beside the one that wears."""
    return _compared(room(SEED, conditions, wear=wear, steps=False), as_the_rules_do(steady=15))


def _compared(of: Room, plan: Plan) -> Benefit:
    planned = run(of, plan, after_events=True)
    interval, fixed = fixed_with_as_many_checks(of, planned.checks)
    return Benefit(planned, interval, fixed)
