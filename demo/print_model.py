"""A small model of a halftone print: ink amounts to reflectance spectra of an invented stock.

Yule-Nielsen spectral Neugebauer (Yule and Nielsen 1951; Viggiano 1985; reviewed by Wyble and Berns 2000, 'A critical
review of spectral models applied to binary color printing', Color Research and Application 25(1)) over the sixteen
primaries of four inks, weighted by Demichel's (1924) areas. Inks, stocks and figures are invented.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

WAVELENGTHS_NM: FloatArray = np.arange(380.0, 731.0, 10.0)
INKS = "CMYK"
YULE_NIELSEN_N = 2.0

BRIGHTENER_PEAK_NM, BRIGHTENER_WIDTH_NM = 440.0, 22.0


@dataclass(frozen=True)
class Stock:
    """Reflectances are fractions of the perfect diffuser.

    `brightener` is what optical brighteners add at their peak under M1; `surface` is reflected before any ink;
    `uptake` scales the ink's density; `gain` is the dot gain at half coverage.
    """

    white: float
    tint: float
    brightener: float
    surface: float
    uptake: float
    gain: float


@dataclass(frozen=True)
class Drift:
    """How a print differs from the one the aim was read from: density of an ink as a factor, dot gain added."""

    density: Mapping[str, float] = field(default_factory=dict)
    gain: float = 0.0


def reflectance(cmyk: FloatArray, stock: Stock, drift: Drift, uv: float) -> FloatArray:
    """Spectra (patches, bands) of device values (patches, 4) in percent; `uv` is 1 under M1, 0 without any UV."""
    coverage = _with_dot_gain(cmyk / 100.0, stock.gain + drift.gain)
    areas = np.prod(np.where(_PRIMARIES, coverage[:, None, :], 1.0 - coverage[:, None, :]), axis=2)
    n = YULE_NIELSEN_N
    spectra: FloatArray = (areas @ _primaries(stock, drift, uv) ** (1.0 / n)) ** n
    return spectra


def as_read(spectra: FloatArray, seed: int) -> FloatArray:
    """Spectra as an instrument would tell them: each patch a little lighter or darker, each band a little noisy."""
    random = np.random.default_rng(seed)
    level = random.normal(1.0, 0.006, (len(spectra), 1))
    bands = random.normal(0.0, 0.0003, spectra.shape)
    return np.clip(spectra * level + bands, 0.0, None)


_PRIMARIES = np.array(list(itertools.product([False, True], repeat=len(INKS))))


def _with_dot_gain(coverage: FloatArray, gain: float) -> FloatArray:
    return np.clip(coverage + 4.0 * gain * coverage * (1.0 - coverage), 0.0, 1.0)


def _primaries(stock: Stock, drift: Drift, uv: float) -> FloatArray:
    """Spectra (16, bands) of the paper and of every overprint of solids; inks filter the light one after another."""
    factors = np.array([stock.uptake * drift.density.get(ink, 1.0) for ink in INKS])
    density = (_PRIMARIES * factors) @ _INK_DENSITIES
    paper = _paper(stock, uv)
    solids: FloatArray = stock.surface + (paper - stock.surface) * 10.0**-density
    return solids


def _paper(stock: Stock, uv: float) -> FloatArray:
    nm = WAVELENGTHS_NM
    body: FloatArray = stock.white - stock.tint * (nm[-1] - nm) / (nm[-1] - nm[0]) - 0.25 * _step(nm, 385.0, -9.0)
    body += uv * stock.brightener * _bell(nm, BRIGHTENER_PEAK_NM, BRIGHTENER_WIDTH_NM)
    return body


def _bell(nm: FloatArray, peak: float, width: float) -> FloatArray:
    bell: FloatArray = np.exp(-0.5 * ((nm - peak) / width) ** 2)
    return bell


def _step(nm: FloatArray, edge: float, width: float) -> FloatArray:
    step: FloatArray = 1.0 / (1.0 + np.exp(-(nm - edge) / width))
    return step


_INK_DENSITIES: FloatArray = np.array(
    [
        1.60 * _bell(WAVELENGTHS_NM, 630.0, 60.0) + 0.25 * _bell(WAVELENGTHS_NM, 390.0, 30.0) + 0.05,
        1.50 * _bell(WAVELENGTHS_NM, 548.0, 38.0) + 0.60 * _bell(WAVELENGTHS_NM, 450.0, 60.0) + 0.02,
        1.45 * _step(WAVELENGTHS_NM, 492.0, -12.0) + 0.01,
        1.75 + 0.10 * _step(WAVELENGTHS_NM, 600.0, 40.0),
    ]
)
