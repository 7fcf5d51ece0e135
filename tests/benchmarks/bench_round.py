"""Speed and proof of the round's planning. Run: python -m tests.benchmarks.bench_round

Invented rooms: charts of eight stocks, each drying as it does, of a few kinds with their times; then twelve charts on
one printer, each the only one of its stock, whose times are equal, nearly so, or all different. Ratios come from one
run. Processor time, since a plan is made in one thread.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from random import Random
from statistics import median
from typing import TypeVar

from sentinel.core.planning.plan import plan_round
from sentinel.core.planning.room import PlannedChart, Room, RoundPrinter, RoundStock
from tests.unit.core.planning.exhaustive import best_by_exhaustion

Value = TypeVar("Value")

ROOMS = 12
DRYING = (0, 2, 5, 15, 30, 60, 60, 120)
Span = tuple[int, int]
OWN_STOCKS: dict[str, tuple[Span, Span, Span]] = {
    "equal": ((10, 10), (60, 60), (15, 15)),
    "prints vary, dry in 24 h": ((6, 12), (1440, 1440), (10, 10)),
    "prints vary, dry in 1 h": ((6, 12), (60, 60), (10, 10)),
    "prints and drying vary about 24 h": ((6, 12), (1380, 1440), (10, 10)),
    "drying varies": ((10, 10), (30, 60), (15, 15)),
    "measuring varies": ((10, 10), (30, 30), (3, 12)),
    "all times vary": ((4, 12), (0, 120), (3, 15)),
}
"""Least and most minutes to print, to dry and to measure."""
STOCKS = tuple(RoundStock(name=f"stock-{number}", core=f"{2 + number % 2} inch") for number in range(len(DRYING)))


def main() -> None:
    for charts in ((6,), (8,), (10,), (12,), (4, 4, 4), (6, 6, 6), (8, 8, 8), (16,), (24,), (12, 12), (30, 30, 30)):
        _say(_row(f"charts a printer {charts!s:12}", [_room(str(seed), charts) for seed in range(ROOMS)]))
    for name, spans in OWN_STOCKS.items():
        _say(_row(f"12 own stocks, {name:33}", [_own_stocks(str(seed), *spans) for seed in range(ROOMS)]))
    _compare((5,))


def _row(name: str, rooms: list[Room]) -> str:
    plans, seconds = zip(*(_timed(plan_round, room) for room in rooms), strict=True)
    proved = sum(plan.proved for plan in plans)
    gap = max(plan.gap_minutes / plan.total_minutes for plan in plans)
    return (
        f"{name}: median {median(seconds) * 1e3:6.0f} ms, worst {max(seconds) * 1e3:6.0f} ms, "
        f"proved {proved} of {ROOMS}, widest gap {gap:.1%}"
    )


def _compare(charts: tuple[int, ...]) -> None:
    """Against trying every order, on the same rooms, taking turns."""
    ours = theirs = 0.0
    for seed in range(ROOMS):
        room = _room(str(seed), charts)
        plan, spent = _timed(plan_round, room)
        (total, _), tried = _timed(best_by_exhaustion, room)
        if plan.total_minutes != total:
            raise AssertionError(f"room {seed}: expected {total} minutes, got {plan.total_minutes}")
        ours, theirs = ours + spent, theirs + tried
    _say(f"charts {charts}: trying every order takes {theirs / ours:.0f} times as long, and finds the same totals")


def _timed(plan: Callable[[Room], Value], room: Room) -> tuple[Value, float]:
    began = time.process_time()
    return plan(room), time.process_time() - began


def _room(seed: str, charts: tuple[int, ...]) -> Room:
    random = Random(seed)
    return Room(printers=tuple(_printer(random, number, count) for number, count in enumerate(charts)), stocks=STOCKS)


def _printer(random: Random, number: int, charts: int) -> RoundPrinter:
    return RoundPrinter(
        name=f"printer-{number}",
        loaded=random.choice(STOCKS).name,
        change_minutes=8,
        adapter_minutes=5,
        charts=tuple(_chart(random, f"printer-{number}/chart-{place}") for place in range(charts)),
    )


def _chart(random: Random, condition: str) -> PlannedChart:
    stock = random.randrange(len(STOCKS))
    return PlannedChart(
        condition=condition,
        stock=STOCKS[stock].name,
        print_minutes=random.choice((4, 6, 9, 12)),
        drying_minutes=DRYING[stock],
        measuring_minutes=random.choice((3, 5, 8)),
        metres=0.5,
    )


def _own_stocks(seed: str, printing: Span, drying: Span, measuring: Span) -> Room:
    random = Random(seed)
    charts = tuple(
        PlannedChart(
            condition=f"printer-0/chart-{place}",
            stock=f"own-{place}",
            print_minutes=random.randint(*printing),
            drying_minutes=random.randint(*drying),
            measuring_minutes=random.randint(*measuring),
        )
        for place in range(12)
    )
    return Room(printers=(RoundPrinter(name="printer-0", change_minutes=10, charts=charts),))


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
