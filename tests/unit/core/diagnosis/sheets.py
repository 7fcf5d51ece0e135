"""Small prints for tests: dyes on a paper, dot by dot, with nothing in common with any other model of the project.

Tints are Murray-Davies (1936) mixtures of the paper and of solids by Beer and Lambert's law, inks one after another; no
light spreads in the paper. Inks, papers and figures are invented.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.diagnosis.sheet import Context, DiagnosisSubject, Sheet
from sentinel.core.inks.readings import PairedSpectra
from sentinel.core.measurement import Chart, Measurement, MeasurementCondition

NM: FloatArray = np.arange(400.0, 701.0, 10.0)
NAMES = ("C", "M", "Y", "K", "O", "G", "V", "R")
PEAKS = (640.0, 540.0, 430.0, 550.0, 470.0, 660.0, 580.0, 500.0)
WIDTHS = (70.0, 45.0, 45.0, 900.0, 50.0, 50.0, 45.0, 45.0)
STRIP = 20


def full_chart(inks: int = 4, patches: int = 400) -> FloatArray:
    """Tones of every ink in tenths, solids on solids, and mixtures: device values (patches, inks) in percent."""
    rows = [np.zeros(inks), np.zeros(inks)]
    rows += [np.eye(inks)[ink] * tone for ink in range(inks) for tone in (5, *range(10, 101, 10))]
    rows += [100.0 * (np.eye(inks)[a] + np.eye(inks)[b]) for a, b in itertools.combinations(range(inks), 2)]
    random = np.random.default_rng(41)
    while len(rows) < patches:
        used = random.permutation(inks)[: random.integers(2, 5)]
        rows.append(np.isin(np.arange(inks), used) * random.choice([10.0, 25.0, 40.0, 55.0, 70.0, 85.0], inks))
    device = np.array(rows[:patches])
    return device[random.permutation(len(device))]


def small_chart(inks: int = 4) -> FloatArray:
    """Sixty patches with three tones an ink."""
    device = full_chart(inks, 400)
    alone = (device > 0).sum(axis=1) == 1
    kept = np.flatnonzero(~alone | np.isin(device.max(axis=1), (30.0, 70.0, 100.0)))
    needed = [row for row in kept if (device[row] > 0).sum() < 2]
    return np.asarray(device[np.sort([*needed, *[row for row in kept if row not in needed][: 60 - len(needed)]])])


@dataclass(frozen=True)
class Press:
    """`strength` and `gain` by ink; `paper` a factor (bands,) on its reflectance; `glow` a brightener's light.

    `light` is by how much the light ink behind an ink prints more, up to 60 % and all of the tone up to 25 %: a third
    of the full ink's density, so many dots as make its tone where it absorbs most. `noise` is how far the patches of a
    sheet stray in lightness, a share of their light; `seed` is the sheet.
    """

    inks: int = 4
    strength: Mapping[int, float] = field(default_factory=dict)
    gain: Mapping[int, float] = field(default_factory=dict)
    light: Mapping[int, float] = field(default_factory=dict)
    paper: FloatArray | float = 1.0
    glow: float = 0.05
    noise: float = 0.012
    seed: int = 1

    def spectra(self, device: FloatArray) -> FloatArray:
        """Reflectance (patches, bands) of one sheet."""
        light: FloatArray = np.ones((len(device), len(NM)))
        for ink in range(self.inks):
            nominal = device[:, ink] / 100
            dots = nominal + 4 * (0.12 + self.gain.get(ink, 0.0)) * nominal * (1 - nominal)
            solid = 10.0 ** -(self.strength.get(ink, 1.0) * _density(ink))
            passing = 1 - np.clip(dots, 0, 1)[:, None] * (1 - solid)
            if ink in self.light:
                pale = 1 - solid ** (1 / 3)
                pale_dots = dots * np.clip((0.6 - nominal) / 0.35, 0, 1) * (1 - solid).max() / pale.max()
                passing = passing - self.light[ink] * np.clip(pale_dots, 0, 1)[:, None] * pale
            light = light * passing
        bare = (0.88 - 0.03 * (700 - NM) / 300) * self.paper + self.glow * np.exp(-0.5 * ((NM - 440) / 20) ** 2)
        random = np.random.default_rng(self.seed)
        level = random.normal(1, self.noise, (len(device), 1))
        tilt = random.normal(0, self.noise, (len(device), 1)) * (NM - 550) / 150
        return np.asarray((0.004 + bare * light) * (level + tilt))


def _density(ink: int) -> FloatArray:
    return np.asarray(1.4 * np.exp(-0.5 * ((NM - PEAKS[ink]) / WIDTHS[ink]) ** 2) + 0.03)


def lab_of(spectra: FloatArray) -> FloatArray:
    """L*, a*, b* (patches, 3) under D50 and 2 degrees."""
    return lab_from_xyz(xyz_from_reflectance(spectra, NM), D50_ASTM_E308)


def subject(
    device: FloatArray,
    aim: FloatArray,
    reading: FloatArray,
    *,
    spectral: bool = True,
    ink_space: bool = True,
    context: Context | None = None,
) -> DiagnosisSubject:
    """Both sides of a check, laid out in strips in the order of the file."""
    rows = np.arange(len(device))
    lab = lab_of(reading)
    return DiagnosisSubject(
        inks=NAMES[: device.shape[1]],
        device=device,
        ink_space=ink_space,
        paper=np.asarray((device == 0).all(axis=1)),
        aim=lab_of(aim),
        reading=lab,
        labels=tuple(f"P{row + 1}" for row in rows),
        spectra=PairedSpectra(NM, aim, reading) if spectral else None,
        sheet=Sheet(lab, rows, np.stack([rows // STRIP, rows % STRIP], axis=1).astype(float)),
        context=context or Context(),
    )


def measurement(device: FloatArray, spectra: FloatArray) -> Measurement:
    """The same as a file would hold it."""
    ids = tuple(str(row + 1) for row in range(len(device)))
    chart = Chart(ids, None, NAMES[: device.shape[1]], device)
    return Measurement(1, chart, MeasurementCondition(), NM, spectra, None, None, None, None, None, {}, ())
