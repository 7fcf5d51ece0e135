"""Which patches of published charts belong to which group, told without the program.

Paper, solids and overprints of two and three are ids of the ISO 12642-2 layout, which both files have. Greys and skin
were judged row by row, as a colour lead would, from the printed amounts and L*, a*, b* in drawn order, by a reader who
knew neither the program nor its tolerances (`tests/data/published/labels.toml`); where reasonable people differ, and
where nobody judged, either is right. What amounts alone decide is written here anew, one patch at a time, from the
words of the manual.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

JUDGED = Path(__file__).parents[1] / "data" / "published" / "labels.toml"
PAPER = (1, 1367)
SOLIDS = {"C": (73, 1287), "M": (9, 1307), "Y": (649, 1327), "K": (1260, 1347)}
SECONDARIES = {"R": 657, "G": 721, "B": 81}
TERTIARY = 729


class Label(NamedTuple):
    """Which rows are in a group (n,), and which of them are told at all (n,)."""

    inside: Mask
    told: Mask


def labels(name: str, ids: list[int], device: FloatArray) -> dict[str, Label]:
    """The groups of a file by name, over rows of these ids and CMYK amounts (n, 4)."""
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
    composed = (device[:, :3] > 0).all(axis=1) & (device[:, 3] == 0)
    for group, judged in tomllib.loads(JUDGED.read_text(encoding="utf-8"))[name].items():
        shown = np.isin(ids, judged["shown"])
        free = np.isin(ids, judged["borderline"]) | (~shown & (group == "skin"))
        found[group] = Label(np.isin(ids, judged["yes"]), ~free)
        assert shown[found[group].inside].all()
        assert group == "skin" or not (shown & ~composed).any()
    return found


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
