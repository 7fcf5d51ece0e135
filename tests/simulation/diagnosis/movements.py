"""Houses whose sheets move more than others, and unlike: what the diagnosis makes of their healthy sheets and of their
faults, before anything was learnt there and after.

    python -m tests.simulation.diagnosis.movements 24 --seed 4 [--kind strip]

So many houses of each way to move. A house is a room of the world for fitting with one printer; its sheets move by a
mean ΔE00 of its own range from the mean print. Strips hold paper, three tones of C, M, Y and K, and overprints.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from demo.simulator.charts import Chart
from demo.simulator.drawing import Place, drawn
from demo.simulator.faults import Scene
from demo.simulator.rooms import Room, room_of
from demo.simulator.sheets import SheetNoise, read
from demo.simulator.sizes import NotReachableError
from demo.simulator.spectra import WAVELENGTHS_NM, FloatArray, Order, lab_of
from sentinel.core.diagnosis.diagnose import diagnose, sheet_pair
from sentinel.core.diagnosis.findings import Finding, answer
from sentinel.core.diagnosis.sheet import Context, DiagnosisSubject
from sentinel.core.diagnosis.sheet_pairs import SheetPair, learnt
from sentinel.core.inks.ordinary import AS_EVERYWHERE, OrdinaryMovement, expected_movement
from sentinel.core.inks.readings import PairedSpectra
from sentinel.settings.diagnosis import HOUSE_WEIGHTS
from tests.simulation.diagnosis.worlds import FITTING

Kind = Literal["full", "short", "strip"]
KINDS: tuple[Kind, ...] = ("full", "short", "strip")


@dataclass(frozen=True, slots=True)
class Manner:
    """How sheets of a house move: the balance, and the range of their mean ΔE00 from the mean print."""

    noise: SheetNoise
    sizes: tuple[float, float]
    technology: str


MANNERS = {
    "aqueous, as everywhere": Manner(SheetNoise(), (0.3, 0.6), "aqueous-pigment"),
    "latex, as everywhere": Manner(SheetNoise(), (0.5, 1.0), "latex"),
    "latex, mostly whole inks": Manner(SheetNoise(field=0.15, inks=0.7), (0.5, 1.0), "latex"),
    "latex, mostly patches": Manner(SheetNoise(field=0.2, inks=0.1), (0.5, 1.0), "latex"),
    "aqueous, said to be steady, is not": Manner(SheetNoise(field=0.3, inks=0.5), (0.6, 1.0), "aqueous-pigment"),
}
PAIRS = (8, 24)
SHEETS = 4
"""Healthy sheets of a house."""
FAULTS = ("tone shift", "solid off", "new lot")
STRIP_TONES = (25.0, 50.0, 100.0)


class House:
    """A room with one paper and one chart; every second one has an exact aim, the others that of a sheet."""

    def __init__(self, manner: Manner, kind: Kind, number: int, seed: int) -> None:
        self.chance = np.random.default_rng([seed, number, list(MANNERS.values()).index(manner), KINDS.index(kind)])
        self.manner, self.kind = manner, kind
        self.room: Room = room_of(replace(FITTING, seed=FITTING.seed + seed), number)
        self.paper = int(self.chance.integers(len(self.room.presses)))
        self.chart: Chart = self.room.chart("full" if kind == "full" else "short")
        self.rows = strip_of(self.chart) if kind == "strip" else np.arange(len(self.chart))
        self.response = self.room.response(self.paper, "full" if kind == "full" else "short")
        self.aim = self.response.spectra if number % 2 else self.sheet()

    def sheet(self, scene: Scene | None = None) -> FloatArray:
        """Spectra of one sheet of the house as it is read, of all is well or of another scene."""
        size = float(self.chance.uniform(*self.manner.sizes))
        strayed = self.response.sheet(self.chance, replace(self.manner.noise, mean_de00=size))
        scene = scene or self.room.scene(self.paper)
        spectra = scene.press.spectra(self.chart.device, scene.mode)
        return read(self.chance, spectra * strayed, self.room.instrument)

    def subject(self, reading: FloatArray, movement: OrdinaryMovement = AS_EVERYWHERE) -> DiagnosisSubject:
        """A reading beside the house's aim."""
        aim, read_as, device = self.aim[self.rows], reading[self.rows], self.chart.device[self.rows]
        return DiagnosisSubject(
            inks=self.chart.inks,
            device=device,
            ink_space=True,
            paper=np.asarray((device == 0).all(axis=1)),
            aim=lab_of(aim),
            reading=lab_of(read_as),
            spectra=PairedSpectra(WAVELENGTHS_NM, aim, read_as),
            context=Context(movement=movement),
        )

    def pair(self) -> SheetPair:
        """Two sheets of the same hour."""
        return sheet_pair(self.subject(self.sheet()), lab_of(self.sheet()[self.rows]))

    def movements(self) -> dict[str, OrdinaryMovement]:
        """By what is known of the house."""
        expected = expected_movement(self.manner.technology, textured=False)
        pairs = [(self.pair(), 1.0) for _ in range(max(PAIRS))]
        known = {"as everywhere": AS_EVERYWHERE, "technology": expected}
        return known | {f"{count} pairs": learnt(pairs[:count], expected) for count in PAIRS}

    def faulty(self, case: str) -> tuple[str, FloatArray] | None:
        """A sheet with a fault of 1.1 to 3 warning limits and its cause; None where this paper cannot show it."""
        place = Place(self.chance, self.room, self.paper, "full" if self.kind == "full" else "short")
        try:
            fault = drawn(place, case)
        except NotReachableError:
            return None
        label = fault.label(self.chart.inks)
        if self.kind == "strip" and label.ink is not None and label.ink not in "CMYK":
            return None
        return label.cause, self.sheet(fault.scene(self.room.scene(self.paper)))


def strip_of(chart: Chart) -> Order:
    """The patches of a short chart, at most 24, that a strip of C, M, Y and K holds."""
    device = chart.device
    used = (device > 0).sum(axis=1)
    first = np.flatnonzero((device[:, 4:] == 0).all(axis=1))
    kept = [row for row in first if used[row] == 0 or (used[row] == 1 and device[row].max() in STRIP_TONES)]
    return np.sort([*kept, *[row for row in first if used[row] > 1][: 24 - len(kept)]])


@dataclass(frozen=True, slots=True)
class Outcome:
    """A sheet of a house by what was known: its true cause, None for a healthy one, and what was found."""

    known: str
    cause: str | None
    findings: tuple[Finding, ...]

    @property
    def right(self) -> bool:
        """Whether the cause is in the answer; of a healthy sheet, whether nothing was found."""
        return self.cause in {each.cause.value for each in answer(self.findings)} if self.cause else not self.findings

    @property
    def confidently_wrong(self) -> bool:
        """Whether another cause was called with 0.9 or more."""
        return any(each.confidence >= 0.9 and each.cause.value != self.cause for each in self.findings)


def outcomes(manner: Manner, kind: Kind, houses: int, seed: int) -> list[Outcome]:
    """Of all sheets of so many houses."""
    found = []
    for number in range(houses):
        house = House(manner, kind, number, seed)
        movements = house.movements()
        sheets: list[tuple[str | None, FloatArray]] = [(None, house.sheet()) for _ in range(SHEETS)]
        sheets += [faulty for case in FAULTS if (faulty := house.faulty(case))]
        for cause, reading in sheets:
            for known, movement in movements.items():
                findings = diagnose(house.subject(reading, movement), HOUSE_WEIGHTS)
                found.append(Outcome(known, cause, findings))
    return found


def rows(name: str, kind: Kind, found: Sequence[Outcome]) -> list[str]:
    """Lines of the table, one by what was known."""
    by_known: Mapping[str, list[Outcome]] = {
        known: [each for each in found if each.known == known] for known in dict.fromkeys(each.known for each in found)
    }
    lines = []
    for known, each in by_known.items():
        healthy = [one for one in each if one.cause is None]
        faulty = [one for one in each if one.cause is not None]
        shares = (
            np.mean([not one.right for one in healthy]),
            np.mean([one.confidently_wrong for one in healthy]),
            np.mean([one.right for one in faulty]),
            np.mean([not one.findings for one in faulty]),
            np.mean([one.confidently_wrong for one in faulty]),
        )
        told = " | ".join(f"{share:.1%}" for share in shares)
        lines.append(f"| {name} | {kind} | {known} | {len(healthy)}, {len(faulty)} | {told} |")
    return lines


HEAD = (
    "| house | chart | known | healthy, faulty | healthy with a finding | ... at 0.9 "
    "| fault in the answer | unseen | wrong at 0.9 |\n| --- | --- | --- " + "| ---: " * 6 + "|\n"
)


def main(arguments: Sequence[str] | None = None) -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description="What learning how sheets move does to the diagnosis.")
    parser.add_argument("houses", type=int, help="houses of each manner and chart")
    parser.add_argument(
        "--seed", type=int, default=1, help="1 to 3 are for choosing numbers; take others to judge them"
    )
    parser.add_argument("--kind", choices=KINDS, action="append")
    parser.add_argument("--manner", choices=MANNERS, action="append")
    options = parser.parse_args(arguments)
    sys.stdout.write(HEAD)
    for name in options.manner or MANNERS:
        manner = MANNERS[name]
        for kind in options.kind or KINDS:
            lines = rows(name, kind, outcomes(manner, kind, options.houses, options.seed))
            sys.stdout.write("\n".join(lines) + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
