"""Labelled checks: a reading, its aim and its rivals, with what is truly wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from demo.simulator.charts import Chart
from demo.simulator.drawing import CASES, Place, drawn
from demo.simulator.faults import Fault, Label, Scene, Sheet
from demo.simulator.files import Export, Values, cgats, names_in_file
from demo.simulator.print_faults import WrongSubstrate
from demo.simulator.rooms import AIMS, Kind, Room, World, room_of
from demo.simulator.sheets import read, recalibrated
from demo.simulator.sizes import NotReachableError
from demo.simulator.spectra import FloatArray

HEALTHY = ("healthy", "recalibrated")
_LATER = ("light ink",)
_NUMBERED = (*(case for case in CASES if case not in _LATER), *HEALTHY, *_LATER)
"""In the order in which they came, so that a check once drawn stays what it was."""
TRIES = 60


@dataclass(frozen=True, eq=False)
class LabelledCheck:
    """One check. `aim` and `reading` are spectra (patches, bands), 380 to 730 nm by 10, in the order of `chart`.

    `labels` is empty for a healthy print and holds two for two faults. `severity` is that of the faults without noise,
    in warning limits; `scene` is what was printed under them. `kind` and `values` say what the texts hold.
    """

    number: int
    room: Room
    paper: int
    sheet: int
    kind: Kind
    values: Values
    cases: tuple[str, ...]
    faults: tuple[Fault, ...]
    severity: float
    scene: Scene
    reading: FloatArray
    header_says_mode: bool
    places: bool

    @property
    def chart(self) -> Chart:
        """The chart that was printed."""
        return self.room.chart(self.kind)

    @property
    def aim(self) -> FloatArray:
        """What the paper's print was read to be when all was well."""
        return self.room.aim(self.paper, self.kind, self.sheet)

    @property
    def inks(self) -> tuple[str, ...]:
        """The inks as the files call them: `C`, or `6CLR_5` where a set has light inks."""
        return names_in_file(self.chart.inks)

    @property
    def labels(self) -> tuple[Label, ...]:
        """What is wrong in truth."""
        return tuple(fault.label(self.inks) for fault in self.faults)

    @cached_property
    def file(self) -> str:
        """The reading as CGATS text."""
        mode = self.room.mode if self.header_says_mode else None
        return cgats(self.chart, self.reading, Export(self.values, self.places, mode))

    @property
    def target(self) -> str:
        """The aim as CGATS text."""
        return _aim_text(self.room, self.paper, self.kind, self.sheet, self.values)

    @property
    def rivals(self) -> dict[str, str]:
        """The aims of the room's other papers as CGATS text, by the name of the paper."""
        others = [paper for paper in range(len(self.room.presses)) if paper != self.paper]
        return {
            self.room.presses[paper].paper.name: _aim_text(self.room, paper, self.kind, 0, self.values)
            for paper in others
        }

    def printed_again(self, sheet: int, device: FloatArray | None = None) -> FloatArray:
        """Another sheet of the same scene, read without fault: spectra (patches, bands).

        `device` (patches, inks) are other amounts in percent, such as new tone curves make of the chart's.
        """
        rng = self.room.generator(3, self.number, sheet)
        amounts = self.chart.device if device is None else device
        spectra = self.scene.press.spectra(amounts, self.scene.mode)
        strayed = self.room.response(self.paper, self.kind).sheet(rng, self.room.noise(rng))
        return read(rng, spectra * strayed, self.room.instrument)

    @property
    def true_rival(self) -> str | None:
        """The name of the paper it was printed on, where that is the fault."""
        return next((fault.paper.name for fault in self.faults if isinstance(fault, WrongSubstrate)), None)


def draw_check(
    world: World, number: int, cases: Sequence[str], kind: Kind = "full", values: Values = "spectra"
) -> LabelledCheck:
    """The check of this number with these cases of `CASES` (or one of `HEALTHY`) together; the same for the same call.

    Raises NotReachableError where no paper of its room can show them beyond the warning limits.
    """
    room = room_of(world, number % world.rooms)
    told = [_NUMBERED.index(case) for case in cases]
    rng = room.generator(2, number, ("full", "short").index(kind), ("spectra", "Lab").index(values), *told)
    paper, faults = _faults(rng, room, [case for case in cases if case in CASES], kind)
    scene = room.scene(paper)
    scene = recalibrated(rng, scene) if "recalibrated" in cases else scene
    for fault in faults:
        scene = fault.scene(scene)
    return LabelledCheck(
        number=number,
        room=room,
        paper=paper,
        sheet=int(rng.integers(AIMS)),
        kind=kind,
        values=values,
        cases=tuple(cases),
        faults=faults,
        severity=room.gauge(paper, kind).of(*faults),
        scene=scene,
        reading=_reading(Place(rng, room, paper, kind), scene, faults),
        header_says_mode=bool(rng.random() < 0.7),
        places=room.plan.scattered or bool(rng.random() < 0.7),
    )


def _faults(rng: np.random.Generator, room: Room, cases: list[str], kind: Kind) -> tuple[int, tuple[Fault, ...]]:
    """A paper of the room and the faults on it."""
    for _ in range(TRIES):
        paper = int(rng.integers(len(room.presses)))
        try:
            return paper, tuple(drawn(Place(rng, room, paper, kind), case) for case in cases)
        except NotReachableError:
            continue
    raise NotReachableError(
        f"expected a paper of room {room.number} of {room.world.name} to show {' and '.join(cases)}"
    )


def _reading(place: Place, scene: Scene, faults: tuple[Fault, ...]) -> FloatArray:
    rng, room, chart = place.rng, place.room, place.room.chart(place.kind)
    strayed = room.response(place.paper, place.kind).sheet(rng, room.noise(rng))
    spectra = scene.press.spectra(chart.device, scene.mode) * strayed
    for fault in faults:
        spectra = fault.reading(Sheet(spectra, scene, chart))
    return read(rng, spectra, room.instrument)


@lru_cache(maxsize=64)
def _aim_text(room: Room, paper: int, kind: Kind, sheet: int, values: Values) -> str:
    export = Export(values, room.plan.scattered, room.mode)
    return cgats(room.chart(kind), room.aim(paper, kind, sheet), export)
