"""Days outside the limits under checks by the forecast, against a fixed interval with as many checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tests.simulation.plans import as_the_rules_do, by_forecast, fixed_with_as_many_checks
from tests.simulation.print_room import Outcome, Room, room, run, run_together
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


@dataclass(frozen=True, slots=True)
class Moving:
    """What moves in a room: wear of so many days to a limit, steps, and the share of them that follow an event."""

    wear: tuple[float, float] | None = None
    steps: bool = False
    recorded: float = 0.0


def benefits(of: Sequence[Moving]) -> list[Benefit]:
    """In one room each; the forecast's plan looks after recorded events."""
    rooms = [room(SEED, CONDITIONS, wear=each.wear, steps=each.steps, recorded=each.recorded) for each in of]
    planned = run_together(rooms, by_forecast(), after_events=True)
    return [_compared(*each) for each in zip(rooms, planned, strict=True)]


def benefit_of_the_rules(wear: tuple[float, float], conditions: int = 60) -> Benefit:
    """The same for the due rules, each condition with 15 steady figures beside the one that wears."""
    of = room(SEED, conditions, wear=wear, steps=False)
    return _compared(of, run(of, as_the_rules_do(steady=15), after_events=True))


def _compared(of: Room, planned: Outcome) -> Benefit:
    interval, fixed = fixed_with_as_many_checks(of, planned.checks)
    return Benefit(planned, interval, fixed)
