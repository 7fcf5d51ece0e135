"""The foreign worlds' page: `python -m tests.simulation.diagnosis.foreign 200 --seed 7 --world rgb --out page.md`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from tests.simulation.diagnosis.foreign.asking import asked
from tests.simulation.diagnosis.foreign.cases import ROOM_OF, WORLDS, World, draw
from tests.simulation.diagnosis.foreign.judging import Judged, judge
from tests.simulation.diagnosis.foreign.oracle import oracle
from tests.simulation.diagnosis.foreign.page import page


def judged(world: World, count: int, seed: int, processes: int = 1, by_oracle: int = 0) -> list[Judged]:
    """So many checks of a world, drawn, diagnosed and judged; the oracle is asked of the first ones."""
    rooms = [range(first, min(first + ROOM_OF, count)) for first in range(0, count, ROOM_OF)]
    work = partial(_judged, world, seed, by_oracle)
    if processes == 1:
        return [each for room in rooms for each in work(room)]
    with ProcessPoolExecutor(processes) as pool:
        return [each for room in pool.map(work, rooms) for each in room]


def _judged(world: World, seed: int, by_oracle: int, numbers: Sequence[int]) -> list[Judged]:
    cases = [draw(seed, world, number) for number in numbers]
    return [judge(case, asked(case), oracle(case) if case.number < by_oracle else None) for case in cases]


def main(arguments: Sequence[str] | None = None) -> None:
    """Judges the project's diagnosis on foreign worlds and writes the page."""
    parser = argparse.ArgumentParser(description="Judges the diagnosis on worlds of other physics than its own.")
    parser.add_argument("checks", type=int, help="how many checks of each world")
    parser.add_argument("--seed", type=int, default=1, help="another seed: rooms that no judgement has used yet")
    parser.add_argument("--world", choices=WORLDS, action="append", help="one world alone; may be repeated")
    parser.add_argument("--oracle", type=int, default=0, help="of so many checks ask one who knows the world; slow")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--out", type=Path, help="where the page goes; else it is printed")
    options = parser.parse_args(arguments)
    worlds: Sequence[World] = options.world or WORLDS
    found: dict[str, list[Judged]] = {
        world: judged(world, options.checks, options.seed, options.processes, options.oracle) for world in worlds
    }
    text = page(found, f"Seed {options.seed}, {options.checks} checks of each world.")
    if options.out:
        options.out.write_text(text, encoding="utf-8")
    else:
        sys.stdout.write(text)


if __name__ == "__main__":
    main()
