"""Which checks the foreign worlds are made of, each with its truth; the numbers alone decide."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.diagnosis.sheet import Context
from sentinel.core.measurement import Chart, MCondition, Measurement, MeasurementCondition
from tests.simulation.diagnosis.foreign import cells, published
from tests.simulation.diagnosis.foreign.charts import FULL_RGB, Kind, Layout, ink_chart, rgb_chart
from tests.simulation.diagnosis.foreign.faults import (
    KINDS,
    OF_SPLIT,
    PAIRS,
    Fault,
    Gauge,
    NotReachableError,
    Subject,
    read_under,
    scene_under,
    sized,
)
from tests.simulation.diagnosis.foreign.press import BAND_NM, Scene, Shares, drawn_stray, lab_of, stray_size
from tests.simulation.diagnosis.foreign.profiled import drawn_driver, drawn_profile

World = Literal["published", "cells", "rgb", "split"]
WORLDS: tuple[World, ...] = ("published", "cells", "rgb", "split")

Movement = Literal["again", "next", "large"]
MOVEMENTS: dict[Movement, tuple[float, float]] = {"again": (0.1, 0.3), "next": (0.3, 0.6), "large": (0.6, 1.0)}
"""Mean ΔE00 between a sheet and the print it is one of: the same sheet again, the next sheet, a stock with large
movement (common practice, no published source)."""

SEVERITY = (1.1, 3.0)
"""Warning limits that a fault alone comes to."""
SMALL = (0.15, 0.5)
"""The same of what moved in a passing sheet, and is no fault."""

TWENTY = ("healthy", "single", "single", "two", "healthy", "single", "single", "single", "healthy", "single",
          "single", "small", "single", "healthy", "single", "two", "single", "healthy", "single", "single")  # fmt: skip
"""Every twenty checks: five healthy, one small movement, two with two faults, twelve with one."""

ROOM_OF = 5
"""So many checks in a row come from one room: its stocks and its chart."""
CHARTS: tuple[Kind, ...] = ("full", "short", "full", "strip", "full", "short", "strip")
"""Room by room; seven, so that every sort of check meets every chart."""
SPLIT = ((4, 0), (5, 1))
"""Of the six hidden inks C, M, Y, K, LC, LM of the world `split`, which are the light ones of which."""
LIGHT_INKS_TOLD = ("C", "M")
ROOMS_TRIED, TRIES = 10, 12
ANOTHER = 100_003 * len(CHARTS)
"""So many rooms further on is one with the same kind of chart that nobody else uses."""
INSTRUMENT = 0.0006
"""How much of its light a single reading is off."""


@dataclass(frozen=True, eq=False)
class Room:
    """`stocks` share an ink set; `profile` makes hidden amounts of a chart's device values."""

    world: World
    stocks: list[Scene]
    layout: Layout
    amounts: FloatArray
    spectra: bool
    places: bool

    @property
    def ink_space(self) -> bool:
        """Whether the chart's device values are the amounts of ink."""
        return self.world != "rgb"


@dataclass(frozen=True, eq=False)
class ForeignCase:
    """One check: `reading` beside `aim`, `rivals` by the names of their stocks, what is known, and the truth.

    `faults` with their sizes is empty for a healthy print, `severity` is theirs without stray in warning limits;
    `small` says that what moved is no fault. `movement` is the
    mean ΔE00 of the sheet from its print, with the balance `shares` and at `stray_size`.
    """

    world: World
    number: int
    room: Room
    subject: Subject
    faults: dict[Fault, float]
    severity: float
    small: bool
    movement: float
    shares: Shares
    stray_size: float
    reading: Measurement
    aim: Measurement
    rivals: dict[str, Measurement]
    context: Context

    @property
    def own(self) -> Scene:
        """The stock that the aim is of, all well."""
        return self.subject.own

    @property
    def read(self) -> FloatArray:
        """Lab (patches, 3) of the reading."""
        if self.reading.lab is not None:
            return self.reading.lab
        assert self.reading.reflectance is not None
        return lab_of(self.reading.reflectance)

    @property
    def truths(self) -> list[frozenset[str]]:
        """The causes that name each fault; none where nothing is wrong."""
        return [] if self.small else [fault.accepted for fault in self.faults]

    @property
    def named(self) -> str:
        """The truth in a word."""
        return "small movement" if self.small else " + ".join(fault.kind for fault in self.faults) or "healthy"


def _generator(seed: int, world: World, *numbers: int) -> np.random.Generator:
    return np.random.default_rng([seed, WORLDS.index(world), *numbers])


@lru_cache(maxsize=4)
def room_of(seed: int, world: World, number: int) -> Room:
    """The room of this number: its stocks, chart and instrument."""
    rng = _generator(seed, world, 1, number)
    kind = CHARTS[number % len(CHARTS)]
    paper = bool(rng.random() < 0.85)
    if world == "published":
        stocks = published.stocks(rng)
        layout = ink_chart(rng, ("C", "M", "Y", "K"), kind, paper)
        amounts = layout.device / 100.0
    elif world == "cells":
        inks = cells.INK_SETS[int(rng.integers(len(cells.INK_SETS)))]
        stocks = cells.stocks(rng, inks)
        layout = ink_chart(rng, inks, kind, paper)
        amounts = layout.device / 100.0
    elif world == "split":
        stocks = cells.stocks(rng, ("C", "M", "Y", "K", "LC", "LM"))
        layout = ink_chart(rng, ("C", "M", "Y", "K"), kind, paper)
        amounts = drawn_driver(rng, 6, SPLIT).amounts(layout.device)
    else:
        hidden_table = rng.random() < 0.5
        inks = ("C", "M", "Y", "K", "LC", "LM") if not hidden_table and rng.random() < 0.5 else ("C", "M", "Y", "K")
        stocks = published.stocks(rng) if hidden_table else cells.stocks(rng, inks)
        layout = rgb_chart(rng, kind, paper)
        amounts = drawn_profile(rng, inks).amounts(layout.device)
    has_spectra = len(stocks[0].press.paper) > 3 and bool(rng.random() < 0.5)
    return Room(world, stocks, layout, amounts, has_spectra, bool(rng.random() < 0.7))


def draw(seed: int, world: World, number: int) -> ForeignCase:
    """The check of this number; the same for the same call. From another room where its own cannot show the fault, two
    stocks being too alike or a chart too poor."""
    rng = _generator(seed, world, 2, number)
    for again in range(ROOMS_TRIED):
        room = room_of(seed, world, number // ROOM_OF + again * ANOTHER)
        for _ in range(TRIES):
            try:
                return _drawn(rng, room, number, _single(seed, world, number))
            except NotReachableError:
                continue
    raise NotReachableError(f"expected rooms of {world} to show check {number}")


def _drawn(rng: np.random.Generator, room: Room, number: int, single: str) -> ForeignCase:
    first = int(rng.integers(len(room.stocks)))
    order = [first, *(place for place in range(len(room.stocks)) if place != first)]
    split = SPLIT if room.world == "split" else ()
    subject = Subject([room.stocks[place] for place in order], room.layout, room.amounts, room.ink_space, split)
    sort = TWENTY[number % len(TWENTY)]
    kinds = _kinds(rng, sort, single)
    clean = lab_of(subject.own.light(room.amounts))
    gauge = Gauge(room.layout, clean)
    reach = SMALL if sort == "small" else SEVERITY
    faults: dict[Fault, float] = {}
    for kind in kinds:
        fault = kinds_of(room.world)[kind](rng, subject)
        faults[fault] = sized(subject, gauge, fault, float(rng.uniform(*reach)) if fault.greatest else SEVERITY[0])
    movement: Movement = rng.choice(list(MOVEMENTS), p=(0.15, 0.65, 0.2))
    mean = float(rng.uniform(*MOVEMENTS[movement]))
    shares = Shares(*rng.dirichlet((3.0, 3.0, 3.0)).tolist())
    stray = drawn_stray(rng, room.layout.places, room.amounts.shape[1], shares)
    size = stray_size(subject.own, room.amounts, stray, mean)
    light = read_under(faults, scene_under(faults, subject.own).light(room.amounts, stray.times(size)))
    light = light * (1.0 + INSTRUMENT * rng.standard_normal((len(light), 1)))
    reading_m, context = _known(rng, faults)
    if room.world == "split" and rng.random() < 0.5:
        context = replace(context, light_inks=LIGHT_INKS_TOLD)
    rivals = _rivals(rng, subject, faults)
    return ForeignCase(
        world=room.world,
        number=number,
        room=room,
        subject=subject,
        faults=faults,
        severity=gauge.severity(lab_of(subject.light(faults))),
        small=sort == "small",
        movement=mean,
        shares=shares,
        stray_size=size,
        reading=_measured(room, light, reading_m),
        aim=_measured(room, _aim(rng, subject.own, room), "M1"),
        rivals={f"stock {place}": _measured(room, subject.stocks[place].light(room.amounts), "M1") for place in rivals},
        context=context,
    )


def _single(seed: int, world: World, number: int) -> str:
    """What is wrong where one thing is: all kinds in equal shares, mixed anew every time round."""
    before = number // len(TWENTY) * TWENTY.count("single") + TWENTY[: number % len(TWENTY)].count("single")
    kinds = list(kinds_of(world))
    if world == "split":  # every other one, since that is what the world is for
        kinds = [kind for other in KINDS for kind in (other, "light ink")]
    mixed = _generator(seed, world, 3, before // len(kinds)).permutation(kinds)
    return str(mixed[before % len(kinds)])


def kinds_of(world: World) -> dict[str, Callable[[np.random.Generator, Subject], Fault]]:
    """What goes wrong in a world, by its name."""
    return KINDS | OF_SPLIT if world == "split" else KINDS


def _kinds(rng: np.random.Generator, sort: str, single: str) -> Sequence[str]:
    if sort == "single":
        return (single,)
    if sort == "small":
        return (str(rng.choice(("tone", "solid", "paper", "distortion"))),)
    return PAIRS[int(rng.integers(len(PAIRS)))] if sort == "two" else ()


def _aim(rng: np.random.Generator, own: Scene, room: Room) -> FloatArray:
    """Exact where it is published, else a reference sheet of the house, read with care."""
    if rng.random() < 0.5:
        return own.light(room.amounts)
    stray = drawn_stray(rng, room.layout.places, room.amounts.shape[1], Shares(0.2, 0.3, 0.5))
    size = stray_size(own, room.amounts, stray, float(rng.uniform(0.08, 0.2)))
    return own.light(room.amounts, stray.times(size))


def _rivals(rng: np.random.Generator, subject: Subject, faults: dict[Fault, float]) -> list[int]:
    """Places of the stocks whose aims are known too: in three rooms of four the others, and always the true one."""
    needed = {fault.rival for fault in faults if fault.rival is not None}
    everything = range(1, len(subject.stocks))
    return list(everything) if needed or rng.random() < 0.75 else []


def _known(rng: np.random.Generator, faults: dict[Fault, float]) -> tuple[MCondition | None, Context]:
    """The M condition in the header, and what is known beside the file: half of it is not told."""
    kinds = {fault.kind for fault in faults}
    told_hours, told_lot = rng.random() < 0.5, rng.random() < 0.4
    drying = float(rng.uniform(0.5, 24.0))
    hours = drying * float(rng.uniform(0.02, 0.5) if "wet" in kinds else np.exp(rng.uniform(np.log(1.2), np.log(40.0))))
    alike = float(rng.uniform(0.6, 1.0) if "scale" in kinds else rng.uniform(-1.0, 0.2)) if rng.random() < 0.3 else None
    header: MCondition | None = None if "mode" in kinds or rng.random() < 0.4 else "M1"
    return header, Context(
        hours_since_print=hours if told_hours else None,
        drying_hours=drying,
        moved_alike=alike,
        new_lot=("paper" in kinds or bool(rng.random() < 0.1)) if told_lot else None,
    )


def _measured(room: Room, light: FloatArray, m: MCondition | None) -> Measurement:
    """Light as a file of it would be understood: spectra to 4 decimals, or Lab to 2."""
    layout = room.layout
    ids = tuple(str(row + 1) for row in range(len(layout)))
    return Measurement(
        table=1,
        chart=Chart(ids, None, layout.inks, layout.device, layout.positions if room.places else None),
        condition=MeasurementCondition(m=m, illuminant="D50", observer=2),
        wavelengths=BAND_NM if room.spectra else None,
        reflectance=light.round(4) if room.spectra else None,
        lab=None if room.spectra else lab_of(light).round(2),
        xyz=None,
        instrument=None,
        serial=None,
        created=None,
        keywords={},
        assumptions=(),
    )


def bare(room: Room) -> BoolArray:
    """Which patches are bare stock: (patches,)."""
    none = FULL_RGB if room.world == "rgb" else 0.0
    return np.asarray((room.layout.device == none).all(axis=1))
