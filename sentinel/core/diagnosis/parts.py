"""Which part of a sheet each patch belongs to, from its device values and the aim's colour, and what goes smoothly with
them."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, IntArray
from sentinel.core.diagnosis.field import shares_of
from sentinel.core.diagnosis.movement import SheetPart, Tone, What
from sentinel.core.scoring.groups import FULL_INK, FULL_RGB, NEUTRAL, exact_ends, laid_inks

QUARTER_MID, MID_THREE_QUARTER = 37.5, 62.5
"""Per cent of ink between the quarter, half and three-quarter tones: the light, mid and dark of a scale."""
DARK_BELOW, LIGHT_FROM = 33.0, 66.0
"""L* of the aim: the same of neutrals and of ranges of hue."""
A_SCALE, A_RANGE = 3, 12
"""Patches of a scale, and of a range of hues, from which it is told in light, mid and dark."""
CORNER = 0.25
"""Share of a channel's range within which a patch is at a corner of device space."""
GREY_AXIS = 0.02
"""Share of the range by which R, G and B of a grey may differ."""

HUES = ("reds", "yellows", "greens", "cyans", "blues", "magentas")
HUES_FROM = np.array([15.0, 65.0, 125.0, 195.0, 265.0, 325.0])
"""Hue angle of the aim, in degrees, from which each begins: half way between those of usual inks and their overprints
(common practice, no published source)."""

_KINDS = (What.PAPER, What.SOLID, What.TONES, What.NEUTRALS, What.OVERPRINT, What.CORNER, What.COLOURS)
_PAPER, _SOLID, _SCALE, _NEUTRALS, _OVERPRINT, _CORNER, _COLOURS = range(len(_KINDS))
_TONES = (None, Tone.LIGHT, Tone.MID, Tone.DARK)
_CORNERS = {"": "white", "C": "C", "M": "M", "Y": "Y", "MY": "R", "CY": "G", "CM": "B", "CMY": "K"}
"""By the inks laid there in full; of an RGB chart those that take its light away."""


class Parted(NamedTuple):
    """The parts there are, and of each patch (n,) the number of its own."""

    parts: tuple[SheetPart, ...]
    of: IntArray

    def whole(self) -> Parted:
        """Scales and ranges in one part each, not in light, mid and dark."""
        bare = [replace(part, tone=None) for part in self.parts]
        parts = tuple(dict.fromkeys(bare))
        return Parted(parts, np.array([parts.index(each) for each in bare])[self.of])


class _Keys(NamedTuple):
    """Of each patch: which of `_KINDS`, which one of those, which of `_TONES`; each (n,)."""

    kind: IntArray
    number: IntArray
    tone: IntArray

    def put(self, rows: BoolArray, kind: int, number: IntArray | int = 0, tone: IntArray | int = 0) -> None:
        """These rows belong there."""
        for own, value in zip(self, (kind, number, tone), strict=True):
            own[rows] = value[rows] if isinstance(value, np.ndarray) else value


def parts_of(
    inks: tuple[str, ...], device: FloatArray, paper: BoolArray, aim: FloatArray, *, ink_space: bool
) -> Parted:
    """Every patch in one part. `device` (n, inks) in percent of ink or 0 to 255 of light, `paper` (n,), `aim` (n, 3).

    A chart in ink space has solids, tone scales and overprints, another one the corners of device space and its grey
    axis. What is in none of them, and a chart without device values, has neutrals and ranges of hue.
    """
    keys = _Keys(np.full(len(aim), _COLOURS), _hues(aim), _by_lightness(aim))
    grey = near_grey(aim)
    if not inks or np.isnan(device).any():
        keys.put(grey, _NEUTRALS, tone=keys.tone.copy())
    elif ink_space:
        _by_inks(keys, exact_ends(device, FULL_INK), grey)
    else:
        _by_corners(keys, inks, device, grey)
    keys.put(paper, _PAPER)
    names = laid_inks(inks)
    order, of = np.unique(_numbered(keys, 2 ** len(inks)), return_inverse=True)
    first = np.zeros(len(order), dtype=np.intp)
    first[of[::-1]] = np.arange(len(of))[::-1]
    return Parted(tuple(_part(inks, names, *(int(own[row]) for own in keys)) for row in first), of)


def _numbered(keys: _Keys, most: int) -> IntArray:
    """One number a part; scales and ranges of few patches are not cut into light, mid and dark."""
    whole = keys.kind * max(most, len(HUES)) + keys.number
    counts = np.bincount(whole)[whole]
    keys.tone[counts < np.where(keys.kind == _COLOURS, A_RANGE, A_SCALE)] = 0
    return np.asarray(whole * len(_TONES) + keys.tone)


def _by_inks(keys: _Keys, device: FloatArray, grey: BoolArray) -> None:
    used, full = (device > 0).sum(axis=1), (device >= FULL_INK).sum(axis=1)
    most = device.max(axis=1)
    overprint = (used > 1) & (full == used)
    keys.put((used > 1) & grey & ~overprint, _NEUTRALS, tone=keys.tone.copy())
    keys.put((used == 1) & (full == 1), _SOLID, device.argmax(axis=1))
    tone = 1 + (most > QUARTER_MID).astype(np.intp) + (most > MID_THREE_QUARTER)
    keys.put((used == 1) & (full == 0), _SCALE, device.argmax(axis=1), tone)
    keys.put(overprint, _OVERPRINT, np.where(used == 2, _laid(device >= FULL_INK), 0))


def _by_corners(keys: _Keys, inks: tuple[str, ...], device: FloatArray, grey: BoolArray) -> None:
    of_light = laid_inks(inks) != inks
    share = shares_of(inks, device)
    if of_light:
        grey = (np.ptp(share, axis=1) <= GREY_AXIS) & (share.min(axis=1) < 1 - GREY_AXIS)
    nearest = np.round(share)
    corner = (abs(share - nearest) <= CORNER).all(axis=1)
    keys.put(grey, _NEUTRALS, tone=keys.tone.copy())
    keys.put(corner & ~grey, _CORNER, _laid(nearest > 0))


def _laid(full: BoolArray) -> IntArray:
    """The inks as bits of a number."""
    return np.asarray(full @ (1 << np.arange(full.shape[1], dtype=np.intp)))


def _hues(aim: FloatArray) -> IntArray:
    angle = np.degrees(np.arctan2(aim[:, 2], aim[:, 1])) % 360
    return np.asarray((np.searchsorted(HUES_FROM, angle, side="right") - 1) % len(HUES))


def _by_lightness(aim: FloatArray) -> IntArray:
    return 1 + (aim[:, 0] < LIGHT_FROM).astype(np.intp) + (aim[:, 0] < DARK_BELOW)


def near_grey(aim: FloatArray) -> BoolArray:
    """Near the line from the lightest colour of the aim to no colour at all."""
    lightest = aim[aim[:, 0].argmax()]
    line = aim[:, :1] / max(float(lightest[0]), 1.0) * lightest[1:]
    return np.asarray(np.hypot(*(aim[:, 1:] - line).T) <= NEUTRAL)


def _part(inks: tuple[str, ...], names: tuple[str, ...], kind: int, number: int, tone: int) -> SheetPart:
    what = _KINDS[kind]
    if kind in (_SOLID, _SCALE):
        return SheetPart(what, ink=inks[number], tone=_TONES[tone])
    if kind in (_OVERPRINT, _CORNER):
        laid = [ink for place, ink in enumerate(names) if number >> place & 1]
        if kind == _OVERPRINT:
            return SheetPart(what, ink="+".join(laid) or None)
        return SheetPart(what, region=_CORNERS.get("".join(sorted(laid)), "K" if "K" in laid else "+".join(laid)))
    return SheetPart(what, region=HUES[number] if kind == _COLOURS else None, tone=_TONES[tone])


def smooth_colours(inks: tuple[str, ...], device: FloatArray, aim: FloatArray) -> FloatArray:
    """What a smooth function of colour is made of: the aim, and of each ink its amount and what a tone curve does to
    it; (n, p), columns of length 1 at right angles."""
    found = np.column_stack([np.ones(len(aim)), aim / 100])
    if inks and not np.isnan(device).any():
        share = device / (FULL_RGB if laid_inks(inks) != inks else FULL_INK)
        rich = np.column_stack([found, share, share * (1 - share)])
        found = rich if 4 * rich.shape[1] <= len(aim) else found
    gram = found.T @ found + 1e-9 * len(found) * np.eye(found.shape[1])
    even: FloatArray = found @ np.linalg.inv(np.linalg.cholesky(gram)).T
    return even


def without(colours: FloatArray, values: FloatArray) -> FloatArray:
    """What is left of values (n, q) when all that goes smoothly with these `smooth_colours` is taken out."""
    left: FloatArray = values - colours @ (colours.T @ values)
    return left
