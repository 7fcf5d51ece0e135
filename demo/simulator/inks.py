"""Inks: what a solid of each takes out of the light, from bands of absorption, and sets of four to eight of them.

Shapes and figures are invented after the looks of process and extended sets, no maker's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from demo.simulator.spectra import FloatArray, bell, energy_bell, step

Law = Literal["beer-lambert", "kubelka-munk"]
Shape = Callable[[float, float, float], FloatArray]

LIGHT_SHARE = 0.30
"""How strong a light ink is against its full one."""


@dataclass(frozen=True, slots=True)
class Band:
    """One band of absorption: where it is highest (nm), its widths (nm) to both sides, its density there."""

    peak: float
    short_side: float
    long_side: float
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class Ink:
    """`density` (bands,) is that of its solid on a paper of uptake 1, light passing twice.

    `ultraviolet` is the share of ultraviolet light that reaches the brightener below one solid.
    """

    name: str
    density: FloatArray
    ultraviolet: float


@dataclass(frozen=True, slots=True, eq=False)
class InkSet:
    """Inks in the order of the chart's columns.

    `law` is how they filter light; `trapping` is how much of a second and further ink counts on top of another.
    """

    inks: tuple[Ink, ...]
    law: Law
    trapping: float

    def __len__(self) -> int:
        return len(self.inks)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the inks; a light one in small letters."""
        return tuple(ink.name for ink in self.inks)

    @property
    def letters(self) -> bool:
        """Whether every ink can be called by one letter of the standard's fields."""
        return all(len(name) == 1 for name in self.names)


_BANDS: dict[str, tuple[float, tuple[Band, ...]]] = {
    "C": (0.60, (Band(628, 52, 60, 1.55), Band(680, 40, 40, 0.35), Band(385, 20, 28, 0.30))),
    "M": (0.45, (Band(550, 38, 22, 1.45), Band(515, 34, 25, 0.45), Band(400, 40, 45, 0.40))),
    "Y": (0.20, (Band(430, 60, 34, 1.40), Band(470, 30, 18, 0.50))),
    "K": (0.05, (Band(520, 300, 400, 1.55), Band(420, 90, 120, 0.15))),
    "O": (0.25, (Band(480, 70, 38, 1.45), Band(535, 40, 20, 0.65))),
    "G": (0.30, (Band(650, 42, 60, 1.40), Band(425, 50, 32, 1.00))),
    "V": (0.45, (Band(575, 45, 34, 1.40), Band(525, 35, 30, 0.50))),
    "R": (0.25, (Band(500, 70, 48, 1.40), Band(560, 30, 16, 0.70))),
}
_FLOOR = 0.02

SETS = {
    4: (("C", "M", "Y", "K"),),
    5: (("C", "M", "Y", "K", "lk"),),
    6: (("C", "M", "Y", "K", "O", "G"), ("C", "M", "Y", "K", "lc", "lm")),
    7: (("C", "M", "Y", "K", "O", "G", "V"),),
    8: (("C", "M", "Y", "K", "O", "G", "V", "R"), ("C", "M", "Y", "K", "lc", "lm", "lk", "O")),
}
"""Which inks a set of so many may have."""


@dataclass(frozen=True, slots=True)
class Chemistry:
    """How the inks of a world are made: shape of their bands, how far peaks and heights stray, the law they follow."""

    over: Literal["wavelength", "energy"]
    laws: tuple[Law, ...]
    stray_nm: float
    stray_height: float
    trapping: tuple[float, float]
    displaced_nm: float = 0.0
    stepped_yellow: bool = False


def draw_inks(rng: np.random.Generator, chemistry: Chemistry, count: int) -> InkSet:
    """A set of so many inks. Raises KeyError for a number no set has."""
    names = SETS[count][int(rng.integers(len(SETS[count])))]
    full = {name: _full_ink(rng, chemistry, name) for name in _BANDS}
    law = chemistry.laws[int(rng.integers(len(chemistry.laws)))]
    inks = tuple(full[name] if name in full else _light(full[name[1].upper()], name) for name in names)
    return InkSet(inks, law, float(rng.uniform(*chemistry.trapping)))


def _full_ink(rng: np.random.Generator, chemistry: Chemistry, name: str) -> Ink:
    shape: Shape = bell if chemistry.over == "wavelength" else energy_bell
    ultraviolet, bands = _BANDS[name]
    density = np.full_like(bell(500, 1, 1), _FLOOR)
    moved = rng.normal(chemistry.displaced_nm, chemistry.stray_nm)
    for band in bands:
        height = band.height * rng.normal(1.0, chemistry.stray_height)
        widths = np.array([band.short_side, band.long_side]) * rng.normal(1.0, chemistry.stray_height, 2)
        density += height * shape(band.peak + moved, float(widths[0]), float(widths[1]))
    if name == "Y" and chemistry.stepped_yellow:
        density = _FLOOR + 1.35 * rng.normal(1.0, chemistry.stray_height) * step(490.0 + moved, -11.0)
    return Ink(name, density, float(np.clip(ultraviolet * rng.normal(1.0, 0.15), 0.02, 0.9)))


def _light(full: Ink, name: str) -> Ink:
    return Ink(name, LIGHT_SHARE * full.density, float(full.ultraviolet**LIGHT_SHARE))
