"""Papers: what they reflect without ink, what their brightener adds, and how they take ink.

Families and their ranges are invented after common practice (no published source): photo papers are bright and sharp,
cotton is warm and soft, and so on. A brightener takes up light below 400 nm and gives it back around 440 nm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from demo.simulator.spectra import WAVELENGTHS_NM, FloatArray, bell, step

Mode = Literal["M0", "M1", "M2"]
Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Paper:
    """Reflectances are fractions of the perfect diffuser.

    `tint` is what is missing at 380 nm against 730 nm, `hump` a bluish or reddish unevenness between. `brightener` is
    what it adds at `peak` nm under M1; `under_m0` the share of that under M0's lamp. `surface` is reflected before any
    ink. `uptake` scales the ink's strength, `gain` is the dot gain at half coverage, `n` the Yule-Nielsen factor.
    `wet` says how much stronger ink looks just after printing.
    """

    name: str
    family: str
    white: float
    tint: float
    hump: float
    brightener: float
    peak: float
    under_m0: float
    surface: float
    uptake: float
    gain: float
    n: float
    wet: float

    def body(self) -> FloatArray:
        """Reflectance without the brightener's light: (bands,)."""
        red_to_blue = (WAVELENGTHS_NM[-1] - WAVELENGTHS_NM) / (WAVELENGTHS_NM[-1] - WAVELENGTHS_NM[0])
        edge = (0.30 if self.brightener else 0.12) * step(388.0, -8.0)
        body: FloatArray = self.white - self.tint * red_to_blue**1.5 + self.hump * bell(560.0, 60.0, 60.0) - edge
        return body

    def glow(self, mode: Mode) -> FloatArray:
        """What the brightener adds, as a reflectance factor: (bands,)."""
        lit = {"M0": self.under_m0, "M1": 1.0, "M2": 0.0}[mode]
        return lit * self.brightener * bell(self.peak, 15.0, 32.0)


@dataclass(frozen=True, slots=True)
class Family:
    """The ranges papers of one kind come from; named as in `Paper`."""

    name: str
    white: Range
    tint: Range
    brightener: Range
    surface: Range
    uptake: Range
    gain: Range
    n: Range
    wet: Range = (0.5, 1.5)
    peak: Range = (434.0, 446.0)


# fmt: off
FAMILIES = (
    Family("gloss-photo", (0.89, 0.93), (0.00, 0.03), (0.06, 0.14), (0.001, 0.003),
           (1.00, 1.10), (0.05, 0.10), (1.8, 2.2)),
    Family("satin-photo", (0.87, 0.92), (0.01, 0.04), (0.03, 0.10), (0.002, 0.006),
           (0.95, 1.05), (0.07, 0.12), (1.8, 2.2)),
    Family("proof-semimatt", (0.86, 0.90), (0.02, 0.05), (0.00, 0.00), (0.003, 0.008),
           (0.92, 1.02), (0.09, 0.14), (1.7, 2.0)),
    Family("matt-coated", (0.86, 0.91), (0.01, 0.04), (0.05, 0.15), (0.010, 0.020),
           (0.78, 0.90), (0.12, 0.17), (1.9, 2.4)),
    Family("cotton", (0.85, 0.90), (0.05, 0.10), (0.00, 0.00), (0.012, 0.025),
           (0.72, 0.86), (0.14, 0.19), (2.0, 2.5)),
    Family("canvas", (0.83, 0.88), (0.03, 0.08), (0.00, 0.05), (0.010, 0.020),
           (0.76, 0.88), (0.12, 0.18), (1.8, 2.3)),
    Family("vinyl", (0.84, 0.90), (0.01, 0.04), (0.00, 0.06), (0.004, 0.012),
           (0.88, 1.00), (0.06, 0.12), (1.6, 1.9)),
    Family("board", (0.80, 0.86), (0.03, 0.07), (0.01, 0.06), (0.006, 0.014),
           (0.85, 0.97), (0.08, 0.14), (1.7, 2.1)),
)
# fmt: on


def draw_paper(rng: np.random.Generator, family: Family, name: str) -> Paper:
    """A paper of this family."""

    def within(limits: Range) -> float:
        return float(rng.uniform(*limits))

    return Paper(
        name=name,
        family=family.name,
        white=within(family.white),
        tint=within(family.tint),
        hump=within((-0.008, 0.008)),
        brightener=within(family.brightener),
        peak=within(family.peak),
        under_m0=within((0.50, 0.75)),
        surface=within(family.surface),
        uptake=within(family.uptake),
        gain=within(family.gain),
        n=within(family.n),
        wet=within(family.wet),
    )
