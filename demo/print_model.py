"""What the demo prints: four inks of the simulator (`demo.simulator`) on invented stocks, drifting a little."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from demo.simulator.inks import Chemistry, draw_inks
from demo.simulator.papers import Mode, Paper
from demo.simulator.press import Press
from demo.simulator.sheets import Instrument, read
from demo.simulator.spectra import WAVELENGTHS_NM, FloatArray

__all__ = ["INKS", "WAVELENGTHS_NM", "Drift", "FloatArray", "as_read", "reflectance"]

INKS = "CMYK"
_EXACT = Chemistry("wavelength", ("beer-lambert",), stray_nm=0.0, stray_height=0.0, trapping=(1.0, 1.0))
_INK_SET = draw_inks(np.random.default_rng(0), _EXACT, len(INKS))
_READING = Instrument(level=0.006, band=0.0003)


@dataclass(frozen=True)
class Drift:
    """How a print differs from the one the aim was read from: strength of an ink as a factor, dot gain added."""

    density: Mapping[str, float] = field(default_factory=dict)
    gain: float = 0.0


def reflectance(cmyk: FloatArray, stock: Paper, drift: Drift, mode: Mode) -> FloatArray:
    """Spectra (patches, bands) of device values (patches, 4) in percent, read under `mode`."""
    strength = np.array([drift.density.get(ink, 1.0) for ink in INKS])
    none = np.zeros(len(INKS))
    return Press(stock, _INK_SET, strength, none + drift.gain, skew=none, missing=none).spectra(cmyk, mode)


def as_read(spectra: FloatArray, seed: int) -> FloatArray:
    """Spectra as an instrument would tell them: each patch a little lighter or darker, each band a little noisy."""
    return np.clip(read(np.random.default_rng(seed), spectra, _READING), 0.0, None)
