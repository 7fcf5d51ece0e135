"""A diagnosis judged on simulated checks, on two processes; writes the page of its figures.

    python -m tests.simulation.diagnosis.study held-out 2000 --out page.md
    python -m tests.simulation.diagnosis.study fitting 200 --diagnose some.module:function --sets "short spectra"

The function is called as `function(file, target, rivals, inks)`: CGATS texts, `rivals` by the name of their paper, and
the inks as the file calls them; it gives a mapping with `diagnosis`, a list of mappings with `cause`, `ink`, `sign` and
`confidence`, best first, and perhaps with `answer`, those of the list that hold all that is wrong.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any

from demo.simulator.rooms import World
from tests.simulation.diagnosis.judging import Judged, findings_of
from tests.simulation.diagnosis.page import page
from tests.simulation.diagnosis.samples import Sample, beyond, by_room, doubles, light_inks, singles
from tests.simulation.diagnosis.worlds import WORLDS

Diagnose = Callable[[str, str, Mapping[str, str], tuple[str, ...]], Mapping[str, Any]]
PROCESSES = 2


def sets_of(world: World, checks: int) -> dict[str, list[Sample]]:
    """The sets of a study of so many checks with one cause or none, an eighth as many with two, or a light ink off,
    and some beyond."""
    quarter = max(1, checks // 4)
    return {
        "full spectra": singles(world, checks - 3 * quarter, "full", "spectra"),
        "short spectra": singles(world, quarter, "short", "spectra"),
        "full Lab": singles(world, quarter, "full", "Lab"),
        "short Lab": singles(world, quarter, "short", "Lab"),
        "light inks, full spectra": light_inks(world, max(1, checks // 8), "full"),
        "light inks, short spectra": light_inks(world, max(1, checks // 8), "short"),
        "two faults, full spectra": doubles(world, max(1, checks // 8)),
        "damp or dry room, full spectra": beyond(world, max(1, checks // 40)),
    }


def judged(samples: Iterable[Sample], diagnose: str, processes: int = PROCESSES) -> list[Judged]:
    """Every sample drawn, diagnosed by the function `module:name`, and judged; in the order of the rooms."""
    work = partial(_judge_all, diagnose)
    rooms = by_room(samples)
    if processes == 1:
        return [each for room in rooms for each in work(room)]
    with ProcessPoolExecutor(processes) as pool:
        return [each for room in pool.map(work, rooms) for each in room]


def _judge_all(diagnose: str, samples: Sequence[Sample]) -> list[Judged]:
    module, _, name = diagnose.partition(":")
    function: Diagnose = getattr(import_module(module), name)
    return [judge(sample, function) for sample in samples]


def judge(sample: Sample, diagnose: Diagnose) -> Judged:
    """One sample drawn, diagnosed and judged."""
    check = sample.draw()
    told = diagnose(check.file, check.target, check.rivals, check.inks)
    findings = findings_of(told["diagnosis"], told.get("answer"))
    return Judged(check.cases, check.severity, check.labels, findings)


def main(arguments: Sequence[str] | None = None) -> None:
    """Runs a study and writes its page."""
    parser = argparse.ArgumentParser(description="Judges a diagnosis on simulated checks.")
    parser.add_argument("world", choices=sorted(WORLDS))
    parser.add_argument("checks", type=int, help="how many checks with one cause or none")
    parser.add_argument("--diagnose", default="tests.simulation.diagnosis.by_command:diagnose", metavar="MODULE:NAME")
    parser.add_argument("--sets", nargs="+", help="some of the sets alone")
    parser.add_argument("--seed", type=int, help="another seed of the world: rooms that no study has used yet")
    parser.add_argument("--out", type=Path, help="where the page goes; else it is printed")
    options = parser.parse_args(arguments)
    world = WORLDS[options.world]
    if options.seed is not None:
        world = replace(world, seed=options.seed)
    sets = sets_of(world, options.checks)
    chosen = {name: samples for name, samples in sets.items() if not options.sets or name in options.sets}
    text = page({name: judged(samples, options.diagnose) for name, samples in chosen.items()})
    if options.out:
        options.out.write_text(text, encoding="utf-8")
    else:
        sys.stdout.write(text)


if __name__ == "__main__":
    main()
