"""What each cause does to every patch, as columns of a linear model in visual units."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz, xyz_from_lab
from sentinel.core.colour.visual import scale_around
from sentinel.core.diagnosis.ink_model import YULE_NIELSEN_N, Ink, InkModel
from sentinel.core.diagnosis.light import Light

STRENGTH_STEP = 0.06
TONE_STEP = 0.03
PAPER_STEP = 0.02
SURFACE_STEP = 0.002
INK_KINDS = ("strength", "gaps", "tone", "skew")
RAMP = np.array([0.25, 0.5, 0.75, 1.0])


@dataclass(frozen=True, slots=True)
class Departure:
    """A way to depart from the aim. `kind` is strength, gaps (part of the ink's dots missing), tone, skew (a tone curve
    off one way in the light half and the other in the dark), paper, emission or surface; `ink` the column of the ink.
    `unit` is how much of the physical quantity makes a ΔE00 of 1 where it shows most: on the ink's own tone scale, or
    on paper.
    """

    kind: str
    ink: int | None
    unit: float


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """`columns` (n, 3, departures) are the differences of colour, in visual units, that a unit of each makes; `flat`
    (3,) is which way along the three paper departures an evenly darker sheet lies."""

    departures: tuple[Departure, ...]
    columns: FloatArray
    flat: FloatArray

    def places(self, kind: str) -> list[int]:
        """The columns of one kind."""
        return [number for number, each in enumerate(self.departures) if each.kind == kind]


class Aim:
    """An aim with its ink model, able to tell what a change of an ink, the paper or the light would make of it."""

    def __init__(self, model: InkModel, light: Light) -> None:
        self._light, self._model = light, model
        self._own = light.lab(light.channels)
        self.visual = scale_around(self._own)
        paper = light.lab(model.paper[None])
        self._paper_lab, self._paper_visual = paper, scale_around(paper)

    def design(self, sizes: dict[tuple[str, int], float] | None = None) -> Design:
        """All departures. `sizes` tells, in visual units, about how large strength and tone are: the columns are
        differences to the aim over that size, so that a large fault meets its own curve."""
        found = [self._of_paper(), self._of_emission(), self._of_surface()]
        for number, ink in enumerate(self._model.inks):
            found += [self._of_ink(kind, number, ink, (sizes or {}).get((kind, number))) for kind in INK_KINDS]
        departures, columns = zip(*[pair for group in found for pair in group], strict=True)
        return Design(departures, np.stack(columns, axis=2), self._flat())

    def _of_ink(self, kind: str, number: int, ink: Ink, size: float | None) -> list[tuple[Departure, FloatArray]]:
        step = STRENGTH_STEP if kind == "strength" else TONE_STEP
        unit = step / max(self._on_ramp(kind, ink, step), 1e-3)
        if size is not None:
            step = float(np.clip(size * unit, -0.6, 0.9) if kind == "strength" else np.clip(size * unit, -0.25, 0.25))
            step = step if abs(step) > 1e-3 else 1e-3
        change = self.visual(self._changed(kind, ink, ink.amount, ink.coverage, step) - self._own)
        return [(Departure(kind, number, unit), change * (unit / step))]

    def _on_ramp(self, kind: str, ink: Ink, step: float) -> float:
        """The largest ΔE00 that a step makes on the ink's own tone scale."""
        light, model = self._light, self._model
        coverage = ink.coverage_at(RAMP)
        base = model.floor + (model.paper - model.floor) * ink.filter(coverage) ** YULE_NIELSEN_N
        lab = light.lab(base)
        changed = light.lab(self._filtered(kind, ink, RAMP, coverage, step, base))
        return float(np.linalg.norm(scale_around(lab)(changed - lab), axis=1).max())

    def _changed(self, kind: str, ink: Ink, amount: FloatArray, coverage: FloatArray, step: float) -> FloatArray:
        lab = self._own.copy()
        rows = np.flatnonzero(amount > 0)
        lab[rows] = self._light.lab(
            self._filtered(kind, ink, amount[rows], coverage[rows], step, self._light.channels[rows])
        )
        return lab

    def _filtered(
        self, kind: str, ink: Ink, amount: FloatArray, coverage: FloatArray, step: float, channels: FloatArray
    ) -> FloatArray:
        before = ink.filter(coverage)
        if kind == "strength":
            after = ink.filter(coverage, max(1 + step, 0.05))
        elif kind == "gaps":
            after = ink.filter(coverage * (1 - min(step, 0.9)))
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

    def _of_paper(self) -> list[tuple[Departure, FloatArray]]:
        """Three ways for the paper to move, at right angles in visual units, all that lies on it moving along."""
        patches, paper = self._paper_changes()
        columns = patches @ np.linalg.inv(paper)
        return [(Departure("paper", None, 1.0), columns[:, :, axis]) for axis in range(3)]

    def _flat(self) -> FloatArray:
        _, paper = self._paper_changes()
        way = paper @ np.ones(3)
        unit: FloatArray = way / np.linalg.norm(way)
        return unit

    def _of_emission(self) -> list[tuple[Departure, FloatArray]]:
        """More of a brightener's light: inks filter it on its way out, and the ultraviolet on its way in."""
        light, model = self._light, self._model
        passing = np.clip((light.channels - model.floor) / (model.paper - model.floor), 0.0, 1.0)
        blue = (passing @ light.emission / light.emission.sum())[:, None]
        step = 0.02 / (light.emission.max() or 1.0)
        lab = light.lab(light.channels + step * light.emission * passing * np.sqrt(blue))
        on_paper = light.lab((model.paper + step * light.emission)[None])
        size = float(np.linalg.norm(self._paper_visual(on_paper - self._paper_lab)))
        return [(Departure("emission", None, step / size), self.visual(lab - self._own) / size)]

    def _of_surface(self) -> list[tuple[Departure, FloatArray]]:
        """Less light from the surface, everywhere alike: what shows is in the darkest patches."""
        less = np.maximum(self._light.channels - SURFACE_STEP, 0.5 * self._light.channels)
        change = self.visual(self._light.lab(less) - self._own)
        size = max(float(np.percentile(np.linalg.norm(change, axis=1), 98)), 1e-6)
        return [(Departure("surface", None, SURFACE_STEP / size), change / size)]
