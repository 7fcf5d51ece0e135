"""How often sheets printed with the curves fall within the 90 % bands: python -m tests.simulation.recalibration.study

    python -m tests.simulation.recalibration.study reported 252
    python -m tests.simulation.recalibration.study tuned 84 --by-case
    python -m tests.simulation.recalibration.study tuned 84 --unlike --kind short

So many checks of each kind of chart, two sheets printed with the curves of each, on two processes.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import get_args

import numpy as np

from demo.simulator.files import Values
from demo.simulator.rooms import Kind
from tests.simulation.recalibration.prints import CASES, MANNERS, WORLDS, Aims, Manner, Outcome, Role, outcome

CHARTS: tuple[tuple[Kind, Values], ...] = (
    ("full", "spectra"), ("short", "spectra"), ("full", "Lab"), ("short", "Lab"),
)  # fmt: skip
PROCESSES = 2
HEAD = (
    "| chart | values | checks | mean | 95th percentile | maximum | now | after |\n| --- | --- | ---: "
    + ("| ---: " * 3)
    + "| --- | --- |"
)


def outcomes(
    role: Role,
    checks: int,
    kind: Kind,
    values: Values,
    processes: int = PROCESSES,
    aims: Aims = "sheet",
    manner: Manner = "usual",
    pairs: int = 0,
) -> list[Outcome]:
    """Of checks 0 to `checks` - 1, room by room."""
    numbers = sorted(range(checks), key=lambda number: number % WORLDS[role].rooms)
    work = partial(_outcome, role=role, kind=kind, values=values, aims=aims, manner=manner, pairs=pairs)
    if processes == 1:
        found = list(map(work, numbers))
    else:
        with ProcessPoolExecutor(processes) as pool:
            found = list(pool.map(work, numbers, chunksize=max(1, checks // WORLDS[role].rooms)))
    return [each for each in found if each is not None]


def _outcome(
    number: int, role: Role, kind: Kind, values: Values, aims: Aims, manner: Manner, pairs: int
) -> Outcome | None:
    return outcome(role, number, kind, values, aims, manner, pairs)


def covered(found: Sequence[Outcome]) -> tuple[float, float, float]:
    """Share of sheets whose mean, 95th percentile and maximum lay within the bands."""
    inside = [(each.bands[:, 0] <= each.shown) & (each.shown <= each.bands[:, 2]) for each in found]
    mean, p95, maximum = np.mean(inside, axis=(0, 1)).tolist()
    return mean, p95, maximum


def row(kind: str, values: str, found: Sequence[Outcome]) -> str:
    """A line of the table."""
    shares = " | ".join(f"{share:.1%}" for share in covered(found))
    now = np.mean([each.now for each in found], axis=0)
    after = np.mean([each.shown for each in found], axis=(0, 1))
    figures = " | ".join(" / ".join(f"{figure:.2f}" for figure in three) for three in (now, after))
    return f"| {kind} | {values} | {len(found)} | {shares} | {figures} |"


LIMITS = np.array([2.0, 4.0, 8.0]), np.array([3.0, 6.0, 12.0])
"""The house's warning and action limits of mean, 95th percentile and maximum of all patches."""


def unlike(role: Role, checks: int, kind: Kind, pairs: int, manners: Sequence[Manner], processes: int) -> Iterator[str]:
    """A line for checks that fail and one for those that pass, of each kind of aim and manner of straying."""
    for manner in manners:
        for aims in get_args(Aims):
            found = outcomes(role, checks, kind, "spectra", processes, aims, manner, pairs)
            fails = [each for each in found if (each.now > LIMITS[1]).any()]
            passes = [each for each in found if (each.now <= LIMITS[0]).all()]
            yield row(f"{kind}, aim {aims}, {manner}", "spectra, all", found)
            yield row("", "that fail", fails)
            yield row("", "that pass", passes)


def main(arguments: Sequence[str] | None = None) -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description="Coverage of the 90 % bands of the recalibration forecast.")
    parser.add_argument("role", choices=sorted(WORLDS))
    parser.add_argument("checks", type=int)
    parser.add_argument("--by-case", action="store_true", help="a line for each fault, too")
    parser.add_argument("--unlike", action="store_true", help="by kind of aim, by how sheets stray, by verdict")
    parser.add_argument("--pairs", type=int, default=0, help="of sheets, learnt from in each room, of those unlike")
    parser.add_argument("--kind", choices=("full", "short"), default="short", help="of those unlike")
    parser.add_argument("--manner", choices=MANNERS, action="append", help="of those unlike")
    parser.add_argument("--processes", type=int, default=PROCESSES, help="of those unlike")
    options = parser.parse_args(arguments)
    print_line = sys.stdout.write
    print_line(f"{HEAD}\n")
    if options.unlike:
        for line in unlike(
            options.role,
            options.checks,
            options.kind,
            options.pairs,
            options.manner or list(MANNERS),
            options.processes,
        ):
            print_line(f"{line}\n")
            sys.stdout.flush()
        return
    for kind, values in CHARTS:
        found = outcomes(options.role, options.checks, kind, values)
        print_line(f"{row(kind, values, found)}\n")
        for case in CASES if options.by_case else ():
            print_line(f"{row(case, values, [each for each in found if each.case == case])}\n")


if __name__ == "__main__":
    main()
