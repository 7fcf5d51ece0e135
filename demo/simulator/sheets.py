"""What differs between two sheets of one press and between two readings of one sheet."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from demo.simulator.charts import Chart
from demo.simulator.faults import Scene
from demo.simulator.spectra import FloatArray, lab_of
from sentinel.core.colour.difference import de00

WAVES = 3
"""The smooth field over a sheet holds so many half waves across it and along it."""


@dataclass(frozen=True, slots=True)
class SheetNoise:
    """How sheets of a press stray from its mean print.

    `mean_de00` is the mean of ΔE00 between a sheet and the mean print. Of the variance, `field` is smooth over the
    sheet, `inks` is each ink's own strength and gain for the whole sheet, the rest is that of single patches.
    """

    mean_de00: float = 0.4
    field: float = 0.4
    inks: float = 0.25


@dataclass(frozen=True, slots=True)
class Instrument:
    """Scatter of one reading: of the level (a share of it), and of each band (reflectance)."""

    level: float = 0.0008
    band: float = 0.00015


class Response:
    """How the logarithm of a scene's spectra answers to each ink's strength and gain, for one chart; made once.

    Noise is small, so that a straight line will do. `spectra` (patches, bands) are those without noise.
    """

    def __init__(self, scene: Scene, chart: Chart) -> None:
        self.chart = chart
        self.spectra = scene.press.spectra(chart.device, scene.mode)
        self._lab = lab_of(self.spectra)
        log = np.log(self.spectra)
        presses = [scene.press.changed(ink, strength=1.01) for ink in range(len(chart.inks))]
        presses += [scene.press.changed(ink, gain=0.002) for ink in range(len(chart.inks))]
        moved = [np.log(press.spectra(chart.device, scene.mode)) - log for press in presses]
        self._slopes = np.array(moved)

    def sheet(self, rng: np.random.Generator, noise: SheetNoise) -> FloatArray:
        """Spectra of one sheet as a factor on those without noise: (patches, bands)."""
        inks = len(self._slopes)
        places = self.chart.places
        field = np.sqrt(noise.field) * np.array([_smooth(rng, places) for _ in range(inks)])
        jitter = np.sqrt(noise.inks) * rng.standard_normal((inks, 1))
        single = np.sqrt(1.0 - noise.field - noise.inks) * rng.standard_normal((inks, len(places)))
        amounts = field + jitter + single
        strayed: FloatArray = np.einsum("ip,ipb->pb", amounts, self._slopes)
        level = np.sqrt(noise.field) * _smooth(rng, places) + np.sqrt(1 - noise.field) * rng.standard_normal(
            len(places)
        )
        strayed = strayed + 0.002 * level[:, None]
        return self._scaled(strayed, noise.mean_de00)

    def _scaled(self, strayed: FloatArray, wanted: float) -> FloatArray:
        for _ in range(2):
            found = float(de00(self._lab, lab_of(self.spectra * np.exp(strayed))).mean())
            strayed = strayed * (wanted / found)
        return np.exp(strayed)


def read(rng: np.random.Generator, spectra: FloatArray, instrument: Instrument) -> FloatArray:
    """Spectra (patches, bands) as an instrument tells them."""
    level = rng.normal(1.0, instrument.level, (len(spectra), 1))
    seen: FloatArray = spectra * level + rng.normal(0.0, instrument.band, spectra.shape)
    return seen


def recalibrated(rng: np.random.Generator, scene: Scene, left: float = 0.006) -> Scene:
    """The scene after a recalibration: tone curves back at their aim but for `left` (standard deviation of gains)."""
    return replace(
        scene, press=replace(scene.press, gain=scene.press.gain + rng.normal(0.0, left, len(scene.press.gain)))
    )


def _smooth(rng: np.random.Generator, places: FloatArray) -> FloatArray:
    """A smooth random field (patches,) over places -1 to 1, variance about 1: cosines of long waves, Rayleigh sums."""
    field = np.zeros(len(places))
    weight = 0.0
    for across in range(WAVES):
        for along in range(WAVES):
            if across == along == 0:
                continue
            size = 1.0 / (across + along) ** 2
            wave = np.pi * 0.5 * (across * places[:, 0] * rng.choice((-1, 1)) + along * places[:, 1])
            field += np.sqrt(2.0 * size) * rng.standard_normal() * np.cos(wave + rng.uniform(0.0, 2.0 * np.pi))
            weight += size
    smooth: FloatArray = field / np.sqrt(weight)
    return smooth
