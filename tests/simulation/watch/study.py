"""A plan judged: `python -m tests.simulation.watch.study --seeds 12 --plan NAME [--judging [--first SEED]]`.

NAME is a plan of `plans.PLANS` or `module:factory`. Without `--judging` the rooms are those for fitting. Each rule that
the plan is held against has, room by room, the interval at which it makes as many charts. Bounds are of 90 %, by
drawing printers of rooms anew.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from sentinel.core.arrays import FloatArray, IntArray
from tests.simulation.watch.outcome import Cause, Crossing, Play
from tests.simulation.watch.people import play
from tests.simulation.watch.plans import PLANS, RULES, equal_charts, plan_named
from tests.simulation.watch.stated import Held, held, statement_lines
from tests.simulation.watch.worlds import FITTING, HOUSE, JUDGED, JUDGING, LONE, Shape, World, draw

WINDOW = 3
"""Days before a crossing in which it must have been called, or checked, to count as foretold: a check in the week
before is no feat where checks are four days apart."""
DRAWN = 4000
MARKS = ("daily", "foresight", "oracle")
"""Plans of `PLANS` that are shown beside, with as many charts as they make: what can be reached at all."""


@dataclass(frozen=True)
class Sum:
    """What a page tells of one play; the first two by printer (P,)."""

    unknown: FloatArray
    charts: FloatArray
    unknown_by: dict[Cause, int]
    outside: int
    by_wear: int
    foretold: int
    false_fails: int
    confirmed: int
    read_outside: int
    passed: int
    left: int
    recalibrated: int
    for_nothing: int
    held: Held
    interval: float | None = None


@dataclass(frozen=True)
class Judged:
    """A room: the plan, every rule at equal charts, and the marks."""

    seed: int
    plan: Sum
    others: dict[str, Sum]


def judged(seed: int, plan: str, shape: Shape = HOUSE) -> Judged:
    """One room under the plan and everything it is held against."""
    world = draw(seed, shape)
    own = summed(world, play(world, plan_named(plan)))
    charts = int(own.charts.sum())
    others = {}
    for name, rule in RULES.items():
        matched = equal_charts(world, rule, charts)
        others[name] = summed(world, matched.play, matched.interval)
    others |= {name: summed(world, play(world, PLANS[name])) for name in MARKS}
    return Judged(seed, own, others)


def summed(world: World, of: Play, interval: float | None = None) -> Sum:
    """The sums of a play."""
    by_wear = [each for each in of.crossings if each.cause is Cause.WEAR]
    return Sum(
        unknown=_by_printer(world, of.unknown.sum(axis=1)),
        charts=_by_printer(world, of.charts),
        unknown_by={cause: of.unknown_by[cause] for cause in Cause},
        outside=int(of.outside.sum()),
        by_wear=len(by_wear),
        foretold=sum(foretold(of, each) for each in by_wear),
        false_fails=int(of.false_fails.sum()),
        confirmed=int(of.confirmed.sum()),
        read_outside=int(of.read_outside.sum()),
        passed=int(of.passed.sum()),
        left=sum(not of.called[condition, day : day + WINDOW].any() for condition, day in of.passes),
        recalibrated=int(of.recalibrated.sum()),
        for_nothing=int(of.for_nothing.sum()),
        held=held(world, of.statements),
        interval=interval,
    )


def _by_printer(world: World, counts: IntArray) -> FloatArray:
    sums: FloatArray = np.bincount(world.room.printer, counts, world.shape.printers).astype(float)
    return sums


def foretold(of: Play, crossing: Crossing) -> bool:
    """Whether the condition was called for, or read, within `WINDOW` days before it went out."""
    days = slice(crossing.day - WINDOW, crossing.day)
    return bool(of.called[crossing.condition, days].any() or of.read[crossing.condition, days].any())


def ratio(plan: FloatArray, other: FloatArray) -> tuple[float, float, float]:
    """Plan by other of sums over units (n,), with bounds of 90 % by drawing the units anew."""
    rows = np.random.default_rng(1).integers(len(plan), size=(DRAWN, len(plan)))
    drawn = plan[rows].sum(axis=1) / np.maximum(other[rows].sum(axis=1), 1)
    low, high = np.quantile(drawn, (0.05, 0.95)).tolist()
    return float(plan.sum() / max(other.sum(), 1)), low, high


def page(plan: str, rooms: Sequence[Judged], shape: Shape) -> str:
    """The page in Markdown."""
    return "\n".join([*_head(plan, rooms, shape), *_table(plan, rooms, shape), *_causes(plan, rooms), *_stated(rooms)])


def _head(plan: str, rooms: Sequence[Judged], shape: Shape) -> Iterator[str]:
    seeds = f"{rooms[0].seed} to {rooms[-1].seed}"
    yield f"# The watch judged: {plan}"
    yield ""
    yield f"{len(rooms)} rooms (seeds {seeds}) of {shape.printers} x {shape.stocks} printing conditions, 26 weeks each."
    yield ""


def _sums(rooms: Sequence[Judged], plan: str) -> dict[str, list[Sum]]:
    found = {plan: [room.plan for room in rooms]}
    return found | {f"{name} *": [room.others[name] for room in rooms] for name in rooms[0].others}


def _table(plan: str, rooms: Sequence[Judged], shape: Shape) -> Iterator[str]:
    yield (
        "| plan | charts | interval, days | unknown days a condition | **plan / rule** | wear foretold | "
        "false fails a printer and quarter | of them confirming | passed while outside | passed and left | "
        "recalibrated for nothing |"
    )
    yield f"| --- |{' ---: |' * 10}"
    own = np.concatenate([room.plan.unknown for room in rooms])
    conditions, quarters = len(rooms) * shape.printers * shape.stocks, len(rooms) * shape.printers * JUDGED / 91
    for name, sums in _sums(rooms, plan).items():
        unknown = np.concatenate([each.unknown for each in sums])
        intervals = [each.interval for each in sums if each.interval is not None]
        found, low, high = ratio(own, unknown)
        cells = (
            name.removesuffix(" *"),
            f"{sum(each.charts.sum() for each in sums):.0f}",
            f"{np.mean(intervals):.1f}" if intervals else "",
            f"{unknown.sum() / conditions:.2f}",
            "" if name == plan else f"**{found:.2f}** ({low:.2f} to {high:.2f})",
            _share(sums, lambda each: each.foretold, lambda each: each.by_wear),
            f"{sum(each.false_fails for each in sums) / quarters:.2f}",
            f"{sum(each.confirmed for each in sums) / quarters:.2f}",
            _share(sums, lambda each: each.passed, lambda each: each.read_outside),
            _share(sums, lambda each: each.left, lambda each: each.read_outside),
            _share(sums, lambda each: each.for_nothing, lambda each: each.recalibrated),
        )
        yield f"| {' | '.join(cells)} |"
    yield ""


def _share(sums: Sequence[Sum], part: Callable[[Sum], int], whole: Callable[[Sum], int]) -> str:
    of, among = sum(part(each) for each in sums), sum(whole(each) for each in sums)
    return f"{of / among:.0%} of {among}" if among else "none"


def _causes(plan: str, rooms: Sequence[Judged]) -> Iterator[str]:
    yield f"| unknown days after | {' | '.join(Cause)} | all outside days |"
    yield f"| --- |{' ---: |' * (len(Cause) + 1)}"
    for name, sums in _sums(rooms, plan).items():
        counts = [str(sum(each.unknown_by[cause] for each in sums)) for cause in Cause]
        outside = sum(each.outside for each in sums)
        yield f"| {name.removesuffix(' *')} | {' | '.join(counts)} | {outside} |"
    yield ""


def _stated(rooms: Sequence[Judged]) -> Iterator[str]:
    yield from statement_lines([room.plan.held for room in rooms])
    yield ""


def main(arguments: Sequence[str] | None = None) -> None:
    """Judges a plan and writes the page."""
    parser = argparse.ArgumentParser(description="Judges a plan of checks on invented print rooms.")
    parser.add_argument("--plan", required=True, help=f"{', '.join(PLANS)} or module:factory")
    parser.add_argument("--seeds", type=int, default=12, help="how many rooms")
    parser.add_argument("--judging", action="store_true", help="the rooms for judging; never tune on them")
    parser.add_argument("--first", type=int, help="the first seed, for a look at rooms that nobody has seen")
    parser.add_argument("--shape", choices=("house", "lone"), default="house", help="3 x 8 or 1 x 20 conditions")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--out", type=Path, help="where the page goes; else it is printed")
    options = parser.parse_args(arguments)
    among, shape = JUDGING if options.judging else FITTING, LONE if options.shape == "lone" else HOUSE
    if options.first is not None:
        if (options.first >= JUDGING.start) is not options.judging:
            parser.error(f"expected a first seed from {JUDGING.start} on with --judging alone, got {options.first}")
        among = range(options.first, options.first + options.seeds)
    if not 1 <= options.seeds <= len(among):
        parser.error(f"expected 1 to {len(among)} rooms, got {options.seeds}")
    rooms = _rooms(partial(judged, plan=options.plan, shape=shape), among[: options.seeds], options.processes)
    text = page(options.plan, rooms, shape)
    if options.out:
        options.out.write_text(text, encoding="utf-8")
    else:
        sys.stdout.write(text)


def _rooms(of: Callable[[int], Judged], seeds: Sequence[int], processes: int) -> list[Judged]:
    if processes == 1:
        return [of(seed) for seed in seeds]
    with ProcessPoolExecutor(processes) as pool:
        return list(pool.map(of, seeds))


if __name__ == "__main__":
    main()
