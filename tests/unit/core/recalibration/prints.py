"""Invented prints whose truth is known: inks filter one after another, dots fall at random, a dot gain each."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.inks.readings import PairedSpectra, Readings
from sentinel.core.measurement.cgats import document_of, spectral_columns, write
from sentinel.core.recalibration.terms import Terms

WAVELENGTHS: FloatArray = np.arange(400.0, 701.0, 10.0)
INKS = ("C", "M", "Y", "K")
TERMS = Terms(sheet_noise=(0.3, 0.6), bend=0.3, least_slope=0.2, least_move=0.6)

_PEAKS, _WIDTHS = np.array([640.0, 545.0, 430.0, 550.0]), np.array([75.0, 45.0, 50.0, 600.0])
_DENSITIES: FloatArray = 1.4 * np.exp(-(((WAVELENGTHS - _PEAKS[:, None]) / _WIDTHS[:, None]) ** 2)) + 0.03
_PAPER: FloatArray = 0.90 - 0.04 * ((700.0 - WAVELENGTHS) / 300.0) ** 2


@dataclass(frozen=True)
class Print:
    """Dot gain at half coverage (inks), density of solids as a factor (inks), and the paper as a factor."""

    gain: FloatArray
    strength: FloatArray
    paper: float = 1.0

    def spectra(self, device: FloatArray) -> FloatArray:
        """Reflectance (n, bands) of ink amounts (n, inks) in percent."""
        nominal = device / 100.0
        covered = np.clip(nominal + 4.0 * self.gain * nominal * (1.0 - nominal), 0.0, 1.0)
        passing = 10.0 ** (-_DENSITIES * self.strength[:, None] / 2.0)  # Yule and Nielsen's n of 2
        roots = 1.0 - covered[:, :, None] * (1.0 - passing)
        light: FloatArray = self.paper * _PAPER * np.prod(roots, axis=1) ** 2
        return light


def usual(*, gain: float = 0.12, strength: float = 1.0) -> Print:
    """Every ink alike."""
    return Print(np.full(len(INKS), gain), np.full(len(INKS), strength))


def chart(steps: int = 10) -> FloatArray:
    """Paper, tone scales, and overprints of four levels: (n, inks)."""
    scales = [np.eye(4)[ink] * amount for ink in range(4) for amount in np.linspace(0, 100, steps + 1)[1:]]
    over = [row for row in itertools.product((0.0, 40.0, 70.0, 100.0), repeat=4) if np.count_nonzero(row) > 1]
    return np.array([np.zeros(4), *scales, *over])


def lab_of(spectra: FloatArray) -> FloatArray:
    """L*, a*, b* (n, 3) under D50 and 2 degrees."""
    return lab_from_xyz(xyz_from_reflectance(spectra, WAVELENGTHS), D50_ASTM_E308)


def readings(
    aim: FloatArray, reading: FloatArray, device: FloatArray, *, spectral: bool = True, inks: tuple[str, ...] = INKS
) -> Readings:
    """Spectra of both sides (n, bands) beside one another."""
    spectra = PairedSpectra(WAVELENGTHS, aim, reading) if spectral else None
    return Readings(inks, device, True, lab_of(aim), lab_of(reading), spectra)


def noisy(chance: np.random.Generator, made: Print, device: FloatArray, size: float = 1.0) -> FloatArray:
    """A sheet on which every patch's inks stray a little by themselves."""
    strayed = np.clip(device * (1.0 + 0.008 * size * chance.standard_normal(device.shape)), 0.0, 100.0)
    return made.spectra(strayed) * (1.0 + 0.003 * size * chance.standard_normal((len(device), 1)))


def exported(made: Print, seed: int) -> str:
    """A noisy print of the chart as an instrument exports it."""
    device = chart()
    spectra = noisy(np.random.default_rng(seed), made, device)
    columns = {"SAMPLE_ID": [str(row) for row in range(1, len(device) + 1)]}
    columns |= {f"CMYK_{ink}": [f"{value:g}" for value in device[:, column]] for column, ink in enumerate(INKS)}
    keywords = {"MEASUREMENT_GEOMETRY": "45/0, M1"}
    return write(document_of({**columns, **spectral_columns(WAVELENGTHS, spectra)}, keywords)).decode()
