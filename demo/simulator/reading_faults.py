"""Faults of the reading: its scale, the order of the patches, and damaged patches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from demo.simulator.charts import Chart
from demo.simulator.faults import Fault, Sheet, Sign, Told
from demo.simulator.spectra import FloatArray, Order

Way = Literal["file", "layout"]


@dataclass(frozen=True, kw_only=True)
class WrongScale(Fault):
    """The instrument reads all reflectances too high or too low by `size` of them."""

    sign: Sign
    cause: ClassVar[str] = "measurement-scale"
    greatest: ClassVar[float] = 0.25

    def reading(self, sheet: Sheet) -> FloatArray:
        return sheet.spectra * (1.0 + self.sign * self.size)

    def told(self) -> Told:
        return Told(None, self.sign)


def _order(chart: Chart, way: Way) -> Order:
    return chart.layout_order if way == "layout" else np.arange(len(chart))


@dataclass(frozen=True, kw_only=True)
class RowsShifted(Fault):
    """From one patch on (`start`, 0 to 1 of the chart) each has the reading of the one before it (`by` 1, one was read
    twice) or of the one after it (-1, one was left out)."""

    start: float
    by: Sign
    way: Way = "file"
    cause: ClassVar[str] = "patch-order"

    def reading(self, sheet: Sheet) -> FloatArray:
        moved = _order(sheet.chart, self.way)[int(self.start * len(sheet.chart)) :]
        out = sheet.spectra.copy()
        to, of = (moved[1:], moved[:-1]) if self.by == 1 else (moved[:-1], moved[1:])
        out[to] = sheet.spectra[of]
        return out


@dataclass(frozen=True, kw_only=True)
class StripBackwards(Fault):
    """Strips (their numbers, counted along the order from 0) read from the wrong end."""

    strips: tuple[int, ...]
    way: Way = "layout"
    cause: ClassVar[str] = "patch-order"

    def reading(self, sheet: Sheet) -> FloatArray:
        order, length = _order(sheet.chart, self.way), int(sheet.chart.row.max()) + 1
        out = sheet.spectra.copy()
        for strip in self.strips:
            rows = order[strip * length : (strip + 1) * length]
            out[rows] = sheet.spectra[rows[::-1]]
        return out


@dataclass(frozen=True, kw_only=True)
class SheetTurned(Fault):
    """The sheet lay upside down: the last patch was read first."""

    way: Way = "layout"
    cause: ClassVar[str] = "patch-order"

    def reading(self, sheet: Sheet) -> FloatArray:
        order = _order(sheet.chart, self.way)
        out = sheet.spectra.copy()
        out[order] = sheet.spectra[order[::-1]]
        return out


@dataclass(frozen=True, kw_only=True)
class Scratch(Fault):
    """Neighbours along the layout, few of them, show bare paper (`size` is the share of it) or a smear of dirt."""

    start: float
    patches: int
    smear: bool = False
    cause: ClassVar[str] = "outlying-patches"
    greatest: ClassVar[float] = 0.9

    def reading(self, sheet: Sheet) -> FloatArray:
        first = int(self.start * (len(sheet.chart) - self.patches))
        rows = sheet.chart.layout_order[first : first + self.patches]
        under = 0.03 if self.smear else sheet.scene.press.paper.body()
        uneven = np.linspace(1.0, 0.6, self.patches)[:, None] * self.size
        out = sheet.spectra.copy()
        out[rows] += uneven * (under - sheet.spectra[rows])
        return out


@dataclass(frozen=True, kw_only=True)
class NozzleLine(Fault):
    """A line across strips on which one ink is missing, for `size` of the patch; few patches hold enough of it."""

    ink: int
    start: float
    patches: int
    cause: ClassVar[str] = "outlying-patches"
    greatest: ClassVar[float] = 0.9

    def reading(self, sheet: Sheet) -> FloatArray:
        chart, scene = sheet.chart, sheet.scene
        across = np.lexsort((chart.strip, chart.row))
        holding = across[chart.device[across, self.ink] >= 40.0]
        first = int(self.start * max(0, len(holding) - self.patches))
        rows = holding[first : first + self.patches]
        without = scene.press.changed(self.ink, missing=self.size).spectra(chart.device[rows], scene.mode)
        out = sheet.spectra.copy()
        out[rows] *= without / scene.press.spectra(chart.device[rows], scene.mode)
        return out
