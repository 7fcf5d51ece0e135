"""The world for fitting, drawn and judged as the foreign worlds are: numbers of the diagnosis are chosen here.

    python -m tests.simulation.diagnosis.fitting 400 --seed 3 [--world "fitting, rgb"] [--out page.md]

Rooms, inks, papers and faults are those of `worlds.FITTING`; charts are full, short or strips of 24, one in seven
without bare paper; aims are exact or of a sheet; sheets move by a mean ΔE00 of 0.1 to 1, in a balance of their own. In
the world `fitting, rgb` the charts are driven by R, G and B through a made-up profile. Of twenty checks five are
healthy, two have two faults, one a small movement, twelve one fault; distortions are smooth changes that no cause makes
(`distorted`).
"""

from __future__ import annotations

import argparse
import itertools
import sys
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache, partial
from pathlib import Path
from typing import ClassVar, Literal

import numpy as np

from demo.simulator.charts import Chart as SimulatedChart
from demo.simulator.drawing import LEAST, MOST, Place, drawn
from demo.simulator.faults import Fault, Sheet
from demo.simulator.files import names_in_file
from demo.simulator.print_faults import WrongSubstrate
from demo.simulator.reading_faults import Scratch
from demo.simulator.rooms import Kind as PlanKind
from demo.simulator.rooms import Room, World
from demo.simulator.sheets import SheetNoise, read
from demo.simulator.sizes import NotReachableError, sized
from demo.simulator.spectra import WAVELENGTHS_NM, FloatArray, lab_of
from sentinel.core.diagnosis.sheet import Context
from sentinel.core.measurement import Chart, MCondition, Measurement, MeasurementCondition
from tests.simulation.diagnosis.distorted import BAND_NM, BANDS_NM, smooth_field
from tests.simulation.diagnosis.foreign.asking import asked_for
from tests.simulation.diagnosis.foreign.cases import CHARTS, MOVEMENTS, ROOM_OF, SMALL, TWENTY
from tests.simulation.diagnosis.foreign.charts import Kind
from tests.simulation.diagnosis.foreign.judging import Judged
from tests.simulation.diagnosis.foreign.page import page
from tests.simulation.diagnosis.movements import strip_of
from tests.simulation.diagnosis.worlds import FITTING

Space = Literal["fitting", "fitting, rgb"]
SPACES: tuple[Space, ...] = ("fitting", "fitting, rgb")

SINGLES = (
    "solid off", "tone shift", "wet", "new lot", "wrong scale", "wrong mode", "wrong substrate", "distortion",
    "scratch", "rows shifted", "head wear", "tone shift", "drift", "nozzle line", "distortion", "strip backwards",
)  # fmt: skip
"""One fault, in turn and mixed anew each time round."""
OF_INKS = ("solid off", "head wear", "tone shift", "wet")
OF_PAPER = ("new lot", "wrong scale", "wrong mode", "wrong substrate")
OF_PATCHES = ("scratch", "rows shifted")
PAIRS = tuple(
    pair
    for some, others in itertools.combinations_with_replacement((OF_INKS, OF_PAPER, OF_PATCHES), 2)
    for pair in itertools.product(some, others)
    if pair[0] < pair[1] and not set(pair) <= set(OF_PAPER)
)
SMALL_CASES = ("tone shift", "solid off", "new lot", "distortion")
TRIES, ANOTHER = 60, 70_000
PRINT_MOVED = frozenset({"print-moved"})
OF_HIDDEN_INKS = ("solid-off-aim", "tone-shift")


@dataclass(frozen=True, kw_only=True)
class Distortion(Fault):
    """The light of inked patches changed by a smooth field over amounts of ink, in three bands; `drawn` is its seed."""

    drawn: int
    cause: ClassVar[str] = "unexplained"
    greatest: ClassVar[float] = 1.0

    def reading(self, sheet: Sheet) -> FloatArray:
        rng = np.random.default_rng(self.drawn)
        bands = np.exp(-0.5 * ((WAVELENGTHS_NM - BANDS_NM[:, None]) / BAND_NM) ** 2)
        shape = np.stack([smooth_field(rng, sheet.chart.device / 100) for _ in BANDS_NM], axis=1) @ bands
        return np.asarray(sheet.spectra * np.exp(self.size * shape))


class Printed(Place):
    """A place of which only inks that its chart holds go wrong."""

    def ink(self) -> int:
        """Any of them."""
        return int(self.rng.choice(np.flatnonzero(self.room.chart(self.kind).device.any(axis=0))))


class FittingRoom(Room):
    """A room of the world for fitting whose one chart is of a kind of the foreign worlds."""

    def __init__(self, world: World, number: int, kind: Kind, space: Space) -> None:
        super().__init__(world, number)
        self.layout, self.space = kind, space
        rng = self.generator(9)
        self.bare_paper = bool(rng.random() < 0.85)
        self.exact = bool(rng.random() < 0.5)
        self.spectra = bool(rng.random() < 0.5)
        self.places = bool(rng.random() < 0.7)
        self._profile = rng.uniform((0.9, 0.9, 0.9, 0.0, 0.4), (1.3, 1.3, 1.3, 0.4, 0.9))
        self._scattered = bool(rng.random() < 0.7)
        self._order = int(rng.integers(2**31))

    @property
    def plan_kind(self) -> PlanKind:
        """Under which name the simulator has the chart."""
        return "full" if self.layout == "full" else "short"

    @cached_property
    def shown(self) -> tuple[tuple[str, ...], FloatArray]:
        """The channels of the chart's file, and their values (patches, channels)."""
        return self._made[1:]

    @cached_property
    def _charts(self) -> dict[PlanKind, SimulatedChart]:
        return {self.plan_kind: self._made[0]}

    @cached_property
    def _made(self) -> tuple[SimulatedChart, tuple[str, ...], FloatArray]:
        rng = np.random.default_rng(self._order)
        if self.space == "fitting":
            own = Room(self.world, self.number).chart(self.plan_kind)
            device = own.device[strip_of(own)] if self.layout == "strip" else own.device
            inks, shown, names = own.inks, device, names_in_file(own.inks)
        else:
            inks, names, shown = self.ink_set.names, ("R", "G", "B"), _rgb(self.layout)
            device = self._separated(shown)
        bare = (device == 0).all(axis=1)
        rows = np.flatnonzero(~bare | self.bare_paper)
        rows = rng.permutation(rows) if self._scattered else rows
        length = {"full": 25, "short": 12, "strip": 24}[self.layout]
        place = np.arange(len(rows))
        return SimulatedChart(inks, device[rows], place // length, place % length), names, shown[rows]

    def _separated(self, rgb: FloatArray) -> FloatArray:
        """Hidden amounts (patches, inks), in percent, of R, G, B: grey is partly replaced by black."""
        *powers, start, replaced = self._profile
        taken = 1 - rgb / 255
        grey = taken.min(axis=1)
        black = np.clip((grey - start) / (1 - start), 0, 1) ** 1.5
        colours = np.clip(taken - (replaced * black * grey)[:, None], 0, 1) ** np.array(powers)
        amounts = np.zeros((len(rgb), len(self.ink_set)))
        amounts[:, [self.ink_set.names.index(ink) for ink in "CMY"]] = 100 * colours
        amounts[:, self.ink_set.names.index("K")] = 100 * black
        return amounts

    def noise(self, rng: np.random.Generator) -> SheetNoise:
        """In a balance and a size of its own."""
        field, inks, _ = rng.dirichlet((3.0, 3.0, 3.0))
        sizes = MOVEMENTS[str(rng.choice(list(MOVEMENTS), p=(0.15, 0.65, 0.2)))]  # type: ignore[index]
        return SheetNoise(float(rng.uniform(*sizes)), float(field), float(inks))

    def aim_of(self, paper: int) -> FloatArray:
        """Spectra of a paper's aim."""
        if self.exact:
            return self.response(paper, self.plan_kind).spectra
        return self.aim(paper, self.plan_kind, 0)


def _rgb(kind: Kind) -> FloatArray:
    steps, greys, saturated = {
        "full": (6, 20, (32, 64, 96, 128, 160, 192, 224)), "short": (3, 14, (64, 128, 192)), "strip": (2, 9, (110,)),
    }[kind]  # fmt: skip
    grid = itertools.product(np.linspace(0, 255, steps).round().tolist(), repeat=3)
    ways = ((1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0), (1, 0, 1), (0, 1, 1))
    ramps = [tuple(255.0 - depth * way for way in each) for each in ways for depth in saturated]
    neutral = [(grey,) * 3 for grey in np.linspace(0, 255, greys).round().tolist()]
    return np.array(list(dict.fromkeys([*grid, *ramps, *neutral])), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class FittingCase:
    """One check with its truth: `faults` by their cases, none for a healthy print."""

    number: int
    room: FittingRoom
    faults: Mapping[str, Fault]
    small: bool
    severity: float
    movement: float
    reading: Measurement
    aim: Measurement
    rivals: Mapping[str, Measurement]
    context: Context

    @property
    def truths(self) -> tuple[frozenset[str], ...]:
        """The causes that name each fault."""
        return tuple(self._accepted(fault) for fault in self.faults.values())

    def _accepted(self, fault: Fault) -> frozenset[str]:
        named = frozenset({fault.cause})
        hidden = self.room.space == "fitting, rgb" and fault.cause in OF_HIDDEN_INKS
        return named | PRINT_MOVED if hidden or isinstance(fault, Distortion) else named

    @property
    def named(self) -> str:
        """The truth in a word."""
        return "small movement" if self.small else " + ".join(self.faults) or "healthy"


@lru_cache(maxsize=4)
def room_of(seed: int, space: Space, number: int) -> FittingRoom:
    """The room of this number."""
    world = replace(FITTING, seed=FITTING.seed + seed, inks=(4, 6, 8) if space == "fitting" else (4,))
    return FittingRoom(world, number, CHARTS[number % len(CHARTS)], space)


def draw(seed: int, space: Space, number: int) -> FittingCase:
    """The check of this number; the same for the same call."""
    for again in range(TRIES):
        room = room_of(seed, space, number // ROOM_OF + again * ANOTHER)
        try:
            return _drawn(np.random.default_rng([seed, SPACES.index(space), number, again]), room, seed, number)
        except NotReachableError:
            continue
    raise NotReachableError(f"expected rooms of {space} to show check {number}")


def _cases(rng: np.random.Generator, seed: int, number: int) -> tuple[str, ...]:
    sort = TWENTY[number % len(TWENTY)]
    if sort == "single":
        before = number // len(TWENTY) * TWENTY.count("single") + TWENTY[: number % len(TWENTY)].count("single")
        mixed = np.random.default_rng([seed, 3, before // len(SINGLES)]).permutation(SINGLES)
        return (str(mixed[before % len(SINGLES)]),)
    if sort == "small":
        return (str(rng.choice(SMALL_CASES)),)
    return PAIRS[int(rng.integers(len(PAIRS)))] if sort == "two" else ()


def _drawn(rng: np.random.Generator, room: FittingRoom, seed: int, number: int) -> FittingCase:
    paper = int(rng.integers(len(room.presses)))
    cases, small = _cases(rng, seed, number), TWENTY[number % len(TWENTY)] == "small"
    gauge = room.gauge(paper, room.plan_kind)
    faults = {case: _fault(Printed(rng, room, paper, room.plan_kind), case, small) for case in cases}
    scene = room.scene(paper)
    for fault in faults.values():
        scene = fault.scene(scene)
    noise, chart = room.noise(rng), room.chart(room.plan_kind)
    light = scene.press.spectra(chart.device, scene.mode) * room.response(paper, room.plan_kind).sheet(rng, noise)
    for fault in faults.values():
        light = fault.reading(Sheet(light, scene, chart))
    header, context = _known(rng, faults)
    stock = any(isinstance(fault, WrongSubstrate) for fault in faults.values())
    others = [each for each in range(len(room.presses)) if each != paper] if stock or rng.random() < 0.75 else []
    return FittingCase(
        number=number,
        room=room,
        faults=faults,
        small=small,
        severity=gauge.of(*faults.values()),
        movement=noise.mean_de00,
        reading=_measured(room, read(rng, light, room.instrument), header),
        aim=_measured(room, room.aim_of(paper), "M1"),
        rivals={room.presses[each].paper.name: _measured(room, room.aim_of(each), "M1") for each in others},
        context=context,
    )


def _fault(place: Place, case: str, small: bool) -> Fault:
    gauge = place.room.gauge(place.paper, place.kind)
    if case == "distortion":
        fault: Fault = Distortion(drawn=int(place.rng.integers(2**31)))
        return sized(gauge, fault, float(place.rng.uniform(*(SMALL if small else (LEAST, MOST)))), tolerance=0.1)
    fault = drawn(place, case)
    if isinstance(fault, Scratch) and fault.patches >= place.patches // 6:
        fault = replace(fault, patches=1)
    return sized(gauge, fault, float(place.rng.uniform(*SMALL)), tolerance=0.1) if small else fault


def _known(rng: np.random.Generator, faults: Mapping[str, Fault]) -> tuple[MCondition | None, Context]:
    """As in the foreign worlds: half of it is not told."""
    drying, told_hours, told_lot = float(rng.uniform(0.5, 24.0)), rng.random() < 0.5, rng.random() < 0.4
    hours = drying * float(rng.uniform(0.02, 0.5) if "wet" in faults else np.exp(rng.uniform(0.2, 3.7)))
    header: MCondition | None = None if "wrong mode" in faults or rng.random() < 0.4 else "M1"
    return header, Context(
        hours_since_print=hours if told_hours else None,
        drying_hours=drying,
        new_lot=("new lot" in faults or bool(rng.random() < 0.1)) if told_lot else None,
    )


def _measured(room: FittingRoom, light: FloatArray, m: MCondition | None) -> Measurement:
    names, shown = room.shown
    return Measurement(
        table=1,
        chart=Chart(
            tuple(str(row + 1) for row in range(len(shown))),
            None,
            names,
            shown,
            tuple(room.chart(room.plan_kind).labels) if room.places else None,
        ),
        condition=MeasurementCondition(m=m, illuminant="D50", observer=2),
        wavelengths=WAVELENGTHS_NM if room.spectra else None,
        reflectance=light.round(4) if room.spectra else None,
        lab=None if room.spectra else lab_of(light).round(2),
        xyz=None,
        instrument=None,
        serial=None,
        created=None,
        keywords={},
        assumptions=(),
    )


def judge(case: FittingCase) -> Judged:
    """The case asked for and held against its truth."""
    found = asked_for(case.reading, case.aim, case.rivals, case.context, ink_space=case.room.space == "fitting")
    return Judged(
        world=case.room.space,
        named=case.named,
        kinds=tuple("order" if fault.cause == "patch-order" else case for case, fault in case.faults.items()),
        truths=() if case.small else case.truths,
        moved=frozenset().union(*case.truths) if case.small else frozenset(),
        chart=case.room.layout,
        movement=case.movement,
        severity=case.severity,
        asked=found,
    )


def _judged(seed: int, space: Space, numbers: Sequence[int]) -> list[Judged]:
    return [judge(draw(seed, space, number)) for number in numbers]


def judged(space: Space, count: int, seed: int, processes: int = 1) -> list[Judged]:
    """So many checks, drawn, diagnosed and judged."""
    rooms = [range(first, min(first + ROOM_OF, count)) for first in range(0, count, ROOM_OF)]
    work = partial(_judged, seed, space)
    if processes == 1:
        return [each for room in rooms for each in work(room)]
    with ProcessPoolExecutor(processes) as pool:
        return [each for room in pool.map(work, rooms) for each in room]


def main(arguments: Sequence[str] | None = None) -> None:
    """Writes the page."""
    parser = argparse.ArgumentParser(description="Judges the diagnosis on the world it is fitted on.")
    parser.add_argument("checks", type=int, help="how many checks of each world")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--world", choices=SPACES, action="append")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--out", type=Path, help="where the page goes; else it is printed")
    options = parser.parse_args(arguments)
    found = {space: judged(space, options.checks, options.seed, options.processes) for space in options.world or SPACES}
    text = page(found, f"Seed {options.seed}, {options.checks} checks of each world.")
    if options.out:
        options.out.write_text(text, encoding="utf-8")
    else:
        sys.stdout.write(text)


if __name__ == "__main__":
    main()
