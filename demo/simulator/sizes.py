"""How large a fault is, in the project's own limits, and faults of a wanted size."""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

import numpy as np

from demo.simulator.charts import Chart
from demo.simulator.faults import Fault, Scene, Sheet
from demo.simulator.files import names_in_file
from demo.simulator.spectra import FloatArray, lab_of
from sentinel.core.colour.difference import de00
from sentinel.core.scoring.groups import groups
from sentinel.settings.targets_and_limits import HOUSE_LIMITS

AnyFault = TypeVar("AnyFault", bound=Fault)


class NotReachableError(Exception):
    """No believable size of the fault comes to what was wanted."""


class Gauge:
    """How far readings of a chart are from a scene's print: 1 where the first house warning limit is reached."""

    def __init__(self, scene: Scene, chart: Chart) -> None:
        self.scene, self.chart = scene, chart
        self.spectra = scene.press.spectra(chart.device, scene.mode)
        self._aim = lab_of(self.spectra)
        named = groups(names_in_file(chart.inks), chart.device, self._aim)
        self._groups = {name: named[name] for name in HOUSE_LIMITS if name in named}

    def severity(self, spectra: FloatArray) -> float:
        """The largest share of a warning limit, over the limits in force without settings."""
        off = de00(self._aim, lab_of(spectra))
        shares = [
            _figure(metric, off[rows]) / limit.warn
            for name, rows in self._groups.items()
            for metric, limit in HOUSE_LIMITS[name].items()
            if limit.warn
        ]
        return max(shares)

    def of(self, *faults: Fault) -> float:
        """The severity of faults together, without any noise."""
        return self.severity(faulty(self.scene, self.chart, faults))


def faulty(scene: Scene, chart: Chart, faults: tuple[Fault, ...]) -> FloatArray:
    """Spectra (patches, bands) of a chart printed and read under faults, without noise."""
    for fault in faults:
        scene = fault.scene(scene)
    spectra = scene.press.spectra(chart.device, scene.mode)
    for fault in faults:
        spectra = fault.reading(Sheet(spectra, scene, chart))
    return spectra


def sized(gauge: Gauge, fault: AnyFault, wanted: float, tolerance: float = 0.01) -> AnyFault:
    """The fault with the size at which its severity is `wanted`.

    Raises NotReachableError where its greatest believable size is not enough.
    """
    low, high = 0.0, fault.greatest
    if gauge.of(replace(fault, size=high)) < wanted:
        raise NotReachableError(f"expected {fault} to reach {wanted:g} warning limits")
    for _ in range(40):
        middle = (low + high) / 2.0
        found = gauge.of(replace(fault, size=middle))
        if abs(found - wanted) <= tolerance:
            return replace(fault, size=middle)
        low, high = (middle, high) if found < wanted else (low, middle)
    raise NotReachableError(f"expected {fault} to come to {wanted:g} warning limits, it goes past them in a leap")


def _figure(metric: str, off: FloatArray) -> float:
    figures = {"de00_mean": off.mean(), "de00_p95": np.percentile(off, 95), "de00_max": off.max()}
    return float(figures[metric])
