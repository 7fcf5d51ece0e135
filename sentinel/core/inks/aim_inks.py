"""How the inks of a chart filter light, read off the aim itself: nothing is assumed of any ink, paper or printer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray, Rows
from sentinel.core.inks.channels import band_channels, floor_of, lab_of_channels, roots_of, sharpened_channels

# CIE 1931 colour matching functions at 440 nm (CIE 015), where brighteners shine most
_EMISSION_XYZ = np.array([0.34828, 0.023, 1.74706])


_PEAK_NM, _WIDTH_NM = 440.0, 22.0


@dataclass(frozen=True, slots=True, eq=False)
class PatchLight:
    """`channels` (n, channels), 1.0 the perfect diffuser; `to_xyz` (channels, 3);
    `emission` (channels,) what a brightener adds, of any size."""

    channels: FloatArray
    to_xyz: FloatArray
    emission: FloatArray

    def lab(self, channels: FloatArray) -> FloatArray:
        """Lab (n, 3) of other values in the same channels."""
        return lab_of_channels(channels, self.to_xyz)


def light_of_spectra(reflectance: FloatArray, wavelengths: FloatArray) -> PatchLight:
    """In bands."""
    bands = band_channels(wavelengths)
    return PatchLight(bands.of(reflectance), bands.to_xyz, _bell(wavelengths @ bands.weights))


def light_of_lab(lab: FloatArray) -> PatchLight:
    """Of a file without spectra, in three sharpened channels."""
    sharpened = sharpened_channels()
    return PatchLight(sharpened.of_lab(lab), sharpened.to_xyz, np.maximum(_EMISSION_XYZ @ sharpened.weights, 0.0))


def _bell(wavelengths: FloatArray) -> FloatArray:
    """The shape of a brightener's emission: 1 at its peak, nothing outside 400 to 500 nm.

    Stilbene brighteners of paper shine between 420 and 480 nm with their peak near 440 (common practice, no published
    source for the width).
    """
    shape: FloatArray = np.exp(-0.5 * ((wavelengths - _PEAK_NM) / _WIDTH_NM) ** 2)
    return shape


FULL = 0.995
USUAL_GAIN = 0.15
"""Of an ink that has no tone scale in the chart, where no other ink has one: dot gain at 50 % (common practice)."""

AIM_FLOOR_SHARE = 0.55
"""Of the darkest light of the aim, this share is taken to come back from the surface, however much ink lies there."""

LIGHT_DENSITY = 0.3
"""Part of a full ink's density that its light one has: a quarter to a third (common practice, no published source)."""

_LEAST_ROOT = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class AimInk:
    """`coverage` (n,) 0 to 1 in every patch, `amount` (n,) the device value 0 to 1, `root` (channels,) of the solid."""

    name: str
    amount: FloatArray
    coverage: FloatArray
    root: FloatArray
    scale_amounts: FloatArray
    scale_coverages: FloatArray

    def filter(self, coverage: FloatArray, strength: float = 1.0) -> FloatArray:
        """The root of what the ink lets through, (n, channels); `strength` is its density as a factor."""
        passing: FloatArray = 1 - coverage[:, None] * (1 - self.root**strength)
        return passing

    def with_light_ink(self, coverage: FloatArray, more: FloatArray) -> FloatArray:
        """The root of what it lets through where its light ink adds a part `more` (n,) of the tone, negative where it
        lacks, (n, channels): the same dye, thinner, so its colour is purer than that of fewer dots of the full one."""
        pale, deep = 1 - self.root**LIGHT_DENSITY, 1 - self.root
        dots = coverage * float(pale @ deep / max(float(pale @ pale), 1e-9))
        passing: FloatArray = self.filter(coverage) - (np.minimum(dots, 1.0) * more)[:, None] * pale
        return np.maximum(passing, _LEAST_ROOT)

    def coverage_at(self, amount: FloatArray) -> FloatArray:
        """The coverage that the aim shows for a device value."""
        return np.interp(amount, self.scale_amounts, self.scale_coverages)


@dataclass(frozen=True, slots=True, eq=False)
class AimInkModel:
    """`paper` and `floor` (channels,): no ink, and what returns however much ink lies there."""

    paper: FloatArray
    floor: FloatArray
    inks: tuple[AimInk, ...]


def aim_ink_model(
    names: tuple[str, ...],
    device: FloatArray,
    channels: FloatArray,
    is_paper: np.ndarray[tuple[int], np.dtype[np.bool_]],
) -> AimInkModel:
    """From device values (n, inks) in percent and the aim's light (n, channels)."""
    amounts = np.clip(np.nan_to_num(device) / 100.0, 0.0, 1.0)
    paper = channels[is_paper].mean(axis=0) if is_paper.any() else np.percentile(channels, 98, axis=0)
    floor = floor_of(channels, paper, AIM_FLOOR_SHARE)
    roots = roots_of(channels, paper, floor)
    columns = [amounts[:, column] for column in range(len(names))]
    alone = [np.flatnonzero((own > 0) & ((amounts > 0).sum(axis=1) == 1)) for own in columns]
    solids = _solids(amounts, roots, columns, alone)
    scales = [_scale(own[rows], roots[rows], solid) for own, rows, solid in zip(columns, alone, solids, strict=True)]
    gains = [float(np.interp(0.5, *scale)) - 0.5 for scale in scales if _is_told(scale)]
    usual = _parabola(float(np.median(gains)) if gains else USUAL_GAIN)
    inks = tuple(
        AimInk(name, own, np.interp(own, *scale), solid, *scale)
        for name, own, solid, scale in zip(
            names, columns, solids, [scale if _is_told(scale) else usual for scale in scales], strict=True
        )
    )
    return AimInkModel(paper, floor, inks)


def _solids(amounts: FloatArray, roots: FloatArray, columns: list[FloatArray], alone: list[Rows]) -> list[FloatArray]:
    """The root of every ink's solid: from its own tones, else from all patches it is in."""
    own = [_solid(column[rows], roots[rows]) for column, rows in zip(columns, alone, strict=True)]
    if all(solid is not None for solid in own):
        return [solid for solid in own if solid is not None]
    mixed = _regressed(amounts, roots)
    return [mixed[ink] if solid is None else solid for ink, solid in enumerate(own)]


def _solid(amount: FloatArray, roots: FloatArray) -> FloatArray | None:
    """The solid's root: read, or continued from the darkest tint; None without any tint worth it."""
    if not len(amount) or amount.max() < 0.35:
        return None
    top = amount >= amount.max() - 1e-9
    read = roots[top].mean(axis=0)
    if amount.max() >= FULL:
        return np.asarray(np.clip(read, _LEAST_ROOT, None))
    a = float(amount.max())
    coverage = min(1.0, a + 4 * USUAL_GAIN * a * (1 - a))
    return np.asarray(np.clip(1 - (1 - read) / coverage, _LEAST_ROOT, None))


def _regressed(amounts: FloatArray, roots: FloatArray) -> FloatArray:
    """Solids from every patch, where an ink never stands alone: logarithms add up. (inks, channels)."""
    coverage = amounts + 4 * USUAL_GAIN * amounts * (1 - amounts)
    gram = coverage.T @ coverage + 1e-3 * len(coverage) * np.eye(coverage.shape[1])
    logs = np.linalg.solve(gram, coverage.T @ np.log(roots))
    return np.asarray(np.exp(np.clip(logs, np.log(_LEAST_ROOT), 0.0)))


def _scale(amount: FloatArray, roots: FloatArray, solid: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Device values and coverages of an ink's tone scale with its ends, rising."""
    weight = (1 - solid) ** 2
    coverage = (1 - roots) @ (1 - solid) / max(float(weight.sum()), 1e-9)
    x = np.concatenate([[0.0], amount, [1.0]])
    y = np.concatenate([[0.0], coverage, [1.0]])
    unique, place = np.unique(np.round(x, 4), return_inverse=True)
    means = np.bincount(place, y) / np.bincount(place)
    means[0], means[-1] = 0.0, 1.0
    return unique, np.clip(np.maximum.accumulate(means), 0.0, 1.0)


def _is_told(scale: tuple[FloatArray, FloatArray]) -> bool:
    """Whether the chart has two tints of the ink or more beside the ends."""
    return len(scale[0]) > 3


def _parabola(gain: float) -> tuple[FloatArray, FloatArray]:
    a = np.linspace(0.0, 1.0, 21)
    return a, np.clip(a + 4 * gain * a * (1 - a), 0.0, 1.0)
