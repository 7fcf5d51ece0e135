"""Worlds of print rooms: what papers, inks, curves and charts they have, and one room of a world by its number."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Literal, TypeVar

import numpy as np

from demo.simulator.charts import Chart, Plan, full_chart, short_chart
from demo.simulator.faults import Scene
from demo.simulator.inks import Chemistry, draw_inks
from demo.simulator.papers import Family, Mode, draw_paper
from demo.simulator.press import Curve, Press, Technology, nominal_press
from demo.simulator.sheets import Instrument, Response, SheetNoise, read
from demo.simulator.sizes import Gauge
from demo.simulator.spectra import FloatArray

Kind = Literal["full", "short"]
Thing = TypeVar("Thing")
PAPERS = 4
USUAL_NOISE = SheetNoise()
AIMS = 3
"""Sheets an aim may have been read from, for each paper and chart."""


@dataclass(frozen=True, slots=True)
class World:
    """Where rooms come from; `seed` belongs to it alone. `mean_de00` is the range of `SheetNoise.mean_de00`."""

    name: str
    seed: int
    families: tuple[Family, ...]
    chemistry: Chemistry
    curves: tuple[Curve, ...]
    plans: tuple[Plan, ...]
    technologies: tuple[Technology, ...] = ("aqueous dye", "aqueous pigment", "solvent", "latex", "uv")
    inks: tuple[int, ...] = (4, 6, 8)
    rooms: int = 24
    mean_de00: tuple[float, float] = (0.3, 0.6)
    noise: SheetNoise = USUAL_NOISE


class Room:
    """One printer with one set of inks, four papers and two charts, all drawn from the world and the room's number."""

    def __init__(self, world: World, number: int) -> None:
        self.world, self.number = world, number
        rng = self.generator(0)
        self.ink_set = draw_inks(rng, world.chemistry, world.inks[number % len(world.inks)])
        self.technology: Technology = _one_of(rng, world.technologies)
        self.plan = _one_of(rng, world.plans)
        self.mode: Mode = ("M1", "M1", "M1", "M0", "M2")[int(rng.integers(5))]
        self.instrument = Instrument()
        families = [world.families[place] for place in rng.permutation(len(world.families))[: PAPERS - 1]]
        papers = [
            draw_paper(rng, family, f"paper-{place + 1}") for place, family in enumerate([*families, families[0]])
        ]
        base = nominal_press(rng, papers[0], self.ink_set, _one_of(rng, world.curves), self.technology)
        self.presses: list[Press] = [
            replace(base, paper=paper, gain=base.gain + rng.normal(0.0, 0.008, len(base.gain))) for paper in papers
        ]
        self._seed_of_charts = int(rng.integers(2**31))

    def generator(self, *purpose: int) -> np.random.Generator:
        """Random numbers for one purpose of this room."""
        return np.random.default_rng([self.world.seed, self.number, *purpose])

    @cached_property
    def _charts(self) -> dict[Kind, Chart]:
        rng = np.random.default_rng(self._seed_of_charts)
        names = self.ink_set.names
        return {"full": full_chart(rng, names, self.plan), "short": short_chart(rng, names, self.plan)}

    def chart(self, kind: Kind) -> Chart:
        """The room's chart of this kind."""
        return self._charts[kind]

    def scene(self, paper: int) -> Scene:
        """How this paper is printed and read when all is well."""
        return Scene(self.presses[paper], self.mode)

    @lru_cache(maxsize=16)  # noqa: B019
    def response(self, paper: int, kind: Kind) -> Response:
        """How prints on this paper stray."""
        return Response(self.scene(paper), self.chart(kind))

    @lru_cache(maxsize=16)  # noqa: B019
    def gauge(self, paper: int, kind: Kind) -> Gauge:
        """How large faults are on this paper."""
        return Gauge(self.scene(paper), self.chart(kind))

    @lru_cache(maxsize=64)  # noqa: B019
    def aim(self, paper: int, kind: Kind, sheet: int) -> FloatArray:
        """Spectra (patches, bands) of one of the sheets that aims of this paper were read from."""
        rng = self.generator(1, paper, ("full", "short").index(kind), sheet)
        printed = self.response(paper, kind)
        return read(rng, printed.spectra * printed.sheet(rng, self.noise(rng)), self.instrument)

    def noise(self, rng: np.random.Generator) -> SheetNoise:
        """How much a sheet strays, drawn from the world's range."""
        return replace(self.world.noise, mean_de00=float(rng.uniform(*self.world.mean_de00)))


@lru_cache(maxsize=64)
def room_of(world: World, number: int) -> Room:
    """The room of this number; rooms are kept."""
    return Room(world, number)


def _one_of(rng: np.random.Generator, things: tuple[Thing, ...]) -> Thing:
    return things[int(rng.integers(len(things)))]
