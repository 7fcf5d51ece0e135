"""Houses whose sheets differ by whole inks: does the next sheet fall within the bands?

    python -m tests.simulation.recalibration.houses 24 --seed 4 [--kind full] [--pairs 12] [--physics cells]

A house is a printer with one stock and one chart. From one sheet to the next each ink is a little stronger or weaker
and its tones a little heavier or lighter, by a mean ΔE00 of `INK_WISE` over the chart; patches stray besides. A check
is one sheet, printed while some inks had departed from the aim or none; the sheets after the recalibration are printed
through its curves by the same print. One reading is held against an exact aim, an aim of one sheet and one of several.

Prints are of another physics than the forecast's: cellular Neugebauer prints (`cells`), or published characterization
data (`published`); `spectral`, spectral Neugebauer prints of the world for fitting, is the one to choose numbers on.
"""

from __future__ import annotations

import argparse
import statistics
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np

from demo.simulator.rooms import room_of
from demo.simulator.spectra import WAVELENGTHS_NM
from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.diagnosis.diagnose import sheet_pair
from sentinel.core.diagnosis.sheet import DiagnosisSubject
from sentinel.core.diagnosis.sheet_pairs import learnt
from sentinel.core.inks.ordinary import AS_EVERYWHERE, OrdinaryMovement
from sentinel.core.inks.readings import EXACT, PairedSpectra, Readings
from sentinel.core.recalibration.forecast import RecalibrationForecast, recalibration_forecast
from sentinel.core.recalibration.shrinkage import figures_of
from sentinel.settings.diagnosis import RecalibrationTable
from tests.simulation.diagnosis.foreign import cells, published
from tests.simulation.diagnosis.foreign.charts import Layout, ink_chart
from tests.simulation.diagnosis.foreign.press import (
    BAND_NM,
    Scene,
    Shares,
    Stray,
    curved,
    drawn_stray,
    lab_of,
    stronger,
)
from tests.simulation.diagnosis.worlds import FITTING

Physics = Literal["cells", "published", "spectral"]
ChartKind = Literal["full", "short"]
PHYSICS: tuple[Physics, ...] = ("cells", "published", "spectral")
INK_WISE = (0.3, 0.6)
"""Mean ΔE00 that whole inks move from the mean print, on average over sheets."""
PATCH_WISE = (0.15, 0.35)
"""The same of patches by themselves, drawn for each house."""
AIMS = {"exact": EXACT, "a sheet": 1.0, "four sheets": 4.0}
CHECKS, AFTER = 6, 4
"""Of a house, and sheets printed after each recalibration."""
LIMITS = np.array([2.0, 4.0, 8.0]), np.array([3.0, 6.0, 12.0])
"""The house's warning and action limits of mean, 95th percentile and maximum of all patches."""
SORTS = ("one tone", "tones", "healthy", "one ink", "inks and tones", "small")
"""What had departed when the sheet was checked."""
SIZES = {"healthy": (0.0, 0.0), "small": (0.2, 0.7)}
LARGE = (0.9, 2.5)
"""How far it had, in warning limits."""
READ = 0.0006


class Printer:
    """A stock with its chart, and how sheets of it come out."""

    def __init__(self, scene: Scene, layout: Layout) -> None:
        self.scene, self.layout, self.amounts = scene, layout, layout.device / 100.0

    def light(self, strength: FloatArray, gain: FloatArray, stray: Stray, amounts: FloatArray) -> FloatArray:
        """Light of inks stronger by these parts (inks,) and tones heavier by these gains half way (inks,)."""
        return curved(stronger(self.scene, strength), gain).light(amounts, stray)


def _printer(rng: np.random.Generator, physics: Physics, kind: ChartKind, number: int) -> Printer:
    if physics == "published":
        scene = published.stocks(rng)[0]
        return Printer(scene, ink_chart(rng, scene.press.inks, kind, paper=True))
    if physics == "cells":
        inks = cells.INK_SETS[int(rng.integers(1, len(cells.INK_SETS)))]
        return Printer(cells.stocks(rng, inks, 1)[0], ink_chart(rng, inks, kind, paper=True))
    return _SpectralPrinter(rng, kind, number)


class _SpectralPrinter(Printer):
    """One of the simulator's rooms for fitting."""

    def __init__(self, rng: np.random.Generator, kind: ChartKind, number: int) -> None:
        room = room_of(replace(FITTING, seed=FITTING.seed + int(rng.integers(1, 10_000))), number)
        chart = room.chart(kind)
        where = np.arange(len(chart))
        self.layout = Layout(kind, chart.inks, chart.device, where // 25, where % 25)
        self.amounts = chart.device / 100.0
        self._press = room.scene(0).press
        self._mode = room.scene(0).mode
        log = np.log(self._press.spectra(chart.device, self._mode))
        inks = range(len(chart.inks))
        presses = [self._press.changed(ink, strength=1.01) for ink in inks]
        presses += [self._press.changed(ink, gain=0.0025) for ink in inks]
        self._slopes = np.stack([np.log(press.spectra(chart.device, self._mode)) - log for press in presses])

    def light(self, strength: FloatArray, gain: FloatArray, stray: Stray, amounts: FloatArray) -> FloatArray:
        press = self._press
        for ink in range(len(strength)):
            press = press.changed(ink, strength=1.0 + float(strength[ink]), gain=float(gain[ink]))
        own = np.concatenate([stray.strength / 0.01, stray.gain / 0.0025], axis=1).T
        factor = np.exp(np.einsum("ip,ipb->pb", own, self._slopes))
        light: FloatArray = press.spectra(100.0 * amounts, self._mode) * factor * (1.0 + stray.level[:, None])
        return light


Moves = tuple[FloatArray, FloatArray]


class House:
    """A printer whose sheets stray by whole inks and by patches."""

    def __init__(self, physics: Physics, kind: ChartKind, ink_wise: float, number: int, seed: int) -> None:
        self.rng = np.random.default_rng([seed, number, PHYSICS.index(physics), round(100 * ink_wise), len(kind)])
        self.printer = _printer(self.rng, physics, kind, number)
        layout = self.printer.layout
        self.count = len(layout.inks)
        still = np.zeros((len(layout), self.count))
        self._still = Stray(still, still, np.zeros(len(layout)))
        self.print = self.light()
        of_strength = self.rng.uniform(0.2, 0.8)
        self._spread = np.sqrt([of_strength, 1.0 - of_strength]) * (0.03, 0.01)
        self._spread *= ink_wise / np.mean([self._apart(self._ink_wise()) for _ in range(16)])
        self.patch_wise = float(self.rng.uniform(*PATCH_WISE))
        self._shares = Shares(0.0, 0.3, 0.7)
        self._patch_size = self.patch_wise / statistics.fmean(self._apart(stray=self._stray()) for _ in range(4))

    def light(
        self, moves: Moves | None = None, stray: Stray | None = None, amounts: FloatArray | None = None
    ) -> FloatArray:
        """Of the chart, or of other amounts on its patches."""
        strength, gain = moves or (np.zeros(self.count), np.zeros(self.count))
        amounts = self.printer.amounts if amounts is None else amounts
        return self.printer.light(strength, gain, self._still if stray is None else stray, amounts)

    def _apart(self, moves: Moves | None = None, stray: Stray | None = None) -> float:
        return float(de00(lab_of(self.print), lab_of(self.light(moves, stray))).mean())

    def _ink_wise(self) -> Moves:
        strength, gain = self._spread[:, None] * self.rng.standard_normal((2, self.count))
        return strength, gain

    def _stray(self, size: float = 1.0) -> Stray:
        return drawn_stray(self.rng, self.printer.layout.places, self.count, self._shares).times(size)

    def sheet(self, departed: Moves | None = None, amounts: FloatArray | None = None) -> FloatArray:
        """Light of one sheet as it is read, of a print that has departed from its aim."""
        strength, gain = self._ink_wise()
        if departed is not None:
            strength, gain = (1.0 + strength) * (1.0 + departed[0]) - 1.0, gain + departed[1]
        light = self.light((strength, gain), self._stray(self._patch_size), amounts)
        read: FloatArray = light * (1.0 + READ * self.rng.standard_normal((len(light), 1)))
        return read

    def departed(self, sort: str) -> Moves:
        """So that the check comes to so many warning limits by it alone."""
        rng = self.rng
        size = float(rng.uniform(*SIZES.get(sort, LARGE)))
        strength, gain = rng.normal(0.0, 0.05, self.count), rng.normal(0.0, 0.02, self.count)
        one = np.arange(self.count) == rng.integers(self.count)
        if sort in ("one tone", "tones"):
            strength[:] = 0.0
        if sort.startswith("one"):
            strength, gain = strength * one, np.where(one, gain, 0.0 if sort == "one tone" else 0.3 * gain)
        if size == 0.0:
            return np.zeros(self.count), np.zeros(self.count)
        times = 1.0
        for _ in range(4):
            found = de00(lab_of(self.print), lab_of(self.light((times * strength, times * gain))))
            times *= size / max(float((figures_of(found) / LIMITS[0]).max()), 1e-3)
            most = max(float(np.abs(strength).max()) / 0.5, float(np.abs(gain).max()) / 0.2)
            times = min(times, 1.0 / max(most, 1e-9))
        return times * strength, times * gain

    def readings(self, aim: FloatArray, reading: FloatArray, sheets: float) -> Readings:
        """One beside the other."""
        bands = {36: BAND_NM, len(WAVELENGTHS_NM): WAVELENGTHS_NM}.get(reading.shape[1])
        spectra = None if bands is None else PairedSpectra(bands, aim, reading)
        layout = self.printer.layout
        return Readings(layout.inks, layout.device, True, lab_of(aim), lab_of(reading), spectra, sheets)

    def learnt(self, pairs: int) -> OrdinaryMovement:
        """From so many pairs of sheets, as the diagnosis learns."""
        layout, aim = self.printer.layout, lab_of(self.print)
        bare = np.asarray((layout.device == 0).all(axis=1))
        found = []
        for _ in range(pairs):
            one, other = lab_of(self.sheet()), lab_of(self.sheet())
            found.append((sheet_pair(DiagnosisSubject(layout.inks, layout.device, True, bare, aim, one), other), 1.0))
        return learnt(found, AS_EVERYWHERE)


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """`now` (3,) are the figures of the check, `bands` (3, 3) low, expected and high, `shown` (AFTER, 3) the figures of
    the sheets printed with the curves."""

    house: int
    aim: str
    sort: str
    now: FloatArray
    bands: FloatArray
    shown: FloatArray

    @property
    def verdict(self) -> str:
        """By the house's limits."""
        if (self.now > LIMITS[1]).any():
            return "fails"
        return "passes" if (self.now <= LIMITS[0]).all() else "warns"

    @property
    def inside(self) -> FloatArray:
        """Which figures of which sheet lay within: (AFTER, 3)."""
        return np.asarray((self.bands[:, 0] <= self.shown) & (self.shown <= self.bands[:, 2]), dtype=np.float64)


def outcomes_of(
    number: int, physics: Physics, kind: ChartKind, ink_wise: float, pairs: int, seed: int
) -> list[Outcome]:
    """All checks of a house."""
    house, found = House(physics, kind, ink_wise, number, seed), []
    movement = house.learnt(pairs) if pairs else AS_EVERYWHERE
    for place in range(CHECKS):
        sort = SORTS[(number + place) % len(SORTS)]
        departed = house.departed(sort)
        reading, sheets = house.sheet(departed), [house.sheet() for _ in range(4)]
        aims = {"exact": house.print, "a sheet": sheets[0], "four sheets": np.mean(sheets, axis=0)}
        for name, aim in aims.items():
            readings = house.readings(aim, reading, AIMS[name])
            forecast = recalibration_forecast(readings, RecalibrationTable().terms, movement)
            if not isinstance(forecast, RecalibrationForecast):
                raise ValueError(f"expected a forecast for house {number}, got none: {forecast.reason}")
            amounts = house.printer.amounts.copy()
            for curve in forecast.curves:
                column = readings.inks.index(curve.ink)
                amounts[:, column] = curve(100.0 * amounts[:, column]) / 100.0
            after = np.stack([lab_of(house.sheet(departed, amounts)) for _ in range(AFTER)])
            bands = [[band.low, band.expected, band.high] for band in (forecast.mean, forecast.p95, forecast.maximum)]
            now, shown = de00(readings.aim, readings.reading), np.stack([de00(readings.aim, each) for each in after])
            found.append(Outcome(number, name, sort, figures_of(now), np.array(bands), figures_of(shown)))
    return found


def share(found: Sequence[Outcome]) -> tuple[FloatArray, FloatArray]:
    """Of figures within their bands (3,), and its standard error (3,) by houses, since checks of a house are alike."""
    houses = sorted({each.house for each in found})
    inside = [np.array([e.inside.mean(axis=0) for e in found if e.house == house]) for house in houses]
    counts = np.array([len(each) for each in inside], dtype=float)
    middle = np.concatenate(inside).mean(axis=0)
    off = np.stack([(each - middle).sum(axis=0) for each in inside])
    error = np.sqrt((off**2).sum(axis=0) * len(houses) / max(len(houses) - 1, 1)) / counts.sum()
    return middle, error


def row(label: str, found: Sequence[Outcome]) -> str:
    """A line of the table, with intervals of 95 %."""
    if not found:
        return f"| {label} | 0 | | | | | |"
    middle, error = share(found)
    shares = " | ".join(f"{m:.1%} ± {100 * 1.96 * e:.1f}" for m, e in zip(middle, error, strict=True))
    now, after = np.mean([e.now for e in found], axis=0), np.mean([e.shown for e in found], axis=(0, 1))
    figures = " | ".join(" / ".join(f"{figure:.2f}" for figure in three) for three in (now, after))
    return f"| {label} | {len(found)} | {shares} | {figures} |"


HEAD = (
    "| whole inks | aim | checks that | checks | mean | 95th percentile | maximum | now | after |\n"
    "| ---: | --- | --- | ---: | ---: | ---: | ---: | --- | --- |"
)


def lines(found_by_size: dict[float, list[Outcome]]) -> Iterator[str]:
    """The table."""
    every: Callable[[Outcome], bool] = lambda _: True  # noqa: E731
    for size, found in found_by_size.items():
        for aim in AIMS:
            of_aim = [each for each in found if each.aim == aim]
            for verdict in ("fails", "warns", "passes"):
                yield row(f"{size} | {aim} | {verdict}", [each for each in of_aim if each.verdict == verdict])
    everything = [each for found in found_by_size.values() for each in found]
    for verdict in ("fails", "warns", "passes"):
        yield row(f"any | any | {verdict}", [each for each in everything if each.verdict == verdict])
    for aim in AIMS:
        yield row(f"any | {aim} | any", [each for each in everything if each.aim == aim])
    yield row("any | any | any", list(filter(every, everything)))


def main(arguments: Sequence[str] | None = None) -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description="Coverage of the forecast's bands where sheets differ by whole inks.")
    parser.add_argument("houses", type=int, help="of each size of straying")
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--physics", choices=PHYSICS, default="cells")
    parser.add_argument("--kind", choices=("full", "short"), default="short")
    parser.add_argument("--pairs", type=int, default=0, help="of sheets, learnt from in each house")
    parser.add_argument("--processes", type=int, default=1)
    options = parser.parse_args(arguments)
    found: dict[float, list[Outcome]] = {}
    for size in INK_WISE:
        work = partial(
            outcomes_of,
            physics=options.physics,
            kind=options.kind,
            ink_wise=size,
            pairs=options.pairs,
            seed=options.seed,
        )
        with ProcessPoolExecutor(options.processes) as pool:
            found[size] = [each for house in pool.map(work, range(options.houses)) for each in house]
    sys.stdout.write("\n".join([HEAD, *lines(found)]) + "\n")


if __name__ == "__main__":
    main()
