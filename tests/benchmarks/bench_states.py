"""States derived again: 10,000 printing conditions. Run: python -m tests.benchmarks.bench_states

Each condition has six checks that tell its state, a forecast, and shares its printer's 40 events with the printer's
other conditions. Timed is `core.conditions.state.derive` alone, as the schedule calls it at every tick, best of five;
told beside it is what the same machine does in that time: so many thousand sorts of forty numbers.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.due import DueRules, PastCheck, Scoring
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.forecasts import ConditionForecast, Leaving
from sentinel.core.conditions.state import Situation, derive
from sentinel.core.verdict import Verdict

CONDITIONS = 10_000
ROUNDS = 5
NOW = datetime(2026, 6, 1, 8, tzinfo=UTC)
DAY = timedelta(days=1)
RULES = DueRules(
    max_age=7 * DAY,
    calendar=Calendar(working=frozenset({1, 2, 3, 4, 5})),
    warned_times=3,
    after=frozenset({EventKind.RECALIBRATION, EventKind.SERVICE, EventKind.STOCK_LOT}),
    never_run_after=frozenset({EventKind.HEADS}),
    square_metres=500.0,
    standstill=5 * DAY,
    target_changed=True,
    limits_changed=True,
    lead=DAY,
    drift=True,
    resets=frozenset({EventKind.RECALIBRATION, EventKind.HEADS}),
)


def main() -> None:
    rng = random.Random(7)
    situations = [_situation(rng, number) for number in range(CONDITIONS)]
    seconds = _best(lambda: [derive(situation, NOW) for situation in situations])
    numbers = [[rng.random() for _ in range(40)] for _ in range(1000)]
    sorts = _best(lambda: [sorted(each) for each in numbers])
    sys.stdout.write(
        f"{CONDITIONS} conditions derived in {seconds:.2f} s, {seconds / sorts:.0f} times 1,000 sorts of 40 numbers\n"
    )


def _best(work: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return min(times)


def _situation(rng: random.Random, number: int) -> Situation:
    checks = tuple(
        PastCheck(seq, NOW - rng.random() * 20 * DAY, rng.choice([Verdict.PASS, Verdict.WARN]), True, "a", "m")
        for seq in range(6)
    )
    last = max(checks, key=lambda check: check.order)
    leaving = Leaving("paper", "db_mean", True, 9, 1.0, 0.1, 3.0, NOW, (NOW, NOW), (NOW, None), NOW)
    kinds = [EventKind.PRINTED_AREA] * 30 + [EventKind.NOZZLE_CHECK] * 8 + [EventKind.SERVICE, EventKind.STOCK_LOT]
    events = tuple(
        Event(kind, NOW - rng.random() * 30 * DAY, f"printer-{number % 50}", facts={"square_metres": 9.0}, seq=seq)
        for seq, kind in enumerate(kinds)
    )
    outlook = ConditionForecast(last.seq, NOW - 90 * DAY, 9, 1, 20, 0, (leaving,))
    rules = replace(RULES)
    return Situation(rules, checks, events, scoring=Scoring(frozenset({("a", "m")})), outlook=outlook)


if __name__ == "__main__":
    main()
