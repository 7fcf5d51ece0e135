"""Simulated checks whose curves are put to use: the chart is printed again, and what it shows is what was foretold."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from demo.simulator.checks import LabelledCheck, draw_check
from demo.simulator.files import Values
from demo.simulator.rooms import USUAL_NOISE, Kind, World, room_of
from demo.simulator.sheets import SheetNoise, read
from demo.simulator.sizes import NotReachableError
from demo.simulator.spectra import WAVELENGTHS_NM, FloatArray, lab_of
from sentinel.core.colour.difference import de00
from sentinel.core.diagnosis.diagnose import sheet_pair
from sentinel.core.diagnosis.sheet import DiagnosisSubject
from sentinel.core.diagnosis.sheet_pairs import learnt
from sentinel.core.inks.ordinary import AS_EVERYWHERE, OrdinaryMovement
from sentinel.core.inks.readings import EXACT, PairedSpectra, Readings
from sentinel.core.recalibration.forecast import RecalibrationForecast, recalibration_forecast
from sentinel.core.recalibration.shrinkage import figures_of
from sentinel.settings.diagnosis import RecalibrationTable
from tests.simulation.diagnosis.worlds import FITTING, HELD_OUT

Role = Literal["tuned", "reported"]

WORLDS: dict[Role, World] = {"tuned": FITTING, "reported": replace(HELD_OUT, name="reported", seed=58_111)}
"""The numbers of the forecast were chosen on the first; the second has other papers, inks, curves, charts and seeds."""

Aims = Literal["sheet", "exact"]
"""What a check is held against: another sheet, or the print without any straying, as published data are and nearly the
mean of many sheets."""

Manner = Literal["usual", "patches", "inks"]
MANNERS: dict[Manner, SheetNoise] = {
    "usual": USUAL_NOISE,
    "patches": SheetNoise(field=0.2, inks=0.1),
    "inks": SheetNoise(field=0.15, inks=0.7),
}
"""How sheets stray, all by as much: mostly patch by patch, or mostly each ink for the whole sheet."""

CASES = ("tone shift", "solid off", "drift", "head wear", "humidity", "new lot", "healthy")
AGAIN = 2
"""How many sheets are printed with the curves of one check."""


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """`bands` (3, 3) are low, expected and high of mean, 95th percentile and maximum; `shown` (AGAIN, 3) what sheets
    printed with the curves showed; `now` (3,) the check itself."""

    case: str
    now: FloatArray
    bands: FloatArray
    shown: FloatArray


def world_of(role: Role, manner: Manner) -> World:
    """One of `WORLDS`, its sheets straying in this manner."""
    return WORLDS[role] if manner == "usual" else replace(WORLDS[role], noise=MANNERS[manner])


def outcome(
    role: Role, number: int, kind: Kind, values: Values, aims: Aims = "sheet", manner: Manner = "usual", pairs: int = 0
) -> Outcome | None:
    """Of the check of this number; None where its room cannot show the case it is drawn for. `pairs` of sheets were
    learnt from in its room before."""
    case = CASES[number % len(CASES)]
    try:
        check = draw_check(world_of(role, manner), number, [case], kind)
    except NotReachableError:
        return None
    readings = readings_of_check(check, values, aims)
    movement = learnt_in(world_of(role, manner), check.room.number, kind, pairs)
    found = recalibration_forecast(readings, RecalibrationTable().terms, movement)
    assert isinstance(found, RecalibrationForecast)
    chance = np.random.default_rng([number, ("tuned", "reported").index(role)])
    prints = np.stack([de00(readings.aim, lab_of(printed(check, found, chance))) for _ in range(AGAIN)])
    bands = np.array([[band.low, band.expected, band.high] for band in (found.mean, found.p95, found.maximum)])
    return Outcome(case, figures_of(de00(readings.aim, readings.reading)), bands, figures_of(prints))


@lru_cache(maxsize=64)
def learnt_in(world: World, number: int, kind: Kind, pairs: int) -> OrdinaryMovement:
    """From pairs of sheets on the first paper of a room."""
    room, found = room_of(world, number), []
    printed, device, paper = room.response(0, kind), room.chart(kind).device, room.scene(0)
    chance = np.random.default_rng([number, pairs])
    for _ in range(pairs):
        one, other = (
            lab_of(read(chance, printed.spectra * printed.sheet(chance, room.noise(chance)), room.instrument))
            for _ in range(2)
        )
        aim = lab_of(paper.press.spectra(device, paper.mode))
        bare = np.asarray((device == 0).all(axis=1))
        subject = DiagnosisSubject(room.chart(kind).inks, device, True, bare, aim, one)
        found.append((sheet_pair(subject, other), 1.0))
    return learnt(found, AS_EVERYWHERE)


def readings_of_check(check: LabelledCheck, values: Values, aims: Aims = "sheet") -> Readings:
    """Aim and reading of a check, with or without spectra."""
    aim = check.aim if aims == "sheet" else check.room.response(check.paper, check.kind).spectra
    spectra = PairedSpectra(WAVELENGTHS_NM, aim, check.reading) if values == "spectra" else None
    sheets = 1.0 if aims == "sheet" else EXACT
    return Readings(check.chart.inks, check.chart.device, True, lab_of(aim), lab_of(check.reading), spectra, sheets)


def printed(check: LabelledCheck, found: RecalibrationForecast, chance: np.random.Generator) -> FloatArray:
    """Spectra of a new sheet of the same press, its amounts sent through the curves, with noise of its own."""
    room, chart = check.room, check.chart
    scene = room.scene(check.paper)
    for fault in check.faults:
        scene = fault.scene(scene)
    device = chart.device.copy()
    for curve in found.curves:
        column = chart.inks.index(curve.ink)
        device[:, column] = curve(device[:, column])
    strayed = room.response(check.paper, check.kind).sheet(chance, room.noise(chance))
    return read(chance, scene.press.spectra(device, scene.mode) * strayed, room.instrument)
