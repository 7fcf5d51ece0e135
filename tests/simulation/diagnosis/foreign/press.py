"""What all foreign prints share: amounts of hidden inks to light, how a sheet strays, the scene that a fault changes.

Light is (patches, channels) with 1.0 the perfect diffuser: 36 bands of 10 nm from 380 nm, or X, Y, Z under D50 where
nothing finer is known. Amounts are 0 to 1.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np

from demo.simulator.spectra import bell
from demo.simulator.spectra import lab_of as lab_of_spectra
from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance

BANDS = 36
BAND_NM: FloatArray = np.arange(380.0, 731.0, 10.0)
GLARE = 0.0025
"""Light that the surface sends back before it meets paper or ink; a paper's shade leaves it alone."""
DARKEST = 2e-4

UV_TAKEN = {"C": 0.6, "M": 0.5, "Y": 0.7, "K": 0.95}
"""Part of the ultraviolet that a solid takes; other inks 0.55. Made up."""


class Press(Protocol):
    """Inks on paper. `paper` (channels,) is the bare stock."""

    @property
    def inks(self) -> tuple[str, ...]:
        """Their names."""

    @property
    def paper(self) -> FloatArray:
        """Light of the bare stock: (channels,)."""

    def light(self, amounts: FloatArray, strength: FloatArray, stray: FloatArray | None = None) -> FloatArray:
        """Light (patches, channels) of amounts (patches, inks); `strength` (inks,) is 1 where all is well, `stray`
        (patches, inks) the part by which each patch's ink is stronger, a few hundredths."""


def lab_of(light: FloatArray) -> FloatArray:
    """Lab (patches, 3) for D50 and 2 degrees."""
    return lab_from_xyz(100.0 * light, D50_ASTM_E308) if light.shape[1] == 3 else lab_of_spectra(light)


def bump(amounts: FloatArray) -> FloatArray:
    """What a dot gains where it can: 0 at paper and solid, 1 half way."""
    inside: FloatArray = 4.0 * np.clip(amounts, 0.0, 1.0) * (1.0 - np.clip(amounts, 0.0, 1.0))
    return inside


def brightener_light(channels: int) -> FloatArray:
    """What a brightener sends out for a size of 1, its band at 438 nm: (channels,)."""
    band = bell(438.0, 14.0, 24.0)
    return band if channels == BANDS else xyz_from_reflectance(band[None], BAND_NM)[0] / 100.0


@dataclass(frozen=True, eq=False)
class Stray:
    """How a sheet strays patch by patch: part of each ink's strength (patches, inks), gain of its dots (patches, inks),
    part of all light (patches,)."""

    strength: FloatArray
    gain: FloatArray
    level: FloatArray

    def times(self, size: float) -> Stray:
        """The same, larger or smaller."""
        return Stray(size * self.strength, size * self.gain, size * self.level)


@dataclass(frozen=True, eq=False)
class Distortion:
    """A smooth change that no ink, paper or light makes: each term is a power of one ink's
    amount times a power of what another leaves bare, and `shape` (terms, channels) what it does to the logarithm of
    light; bare stock stays."""

    inks: tuple[tuple[int, int], ...]
    powers: tuple[tuple[float, float], ...]
    shape: FloatArray

    def logarithm(self, amounts: FloatArray) -> FloatArray:
        """Of the factor on light: (patches, channels)."""
        inside = np.clip(amounts, 0.0, 1.0)
        terms = [
            inside[:, first] ** power * (1.0 - inside[:, second]) ** other
            for (first, second), (power, other) in zip(self.inks, self.powers, strict=True)
        ]
        told: FloatArray = np.stack(terms, axis=1) @ self.shape
        return told


@dataclass(frozen=True, eq=False)
class Scene:
    """A press as it prints and is read: `strength` (inks,) factors, `gain` and `skew` (inks,) of tone curves, `tint`
    (channels,) factors on the paper with all that lies on it, `brightener` more light of one, `scale` of the reading.
    `drying` (inks,) is the part by which ink reads stronger (or weaker) while it is wet."""

    press: Press
    strength: FloatArray
    gain: FloatArray
    skew: FloatArray
    tint: FloatArray
    drying: FloatArray
    brightener: float = 0.0
    scale: float = 1.0
    distortions: tuple[Distortion, ...] = field(default=())

    def light(self, amounts: FloatArray, stray: Stray | None = None) -> FloatArray:
        """Light (patches, channels) of amounts (patches, inks)."""
        laid = amounts + self.gain * bump(amounts) + self.skew * bump(amounts) * (1.0 - 2.0 * amounts)
        if stray is not None:
            laid = laid + stray.gain * bump(amounts)
        laid = np.maximum(laid, 0.0)
        light = self.press.light(laid, self.strength, None if stray is None else stray.strength)
        for each in self.distortions:
            light = light * np.exp(each.logarithm(laid))
        light = GLARE + (light - GLARE) * self.tint
        if stray is not None:
            light = light * (1.0 + stray.level[:, None])
        if self.brightener:
            light = light + self.brightener * self._shining(laid, light)
        return np.maximum(self.scale * light, DARKEST)

    def _shining(self, amounts: FloatArray, light: FloatArray) -> FloatArray:
        """Ultraviolet passes the inks on its way in, what it makes passes them on its way out."""
        taken = np.array([UV_TAKEN.get(ink, 0.55) for ink in self.press.inks])
        ultraviolet = np.prod(1.0 - np.clip(amounts, 0.0, 1.0) * taken, axis=1)[:, None]
        emission = brightener_light(light.shape[1])
        passing = np.clip(light / (self.press.paper * self.tint), 0.0, 1.0)
        shining: FloatArray = ultraviolet * emission * passing
        return shining


def plain_scene(press: Press, drying: FloatArray) -> Scene:
    """The press with nothing changed."""
    inks = len(press.inks)
    zero = np.zeros(inks)
    return Scene(press, np.ones(inks), zero, zero, np.ones(len(press.paper)), drying)


# How far a unit of stray goes in each of its parts: only their balance counts, `strayed` sets the size
STRENGTH, GAIN, LEVEL = 0.02, 0.008, 0.0015
WAVES = tuple((across, along) for across in range(3) for along in range(3) if across or along)


@dataclass(frozen=True, slots=True)
class Shares:
    """Parts of the variance of a stray: each ink for the whole sheet, a smooth field over it, single patches."""

    inks: float
    field: float
    patches: float


def _waves(places: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Angles (waves, patches) of the field's waves at places (patches, 2), and their variances (waves,), 1 in all."""
    turns = np.array([0.5 * np.pi * (across * places[:, 0] + along * places[:, 1]) for across, along in WAVES])
    weights = np.array([1.0 / (across + along) ** 2 for across, along in WAVES])
    return turns, weights / weights.sum()


def smooth_field(rng: np.random.Generator, places: FloatArray) -> FloatArray:
    """A stationary smooth field of variance 1 over places (patches, 2) of -1 to 1: (patches,)."""
    turns, weights = _waves(places)
    cosine, sine = np.sqrt(weights) * rng.standard_normal((2, len(WAVES)))
    field: FloatArray = cosine @ np.cos(turns) + sine @ np.sin(turns)
    return field


def stray_covariance(places: FloatArray, shares: Shares) -> FloatArray:
    """Of each part of a stray of size 1, patch with patch: (patches, patches)."""
    turns, weights = _waves(places)
    field = np.einsum("w,wpq->pq", weights, np.cos(turns[:, :, None] - turns[:, None]))
    covariance: FloatArray = shares.inks + shares.field * field + shares.patches * np.eye(len(places))
    return covariance


def drawn_stray(rng: np.random.Generator, places: FloatArray, inks: int, shares: Shares) -> Stray:
    """A stray of no particular size for a sheet with patches at `places` (patches, 2)."""

    def mixed() -> FloatArray:
        field = np.sqrt(shares.field) * smooth_field(rng, places) + np.sqrt(shares.inks) * rng.standard_normal()
        alone: FloatArray = field + np.sqrt(shares.patches) * rng.standard_normal(len(places))
        return alone

    strength = np.stack([mixed() for _ in range(inks)], axis=1)
    gain = np.stack([mixed() for _ in range(inks)], axis=1)
    return Stray(STRENGTH * strength, GAIN * gain, LEVEL * mixed())


def stray_size(scene: Scene, amounts: FloatArray, stray: Stray, mean_de00: float) -> float:
    """By how much the stray is to be taken so that its sheet differs from the scene's print by this mean ΔE00."""
    still, size = lab_of(scene.light(amounts)), 1.0
    for _ in range(3):
        found = float(de00(still, lab_of(scene.light(amounts, stray.times(size)))).mean())
        if abs(found - mean_de00) < 0.03 * mean_de00:
            break
        size *= mean_de00 / found
    return size


def stronger(scene: Scene, by: FloatArray) -> Scene:
    """The scene with inks stronger by these parts of themselves (inks,)."""
    return replace(scene, strength=scene.strength * (1.0 + by))


def curved(scene: Scene, gain: FloatArray, skew: FloatArray | float = 0.0) -> Scene:
    """The scene with tone curves that much heavier half way (inks,), and by `skew` more so in the light half."""
    return replace(scene, gain=scene.gain + gain, skew=scene.skew + skew)
