"""Which patches of published charts belong to which group, told without the program.

Paper, solids and overprints of two and three are ids of the ISO 12642-2 layout, which both files have. What amounts
alone decide is written here anew, one patch at a time, from the words of the manual. Neutral is what lies within the
grey tolerance of ISO 12647-2:2013 (from memory) of the neutral by its own formula, and is not what lies three times as
far; skin is what a published chart's two skin colours resemble, and is not what has no warm hue. Between the two
either is right, so these labels prove the kind of patch and not the edge, which is common practice of ours.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import colour
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

PAPER = (1, 1367)
SOLIDS = {"C": (73, 1287), "M": (9, 1307), "Y": (649, 1327), "K": (1260, 1347)}
SECONDARIES = {"R": 657, "G": 721, "B": 81}
TERTIARY = 729
GREY_TOLERANCE = 3.0
"""Of delta Ch (ISO 12647-2:2013, from memory)."""
CLEARLY = 3
"""So many times the tolerance is a tint of a hue, not a grey with a cast."""
RESEMBLES = 6.0
"""Delta E*ab from a published skin within which a patch is one."""
WARM = (15.0, 95.0)
"""Hue angles in degrees beyond which nothing is skin."""


class Label(NamedTuple):
    """Which rows are in a group (n,), and which of them are told at all (n,)."""

    inside: Mask
    told: Mask


def labels(ids: list[int], device: FloatArray, lab: FloatArray) -> dict[str, Label]:
    """The groups of a file by name, over rows of these ids, CMYK amounts (n, 4) and L*, a*, b* (n, 3)."""
    told = np.ones(len(ids), dtype=bool)
    by_id = {
        "paper": PAPER,
        "solids": [number for numbers in SOLIDS.values() for number in numbers],
        "secondaries": list(SECONDARIES.values()),
        "tertiaries": [TERTIARY],
        **{f"solid_{ink}": numbers for ink, numbers in SOLIDS.items()},
    }
    parts = [set(_by_amounts(*amounts)) for amounts in device.tolist()]
    found = {group: Label(np.isin(ids, numbers), told) for group, numbers in by_id.items()}
    for group in sorted(set().union(*parts)):
        found[group] = Label(np.array([group in own for own in parts]), told)
    return found | {"greys": _neutral(device, lab, found["paper"].inside), "skin": _skin(device, lab)}


def _neutral(device: FloatArray, lab: FloatArray, paper: Mask) -> Label:
    """By the formula of ISO 12647-2:2013: a* and b* of the paper fade to 0.15 of theirs at the black."""
    white, black = lab[paper].mean(axis=0), lab[(device == [0, 0, 0, 100]).all(axis=1)].mean(axis=0)
    fade = 1 - 0.85 * (white[0] - lab[:, 0]) / (white[0] - black[0])
    off = np.hypot(lab[:, 1] - white[1] * fade, lab[:, 2] - white[2] * fade)
    composed = np.array([min(c, m, y) > 0 and k == 0 for c, m, y, k in device.tolist()])
    inside = composed & (off <= GREY_TOLERANCE)
    return Label(inside, inside | ~composed | (off >= CLEARLY * GREY_TOLERANCE))


def _skin(device: FloatArray, lab: FloatArray) -> Label:
    """By the dark and the light skin of a published chart's spectra (Ohta 1997, by colour-science) under D50."""
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    mixed = np.array([np.count_nonzero(amounts) >= 2 for amounts in device])
    like = np.zeros(len(device), dtype=bool)
    for name in ("dark skin", "light skin"):
        sd = colour.SDS_COLOURCHECKERS["cc_ohta"][name]
        tone = colour.XYZ_to_Lab(colour.sd_to_XYZ(sd, illuminant=colour.SDS_ILLUMINANTS["D50"]) / 100, white)
        like |= np.linalg.norm(lab - tone, axis=1) <= RESEMBLES
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1]))
    return Label(like & mixed, (like & mixed) | ~mixed | (hue < WARM[0]) | (hue > WARM[1]))


def _by_amounts(c: float, m: float, y: float, k: float) -> Iterator[str]:
    yield "all"
    laid = [(ink, amount) for ink, amount in zip("CMYK", (c, m, y, k), strict=True) if amount > 0]
    if len(laid) == 1 and laid[0][1] < 100:
        yield from ("tones", f"tones_{laid[0][0]}")
    if len(laid) > 1 and all(amount == 100 for _, amount in laid):
        yield "overprints"
    if c + m + y + k >= 250 or k >= 80:
        yield "dark"
    if laid and max(amount for _, amount in laid) <= 20:
        yield "highlights"
    if k == 0 and len(laid) in (1, 2) and any(amount == 100 for _, amount in laid):
        yield "surface"
