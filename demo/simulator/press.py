"""A press: inks on a paper, each with its strength and tone curve, and what an instrument would see of a print."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from demo.simulator.inks import LIGHT_SHARE, InkSet
from demo.simulator.neugebauer import demichel, overprints, yule_nielsen
from demo.simulator.papers import Mode, Paper
from demo.simulator.solids import filtered, laid_down
from demo.simulator.spectra import FloatArray

Curve = Literal["parabola", "exposure"]
Technology = Literal["aqueous dye", "aqueous pigment", "solvent", "latex", "uv"]


@dataclass(frozen=True, slots=True)
class LightInk:
    """A light ink that the driver lays in place of its full one in light tones, and what is wrong with it.

    Up to `alone` (of the device value, 0 to 1) it makes all of the tone, from `until` on none; between it falls
    straight, or by a power `bend` of that. `strength` is a factor on its density, `missing` the share of its dots that
    never come out; `density` is that of the light ink against the full one.
    """

    ink: int
    alone: float
    until: float
    strength: float = 1.0
    missing: float = 0.0
    density: float = LIGHT_SHARE
    bend: float = 1.0

    def share(self, nominal: FloatArray) -> FloatArray:
        """What part of the tone it makes at device values of 0 to 1."""
        left: FloatArray = np.clip((self.until - nominal) / (self.until - self.alone), 0.0, 1.0) ** self.bend
        return left


@dataclass(frozen=True, slots=True, eq=False)
class Press:
    """A paper and inks, with one value an ink (inks,) of each of these:

    `strength` is a factor on the solid's ink, `gain` is added to the paper's dot gain at half coverage, `skew` moves
    the gain to the shadows (positive) or the highlights, `missing` is the share of its dots that never come out.
    `light_inks` are those behind a full one that are not as they were: where all is well a tone looks alike, whichever
    of the two inks makes it.
    """

    paper: Paper
    ink_set: InkSet
    strength: FloatArray
    gain: FloatArray
    skew: FloatArray
    missing: FloatArray
    curve: Curve = "parabola"
    technology: Technology = "aqueous pigment"
    light_inks: tuple[LightInk, ...] = ()

    def changed(
        self, ink: int | None = None, *, strength: float = 1.0, gain: float = 0.0, missing: float = 0.0
    ) -> Press:
        """The press with one ink (or all) stronger by a factor, with added gain, with more dots missing."""
        which = np.ones(len(self.ink_set)) if ink is None else np.eye(len(self.ink_set))[ink]
        return replace(
            self,
            strength=self.strength * (1.0 + (strength - 1.0) * which),
            gain=self.gain + gain * which,
            missing=self.missing + missing * which,
        )

    def coverage(self, device: FloatArray) -> FloatArray:
        """Effective coverage 0 to 1 (patches, inks) of device values in percent."""
        nominal = device / 100.0
        gain = self.paper.gain + self.gain
        if self.curve == "parabola":
            gained = nominal + 4.0 * gain * nominal * (1.0 - nominal) * (1.0 + self.skew * (2.0 * nominal - 1.0))
        else:
            power = np.log(np.clip(0.5 - gain, 0.02, 0.98)) / np.log(0.5)
            gained = 1.0 - (1.0 - nominal ** (1.0 + 0.3 * self.skew)) ** power
        covered: FloatArray = np.clip(gained, 0.0, 1.0) * (1.0 - self.missing)
        return covered

    def spectra(self, device: FloatArray, mode: Mode) -> FloatArray:
        """Spectra (patches, bands) of device values (patches, inks) in percent, read under `mode`, without noise."""
        spectra = yule_nielsen(demichel(self.coverage(device)), self.primaries(mode), self.paper.n)
        if not self.light_inks:
            return spectra
        root = spectra ** (1.0 / self.paper.n) + sum(self._off(light, device, mode) for light in self.light_inks)
        changed: FloatArray = np.maximum(root, 1e-3) ** self.paper.n
        return changed

    def _off(self, light: LightInk, device: FloatArray, mode: Mode) -> FloatArray:
        """What is wrong with a light ink adds to the spectra in the root of Yule and Nielsen (patches, bands).

        Its dots are a third state of the paper beside bare and full, as many as make the tone that the press makes.
        """
        others = self.coverage(device)
        own = others[:, light.ink].copy()
        others[:, light.ink] = 0.0
        bare, full, right, wrong = (
            self.primaries(mode, light.ink, amount) ** (1.0 / self.paper.n)
            for amount in (0.0, 1.0, light.density, light.density * light.strength)
        )
        deep, pale = bare[0] - full[0], bare[0] - right[0]
        dots = own * light.share(device[:, light.ink] / 100.0) * float(pale @ deep / (pale @ pale))
        change = demichel(others) @ ((1.0 - light.missing) * wrong + light.missing * bare - right)
        off: FloatArray = np.minimum(dots, 1.0)[:, None] * change
        return off

    def primaries(self, mode: Mode, ink: int | None = None, amount: float = 1.0) -> FloatArray:
        """Spectra (2^inks, bands) of the paper and every overprint of solids; with an `ink`, so much of it on all.

        Inks filter what the paper reflects and what its brightener sends out; the brightener below gets what
        ultraviolet they let through, once.
        """
        carried = overprints(len(self.ink_set))
        if ink is not None:
            carried[:, ink] = float(amount > 0.0)
        layers = laid_down(carried, self.ink_set.trapping) * self.strength * self.paper.uptake
        if ink is not None:
            layers[:, ink] *= amount
        below = self.paper.body()
        inner = filtered(below, layers, self.ink_set)
        passed = np.sqrt(inner / below)
        reached = np.prod(np.array([ink.ultraviolet for ink in self.ink_set.inks]) ** layers, axis=1)
        seen = inner + self.paper.glow(mode) * passed * reached[:, None]
        solids: FloatArray = self.paper.surface + (1.0 - self.paper.surface) * seen
        return solids


def nominal_press(
    rng: np.random.Generator, paper: Paper, ink_set: InkSet, curve: Curve = "parabola", technology: Technology = "latex"
) -> Press:
    """A press as it left its last calibration for this paper: every ink a little its own way."""
    inks = len(ink_set)
    return Press(
        paper=paper,
        ink_set=ink_set,
        strength=rng.normal(1.0, 0.04, inks),
        gain=rng.normal(0.0, 0.015, inks),
        skew=rng.uniform(-0.25, 0.25, inks),
        missing=np.zeros(inks),
        curve=curve,
        technology=technology,
    )
