"""What each cause does to every patch, as columns of a linear model in visual units, and its robust fit."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import scale_around
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz, xyz_from_lab
from sentinel.core.inks.aim_inks import AimInk, AimInkModel, PatchLight
from sentinel.core.inks.channels import YULE_NIELSEN_N
from sentinel.core.inks.light_inks import UNTIL, light_share, reach_share

STRENGTH_STEP = 0.06
TONE_STEP = 0.03
LIGHT_STEP = 0.1
PAPER_STEP = 0.02
SURFACE_STEP = 0.002
INK_KINDS = ("strength", "gaps", "tone", "skew", "light", "reach")
OF_LIGHT_INK = ("light", "reach")
STEPS = {"strength": STRENGTH_STEP, **dict.fromkeys(OF_LIGHT_INK, LIGHT_STEP)}
FARTHEST = {"strength": (-0.6, 0.9), **dict.fromkeys(OF_LIGHT_INK, (-0.95, 1.5))}
RAMP = np.array([0.25, 0.5, 0.75, 1.0])


@dataclass(frozen=True, slots=True)
class DesignColumn:
    """A way to depart from the aim. `kind` is strength, gaps (part of the ink's dots missing), tone, skew (a tone curve
    off one way in the light half and the other in the dark), light (of an ink that the driver may split: its light ink
    stronger by a part, so that light tones move and full ones do not), reach (how far up that reaches), paper,
    emission, surface, field (a smooth shape one way in colour, paper staying) or, of a chart whose inks are not known,
    density (all inks stronger by a part of their density) and channel (three a channel, as in `field.channel_moves`);
    `ink` the column of the ink. `unit` is how much of the physical quantity makes a ΔE00 of 1 where it shows most: on
    the ink's own tone scale, on paper, or anywhere.
    """

    kind: str
    ink: int | None
    unit: float


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """`columns` (n, 3, departures) are the differences of colour, in visual units, that a unit of each makes; `flat`
    (3,) is which way along the three paper departures an evenly darker sheet lies."""

    departures: tuple[DesignColumn, ...]
    columns: FloatArray
    flat: FloatArray

    def places(self, kind: str) -> list[int]:
        """The columns of one kind."""
        return [number for number, each in enumerate(self.departures) if each.kind == kind]


class AimModel:
    """An aim with its ink model, able to tell what a change of an ink, the paper or the light would make of it."""

    def __init__(
        self,
        model: AimInkModel,
        light: PatchLight,
        shapes: FloatArray,
        moves: FloatArray | None = None,
        split: Collection[int] = (),
    ) -> None:
        """`shapes` (n, k) and `moves` (n, 3, m) are those of `field`; moves are of a chart whose inks are not known.
        `split` are the inks, by their column, that may be printed with a light one, too."""
        self._split = split
        self._light, self._model, self._shapes, self._moves = light, model, shapes, moves
        self._own = light.lab(light.channels)
        self.visual = scale_around(self._own)
        paper = light.lab(model.paper[None])
        self._paper_lab, self._paper_visual = paper, scale_around(paper)

    def design(self, sizes: Mapping[tuple[str, int], float] | None = None) -> Design:
        """All departures. `sizes` tells, in visual units, about how large strength and tone are: the columns are
        differences to the aim over that size, so that a large fault meets its own curve."""
        large = sizes or {}
        pairs = [*self._of_sheet]
        for (kind, number), usual in self._of_inks.items():
            size = large.get((kind, number))
            pairs.append(usual if size is None else self._of_ink(kind, number, usual[0].unit, size))
        departures, columns = zip(*pairs, strict=True)
        return Design(departures, np.stack(columns, axis=2), self._flat())

    @cached_property
    def _of_sheet(self) -> list[tuple[DesignColumn, FloatArray]]:
        """The departures that are no one ink's."""
        found = [self._of_paper(), self._of_emission(), self._of_surface(), self._of_field()]
        if not self._model.inks:
            found += [self._of_density(), self._of_channels()]
        return [pair for group in found for pair in group]

    @cached_property
    def _of_inks(self) -> dict[tuple[str, int], tuple[DesignColumn, FloatArray]]:
        """Those of inks, by kind and ink, of small size."""
        found = {}
        for number, ink in enumerate(self._model.inks):
            for kind in INK_KINDS:
                if kind not in OF_LIGHT_INK or self._shows_light_ink(number, ink):
                    step = STEPS.get(kind, TONE_STEP)
                    unit = step / max(self._on_ramp(kind, ink, step), 1e-3)
                    found[kind, number] = self._of_ink(kind, number, unit)
        return found

    def _shows_light_ink(self, number: int, ink: AimInk) -> bool:
        """Whether a patch holds so little of a split ink that its light one takes part."""
        return number in self._split and bool(((ink.amount > 0) & (ink.amount < UNTIL)).any())

    def _of_ink(
        self, kind: str, number: int, unit: float, size: float | None = None
    ) -> tuple[DesignColumn, FloatArray]:
        step, ink = STEPS.get(kind, TONE_STEP), self._model.inks[number]
        if size is not None:
            step = float(np.clip(size * unit, *FARTHEST.get(kind, (-0.25, 0.25))))
            step = step if abs(step) > 1e-3 else 1e-3
        change = self.visual(self._changed(kind, ink, ink.amount, ink.coverage, step) - self._own)
        return DesignColumn(kind, number, unit), change * (unit / step)

    def _on_ramp(self, kind: str, ink: AimInk, step: float) -> float:
        """The largest ΔE00 that a step makes on the ink's own tone scale."""
        light, model = self._light, self._model
        coverage = ink.coverage_at(RAMP)
        base = model.floor + (model.paper - model.floor) * ink.filter(coverage) ** YULE_NIELSEN_N
        lab = light.lab(base)
        changed = light.lab(self._filtered(kind, ink, RAMP, coverage, step, base))
        return float(np.linalg.norm(scale_around(lab)(changed - lab), axis=1).max())

    def _changed(self, kind: str, ink: AimInk, amount: FloatArray, coverage: FloatArray, step: float) -> FloatArray:
        lab = self._own.copy()
        rows = np.flatnonzero(amount > 0)
        lab[rows] = self._light.lab(
            self._filtered(kind, ink, amount[rows], coverage[rows], step, self._light.channels[rows])
        )
        return lab

    def _filtered(
        self, kind: str, ink: AimInk, amount: FloatArray, coverage: FloatArray, step: float, channels: FloatArray
    ) -> FloatArray:
        before = ink.filter(coverage)
        if kind == "strength":
            after = ink.filter(coverage, max(1 + step, 0.05))
        elif kind == "gaps":
            after = ink.filter(coverage * (1 - min(step, 0.9)))
        elif kind == "light":
            after = ink.with_light_ink(coverage, step * light_share(amount))
        elif kind == "reach":
            after = ink.with_light_ink(coverage, step * reach_share(amount))
        else:
            bump = 4 * amount * (1 - amount)
            bump = bump * (1 - 2 * amount) * 2 if kind == "skew" else bump
            after = ink.filter(np.clip(coverage + step * bump, 0.0, 1.0))
        floor = self._model.floor
        changed: FloatArray = floor + (channels - floor) * (after / before) ** YULE_NIELSEN_N
        return changed

    def _paper_changes(self) -> tuple[FloatArray, FloatArray]:
        """What a hundredth more of X, of Y and of Z makes of every patch (n, 3, 3) and of paper (3, 3)."""
        sheets = []
        for lab, visual in ((self._own, self.visual), (self._paper_lab, self._paper_visual)):
            xyz = xyz_from_lab(lab, D50_ASTM_E308)
            changes = [
                visual(lab_from_xyz(xyz * (1 + PAPER_STEP * np.eye(3)[axis]), D50_ASTM_E308) - lab) / PAPER_STEP / 100
                for axis in range(3)
            ]
            sheets.append(np.stack(changes, axis=2))
        return sheets[0], sheets[1][0]

    def _of_paper(self) -> list[tuple[DesignColumn, FloatArray]]:
        """Three ways for the paper to move, at right angles in visual units, all that lies on it moving along."""
        patches, paper = self._paper_changes()
        columns = patches @ np.linalg.inv(paper)
        return [(DesignColumn("paper", None, 1.0), columns[:, :, axis]) for axis in range(3)]

    def _flat(self) -> FloatArray:
        _, paper = self._paper_changes()
        way = paper @ np.ones(3)
        unit: FloatArray = way / np.linalg.norm(way)
        return unit

    def _of_emission(self) -> list[tuple[DesignColumn, FloatArray]]:
        """More of a brightener's light: inks filter it on its way out, and the ultraviolet on its way in."""
        light, model = self._light, self._model
        passing = np.clip((light.channels - model.floor) / (model.paper - model.floor), 0.0, 1.0)
        blue = (passing @ light.emission / light.emission.sum())[:, None]
        step = 0.02 / (light.emission.max() or 1.0)
        lab = light.lab(light.channels + step * light.emission * passing * np.sqrt(blue))
        on_paper = light.lab((model.paper + step * light.emission)[None])
        size = float(np.linalg.norm(self._paper_visual(on_paper - self._paper_lab)))
        return [(DesignColumn("emission", None, step / size), self.visual(lab - self._own) / size)]

    def _of_field(self) -> list[tuple[DesignColumn, FloatArray]]:
        """Every shape in each of the three directions of colour."""
        return [
            (DesignColumn("field", None, 1.0), shape[:, None] * np.eye(3)[axis])
            for shape in self._shapes.T
            for axis in range(3)
        ]

    def _of_channels(self) -> list[tuple[DesignColumn, FloatArray]]:
        found = []
        for move in () if self._moves is None else np.moveaxis(self._moves, 2, 0):
            change = self.visual(move)
            size = max(float(np.percentile(np.linalg.norm(change, axis=1), 98)), 1e-3)
            found.append((DesignColumn("channel", None, 1 / size), change / size))
        return found

    def _of_density(self) -> list[tuple[DesignColumn, FloatArray]]:
        """All that lies on the paper denser by the same part."""
        light, floor = self._light, self._model.floor
        passing = np.clip((light.channels - floor) / (self._model.paper - floor), 1e-4, 1.0)
        denser = floor + (self._model.paper - floor) * passing ** (1 + STRENGTH_STEP)
        unchanged = floor + (self._model.paper - floor) * passing
        change = self.visual(light.lab(denser) - light.lab(unchanged))
        size = max(float(np.percentile(np.linalg.norm(change, axis=1), 98)), 1e-6)
        return [(DesignColumn("density", None, STRENGTH_STEP / size), change / size)]

    def _of_surface(self) -> list[tuple[DesignColumn, FloatArray]]:
        """Less light from the surface, everywhere alike: what shows is in the darkest patches."""
        less = np.maximum(self._light.channels - SURFACE_STEP, 0.5 * self._light.channels)
        change = self.visual(self._light.lab(less) - self._own)
        size = max(float(np.percentile(np.linalg.norm(change, axis=1), 98)), 1e-6)
        return [(DesignColumn("surface", None, SURFACE_STEP / size), change / size)]


MEDIAN_LENGTH = 1.538
"""Median length of three normal components of unit variance: sqrt of the chi-square median at 3 degrees."""

TUKEY = 6.0
EFFECT_SHARE = 0.175
ROUNDS = 5
LEAST_SIGMA = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class RobustFit:
    """`theta` (p,), what is left `left` (n, 3), Tukey weights (n,) and the bound of each patch (n,)."""

    theta: FloatArray
    left: FloatArray
    weights: FloatArray
    bounds: FloatArray

    @property
    def lengths(self) -> FloatArray:
        """How far each patch is from the fit: (n,)."""
        return _lengths(self.left)


def robust_fit(columns: FloatArray, residual: FloatArray, sizes: FloatArray, trust: FloatArray) -> RobustFit:
    """Iterated weights; `sizes` (p,) say how large departures may be, `trust` (n,) what each patch counts."""
    flat, r = columns.reshape(-1, columns.shape[2]), residual.ravel()
    weights: FloatArray = np.ones(len(residual))
    theta: FloatArray = np.zeros(columns.shape[2])
    left: FloatArray = residual.astype(np.float64)
    bounds: FloatArray = np.full(len(residual), np.inf)
    stray = np.sqrt(trust.mean() / trust)
    sigma = _sigma(residual, stray)
    for _ in range(ROUNDS):
        w = np.repeat(weights * trust, 3)[:, None]
        normal = flat.T @ (flat * w) / sigma**2 + np.diag(1 / sizes**2)
        theta = np.asarray(np.linalg.solve(normal, (flat * w).T @ r / sigma**2), dtype=np.float64)
        fitted = (flat @ theta).reshape(-1, 3)
        left = residual - fitted
        length = _lengths(left)
        sigma = _sigma(left, stray)
        bounds = TUKEY * np.hypot(sigma * stray, EFFECT_SHARE * _lengths(fitted))
        weights = _tukey(length / bounds)
    return RobustFit(theta, left, weights, bounds)


def _sigma(left: FloatArray, stray: FloatArray) -> float:
    """The noise of one component of a usual patch."""
    return max(float(np.median(_lengths(left) / stray)) / MEDIAN_LENGTH, LEAST_SIGMA)


def _lengths(left: FloatArray) -> FloatArray:
    return np.asarray(np.sqrt((left * left).sum(axis=1)), dtype=np.float64)


def _tukey(share: FloatArray) -> FloatArray:
    """Tukey's biweight of residuals as shares of their bounds."""
    return np.asarray(np.maximum(1 - share**2, 0.0) ** 2)
