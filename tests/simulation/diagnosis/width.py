"""Sheets of three places across the web, alike or with a fault: what `compare --across` would say of them.

    python -m tests.simulation.diagnosis.width 24 [--seed N] [--kind short|full]

Rooms are those of the fitting world; the sheets of a room stray by its own noise.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Sequence
from typing import get_args

import numpy as np

from demo.simulator.press import Press
from demo.simulator.rooms import Kind, Room, room_of
from demo.simulator.sheets import read
from demo.simulator.spectra import lab_of
from sentinel.core.diagnosis.width import Across, WebSheets, across_the_width
from tests.simulation.diagnosis.worlds import FITTING

ALIKE = 5
"""Times that a room prints without a fault."""


def across(rng: np.random.Generator, room: Room, kind: Kind, presses: Sequence[Press]) -> Across:
    """What is said of sheets that these presses print, from left to right, on the room's first stock."""
    chart, strays = room.chart(kind), room.response(0, kind)
    mode = room.scene(0).mode
    sheets = [
        lab_of(read(rng, press.spectra(chart.device, mode) * strays.sheet(rng, room.noise(rng)), room.instrument))
        for press in presses
    ]
    bare = np.asarray((chart.device == 0).all(axis=1))
    return across_the_width(WebSheets(chart.inks, chart.device, bare, np.stack(sheets), True))


def said(found: Across) -> str:
    """The shape with its place, and whether that is sure."""
    place = "" if found.shape.place is None else f" {found.shape.place}"
    return found.shape.pattern.value + place + ("" if found.sure else " (not sure)")


def main(arguments: Sequence[str] | None = None) -> None:
    """Runs the study and prints what was said, by what is true."""
    parser = argparse.ArgumentParser(description="What is said of sheets across the web.")
    parser.add_argument("rooms", type=int)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--kind", choices=get_args(Kind), default="short")
    options = parser.parse_args(arguments)
    counts: dict[str, Counter[str]] = {"alike": Counter(), "gradient": Counter(), "right apart": Counter()}
    for number in range(options.rooms):
        room, rng = room_of(FITTING, number % FITTING.rooms), np.random.default_rng([options.seed, number])
        press = room.scene(0).press
        for _ in range(ALIKE):
            counts["alike"][said(across(rng, room, options.kind, [press] * 3))] += 1
        stronger = [press.changed(0, strength=share) for share in (0.9, 1.0, 1.1)]
        counts["gradient"][said(across(rng, room, options.kind, stronger))] += 1
        heavier = [press, press, press.changed(1, strength=1.2)]
        counts["right apart"][said(across(rng, room, options.kind, heavier))] += 1
    for true, found in counts.items():
        most = "; ".join(f"{name} {count}" for name, count in found.most_common())
        sys.stdout.write(f"{true}: {most}\n")


if __name__ == "__main__":
    main()
