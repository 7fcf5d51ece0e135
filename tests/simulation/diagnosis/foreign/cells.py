"""Cellular Neugebauer prints: three to eight inks, a table of primaries as somebody might have measured it.

Each ink has a node inside its scale, so the colour cube falls into cells, and a patch is the mean of its cell's corners
(Heuberger, Jing and Persiev, 'Color transformations and lookup tables', TAGA/ISCC, 1992; from memory). The table holds
what a filter model lacks: inks take badly on wet ones, dots gain more on some inks than on others, inks bleed into one
another, light goes round inside the paper (Saunderson, J. Opt. Soc. Am. 32, 1942; from memory), and each primary is
off by itself. Everything in it is made up.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from demo.simulator.spectra import bell, step
from sentinel.core.arrays import FloatArray, IntArray
from tests.simulation.diagnosis.foreign.press import BAND_NM, BANDS, Scene, plain_scene

INK_SETS = (
    ("C", "M", "Y"),
    ("C", "M", "Y", "K"),
    ("C", "M", "Y", "K", "O"),
    ("C", "M", "Y", "K", "LC", "LM"),
    ("C", "M", "Y", "K", "O", "G", "V"),
    ("C", "M", "Y", "K", "O", "G", "LC", "LM"),
)
LIGHT = 0.33
"""What a light ink has of its dark one's colourant."""
INSIDE_OUT = 0.35
"""Part of the light within the paper that its surface sends back inside."""
ASTRAY = 0.012
"""How far a primary's spectrum is off by itself, as a part of it."""
ROWS_AT_ONCE = 64
TABLES_KEPT = 24


@dataclass(frozen=True, eq=False)
class CellPress:
    """`nodes` are the levels of each ink's scale (the same for all), `warp` (inks,) what dots gain within a cell.

    `taken` (inks, bands) are the inks' absorbances as solids, `trapping` (inks,) what an ink loses of itself on others,
    `spread` (inks, inks) what its dots gain more on each other one, `bleed` (inks, inks, bands) what two do together,
    `astray` (primaries, bands) what each primary is off, `surface` what light comes back from the surface.
    """

    inks: tuple[str, ...]
    paper: FloatArray
    nodes: FloatArray
    warp: FloatArray
    taken: FloatArray
    trapping: FloatArray
    spread: FloatArray
    bleed: FloatArray
    astray: FloatArray
    surface: float
    _tables: OrderedDict[bytes, FloatArray] = field(default_factory=OrderedDict)

    def light(self, amounts: FloatArray, strength: FloatArray, stray: FloatArray | None = None) -> FloatArray:
        """Spectra (patches, bands). Beyond a solid there is no more ink than one."""
        table = self._table(strength)
        amounts = np.minimum(amounts, 1.0)
        count, levels = len(self.inks), len(self.nodes)
        cell = np.clip(np.searchsorted(self.nodes, amounts, side="right") - 1, 0, levels - 2)
        inside = (amounts - self.nodes[cell]) / (self.nodes[cell + 1] - self.nodes[cell])
        inside = inside + self.warp * 4.0 * inside * (1.0 - inside)
        powers = levels ** np.arange(count)[::-1]
        out = np.empty((len(amounts), BANDS))
        for first in range(0, len(amounts), ROWS_AT_ONCE):
            rows = slice(first, first + ROWS_AT_ONCE)
            used = np.flatnonzero((amounts[rows] > 0).any(axis=0))
            corners = np.array(list(product((0, 1), repeat=len(used))), dtype=np.intp).reshape(-1, len(used))
            share = np.where(corners, inside[rows][:, None, used], 1.0 - inside[rows][:, None, used]).prod(axis=2)
            node: IntArray = (cell[rows] @ powers)[:, None] + corners @ powers[used]
            out[rows] = np.einsum("rc,rcb->rb", share, table[node])
        return out if stray is None else self.surface + (out - self.surface) * self._thicker(amounts, stray)

    def _thicker(self, amounts: FloatArray, stray: FloatArray) -> FloatArray:
        """What a little more ink on each patch makes of its light, as a factor: (patches, bands)."""
        factor = np.ones((len(amounts), BANDS))
        for ink in np.flatnonzero((amounts > 0).any(axis=0)):
            bare, covered = 1.0 - amounts[:, ink, None], amounts[:, ink, None]
            solid = 10.0 ** -self.taken[ink]
            factor *= (bare + covered * solid ** (1.0 + stray[:, ink, None])) / (bare + covered * solid)
        return factor

    def _table(self, strength: FloatArray) -> FloatArray:
        """Spectra of all primaries at these strengths: (primaries, bands)."""
        key = strength.tobytes()
        if key not in self._tables:
            self._tables[key] = self._primaries(strength)
            if len(self._tables) > TABLES_KEPT:
                self._tables.popitem(last=False)
        return self._tables[key]

    def _primaries(self, strength: FloatArray) -> FloatArray:
        laid = np.array(list(product(self.nodes, repeat=len(self.inks))))
        below = np.cumsum(laid, axis=1) - laid
        thickness = strength * (1.0 - self.trapping * (1.0 - np.exp(-below)))
        gained = 4.0 * laid * (1.0 - laid) * (0.06 + laid @ self.spread.T)
        coverage = np.clip(laid + gained, 0.0, 1.0)
        logarithm = np.zeros((len(laid), BANDS))
        for ink in range(len(self.inks)):
            passing = 10.0 ** (-thickness[:, ink, None] * self.taken[ink])
            logarithm += np.log(1.0 - coverage[:, ink, None] * (1.0 - passing))
        logarithm += np.einsum("pi,pj,ijb->pb", laid, laid, self.bleed) + self.astray
        body = self._inner_paper() * np.exp(logarithm)
        out = (1.0 - INSIDE_OUT) * body / (1.0 - INSIDE_OUT * body)
        spectra: FloatArray = self.surface + (1.0 - self.surface) * out
        return spectra

    def _inner_paper(self) -> FloatArray:
        """What goes round in the paper, such that bare stock comes out as `paper`."""
        out = (self.paper - self.surface) / (1.0 - self.surface)
        inner: FloatArray = out / (1.0 - INSIDE_OUT + INSIDE_OUT * out)
        return inner


def _absorbance(rng: np.random.Generator, ink: str, most: float) -> FloatArray:
    """Of an ink's solid: (bands,)."""

    def near(peak: float, wide: float = 8.0) -> float:
        return float(peak + rng.normal(0.0, wide))

    if ink.startswith("L"):
        return LIGHT * _absorbance(rng, ink[1:], most)
    shapes = {
        "C": lambda: bell(near(640), near(62), near(90)) + 0.25 * bell(near(575), 30.0, 30.0) + 0.06,
        "M": lambda: bell(near(548), near(42), near(22, 3)) + 0.22 * bell(near(440), 40.0, 40.0) + 0.03,
        "Y": lambda: 1.0 - step(near(488, 5), near(11, 1)) + 0.01,
        "K": lambda: 0.93 + 0.07 * np.cos((BAND_NM - 380.0) / near(90)),
        "O": lambda: 0.9 * (1.0 - step(near(560, 5), near(14, 1))) + 0.02,
        "G": lambda: bell(near(650), near(38), near(60)) + 0.8 * bell(near(430), 40.0, near(35)) + 0.05,
        "V": lambda: bell(near(580), near(48), near(45)) + 0.3 * bell(near(500), 40.0, 30.0) + 0.03,
    }
    shape: FloatArray = shapes[ink]()
    height = {"Y": 0.85, "K": 1.1}.get(ink, 1.0) * most * float(rng.uniform(0.9, 1.1))
    taken: FloatArray = height * shape / shape.max()
    return taken


def _smooth(rng: np.random.Generator, shape: tuple[int, ...]) -> FloatArray:
    """Smooth random curves over the bands of variance about 1: (*shape, bands)."""
    x = (BAND_NM - 380.0) / 350.0
    waves = np.stack([np.ones_like(x), np.cos(np.pi * x), np.cos(2 * np.pi * x), np.cos(3 * np.pi * x)])
    curves: FloatArray = rng.standard_normal((*shape, 4)) * np.array([0.6, 0.7, 0.5, 0.4]) @ waves
    return curves


def _paper(rng: np.random.Generator) -> FloatArray:
    whiteness, yellowness = rng.uniform(0.80, 0.92), rng.uniform(0.0, 0.10)
    body = whiteness * (1.0 - yellowness * (1.0 - step(470.0, 30.0)))
    edge = 1.0 - 0.35 * (1.0 - step(398.0, 8.0))
    paper: FloatArray = body * edge + rng.uniform(0.0, 0.12) * bell(438.0, 14.0, 24.0)
    return paper


def stocks(rng: np.random.Generator, inks: tuple[str, ...], count: int = 3) -> list[Scene]:
    """Stocks under one ink set, each with a paper, densities, dots and a way of drying of its own."""
    nodes = np.array([0.0, 0.3, 0.65, 1.0]) if len(inks) <= 4 else np.array([0.0, 0.45, 1.0])
    hues = int(rng.integers(2**32))
    return [_stock(rng, np.random.default_rng(hues), inks, nodes) for _ in range(count)]


def _stock(rng: np.random.Generator, hues: np.random.Generator, inks: tuple[str, ...], nodes: FloatArray) -> Scene:
    size, matte = len(inks), bool(rng.random() < 0.4)
    most = rng.uniform(1.0, 1.25) if matte else rng.uniform(1.35, 1.8)
    pairs = np.tril(np.ones((size, size)), -1)
    press = CellPress(
        inks,
        _paper(rng),
        nodes,
        rng.uniform(0.03, 0.10, size),
        np.stack([_absorbance(hues, ink, most) for ink in inks]),
        rng.uniform(0.05, 0.35, size),
        rng.uniform(0.0, 0.05, (size, size)) * (1.0 - np.eye(size)),
        0.06 * _smooth(rng, (size, size)) * pairs[:, :, None],
        ASTRAY * _smooth(rng, (len(nodes) ** size,)) * np.r_[0.0, np.ones(len(nodes) ** size - 1)][:, None],
        float(rng.uniform(0.006, 0.012) if matte else rng.uniform(0.0015, 0.004)),
    )
    way = -1.0 if matte and rng.random() < 0.5 else 1.0
    return plain_scene(press, way * rng.uniform(0.5, 1.5, size))
