"""Faults drawn by chance: one function a case, which says what is wrong and how large it may be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from demo.simulator.faults import Fault, Sign
from demo.simulator.papers import Mode
from demo.simulator.print_faults import (
    Drift,
    HeadWear,
    Humidity,
    LightInkOff,
    NewLot,
    SolidOff,
    ToneShift,
    Wet,
    WrongMode,
    WrongSubstrate,
)
from demo.simulator.reading_faults import NozzleLine, RowsShifted, Scratch, SheetTurned, StripBackwards, Way, WrongScale
from demo.simulator.rooms import Kind, Room
from demo.simulator.sizes import NotReachableError, sized

LEAST, MOST = 1.1, 3.0
"""Sizes of faults, in warning limits."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a fault is to happen: the room, its paper and the kind of chart; and the chance that draws it."""

    rng: np.random.Generator
    room: Room
    paper: int
    kind: Kind

    @property
    def inks(self) -> int:
        """How many inks there are."""
        return len(self.room.ink_set)

    @property
    def patches(self) -> int:
        """How many patches the chart has."""
        return len(self.room.chart(self.kind))

    def ink(self) -> int:
        """Any ink."""
        return int(self.rng.integers(self.inks))

    def sign(self) -> Sign:
        """More or less."""
        return 1 if self.rng.random() < 0.5 else -1

    def way(self) -> Way:
        """By the file or by the layout."""
        return "file" if self.rng.random() < 0.5 else "layout"

    def few(self) -> int:
        """How many patches are damaged: about one in a hundred at most, three on a short chart."""
        return int(self.rng.integers(1, max(3, min(10, self.patches // 80)) + 1))


Maker = Callable[[Place], Fault]


def drawn(place: Place, case: str) -> Fault:
    """A fault of this case, beyond the warning limits. Raises NotReachableError where this place has none."""
    fault = CASES[case](place)
    gauge = place.room.gauge(place.paper, place.kind)
    if fault.greatest:
        return sized(gauge, fault, float(place.rng.uniform(LEAST, MOST)))
    if gauge.of(fault) < LEAST:
        raise NotReachableError(f"expected {case} to be beyond the warning limits on this paper")
    return fault


def _solid_off(at: Place) -> Fault:
    return SolidOff(ink=at.ink(), sign=at.sign())


def _head_wear(at: Place) -> Fault:
    return HeadWear(ink=at.ink())


def _drift(at: Place) -> Fault:
    others = tuple(at.rng.uniform(-1.0, 1.0, at.inks).tolist())
    return Drift(ink=at.ink(), sign=at.sign(), others=others)


def _tone_shift(at: Place) -> Fault:
    return ToneShift(ink=at.ink(), sign=at.sign(), skew=float(at.rng.uniform(-0.2, 0.2)))


def _light_ink(at: Place) -> Fault:
    """Of a cyan, magenta or black without a light sister in the chart, by its letter in the file."""
    names = at.room.ink_set.names
    split = [names.index(ink) for ink in "CMK"]
    if not at.room.ink_set.letters:
        raise NotReachableError("expected a chart that calls its inks by letters, got one with numbered channels")
    sign, ink = at.sign(), int(at.rng.choice(split))
    alone, until = float(at.rng.uniform(0.08, 0.3)), float(at.rng.uniform(0.55, 0.85))
    density, bend = float(at.rng.uniform(0.2, 0.4)), float(at.rng.uniform(0.7, 1.6))
    blocked = sign < 0 and bool(at.rng.random() < 0.5)
    return LightInkOff(ink=ink, sign=sign, alone=alone, until=until, density=density, bend=bend, blocked=blocked)


def _humidity(at: Place) -> Fault:
    return Humidity(sign=at.sign())


def _wet(at: Place) -> Fault:
    uneven = tuple(at.rng.uniform(0.75, 1.25, at.inks).tolist())
    return Wet(hours=0.0, uneven=uneven)


def _new_lot(at: Place) -> Fault:
    white, tint, brightener = at.rng.normal(size=3) / 2.0
    return NewLot(white=float(white), tint=float(tint), brightener=float(brightener))


def _wrong_substrate(at: Place) -> Fault:
    others = [paper for paper in range(len(at.room.presses)) if paper != at.paper]
    return WrongSubstrate(paper=at.room.presses[others[int(at.rng.integers(len(others)))]].paper)


def _wrong_mode(at: Place) -> Fault:
    modes: list[Mode] = ["M0", "M1", "M2"]
    modes.remove(at.room.mode)
    return WrongMode(mode=modes[int(at.rng.integers(2))])


def _wrong_scale(at: Place) -> Fault:
    return WrongScale(sign=at.sign())


def _rows_shifted(at: Place) -> Fault:
    return RowsShifted(start=float(at.rng.uniform(0.0, 0.7)), by=at.sign(), way=at.way())


def _strip_backwards(at: Place) -> Fault:
    strips = int(at.room.chart(at.kind).strip.max()) + 1
    several = at.rng.permutation(strips)[: int(at.rng.integers(1, 4))]
    return StripBackwards(strips=tuple(sorted(several.tolist())), way=at.way())


def _sheet_turned(at: Place) -> Fault:
    return SheetTurned(way=at.way())


def _scratch(at: Place) -> Fault:
    return Scratch(start=float(at.rng.random()), patches=at.few(), smear=bool(at.rng.random() < 0.4))


def _nozzle_line(at: Place) -> Fault:
    return NozzleLine(ink=at.ink(), start=float(at.rng.random()), patches=at.few())


CASES: dict[str, Maker] = {
    "solid off": _solid_off,
    "head wear": _head_wear,
    "drift": _drift,
    "tone shift": _tone_shift,
    "humidity": _humidity,
    "wet": _wet,
    "new lot": _new_lot,
    "wrong substrate": _wrong_substrate,
    "wrong mode": _wrong_mode,
    "wrong scale": _wrong_scale,
    "rows shifted": _rows_shifted,
    "strip backwards": _strip_backwards,
    "sheet turned": _sheet_turned,
    "scratch": _scratch,
    "nozzle line": _nozzle_line,
    "light ink": _light_ink,
}
"""What can be drawn, by the name of the case."""
