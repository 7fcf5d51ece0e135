"""Two readings of one sheet, some hours apart: what moved in between, by the parts that drying may move."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sentinel.core.arrays import FloatArray, IntArray, unpacked
from sentinel.core.diagnosis.design_matrix import MEDIAN_LENGTH, robust_fit
from sentinel.core.diagnosis.diagnose import LARGE, aim_model
from sentinel.core.diagnosis.drying import DryingPair, InkMove, MoveSize, ink_moves
from sentinel.core.diagnosis.healthy_sheet import tempering, trust
from sentinel.core.diagnosis.sheet import DiagnosisSubject
from sentinel.core.scoring.groups import groups
from sentinel.core.scoring.matching import kept_lab

TWO_SHEETS, OF_MOVEMENT = 0.35, 0.15
"""ΔE00 of one component of a patch, and share of the mean movement, beyond which two readings stray apart as those of
two sheets do: patches of one sheet stay where they are (common practice, no published source)."""

BESIDE = 0.5
"""ΔE00 of a departure that drying does not make, such as missing dots."""

MOST_PATCHES = 300
"""More tell nothing new: neighbours stray alike (`healthy_sheet.INDEPENDENT`)."""

SHORTEST = 0.25
"""Hours between two readings from which drying shows in them."""


@dataclass(frozen=True, slots=True)
class ReadTwice:
    """A chart read `first` and `second` hours after printing. `device` (n, inks) and the two readings (n, 4: L*, a*, b*
    and the spread of replicates) are packed as they are kept (`arrays.packed`)."""

    condition: str
    substrate: str
    inks: tuple[str, ...]
    ink_space: bool
    first: float
    second: float
    device: bytes
    first_values: bytes
    second_values: bytes


def drying_pair(read: ReadTwice) -> DryingPair | None:
    """What moved; None where the readings are too close in time, or stray apart as those of two sheets."""
    if read.second - read.first < SHORTEST:
        return None
    changes = _changes(read.inks, read.ink_space, read.device, read.first_values, read.second_values)
    if changes is None:
        return None
    return DryingPair(read.condition, read.substrate, read.first, read.second, changes)


@lru_cache(maxsize=64)  # as dear as half a diagnosis, and asked for at every check of a house
def _changes(
    inks: tuple[str, ...], ink_space: bool, packed_device: bytes, first_values: bytes, second_values: bytes
) -> Mapping[InkMove, MoveSize] | None:
    whole = unpacked(packed_device, len(inks))
    first, second = map(kept_lab, (first_values, second_values))
    rows = _fewer(np.flatnonzero(~(np.isnan(first) | np.isnan(second)).any(axis=1)), whole)
    if not len(rows):
        return None
    drier, device = second[rows], whole[rows]
    paper = groups(inks, device, drier).get("paper", np.zeros(len(rows), dtype=bool))
    in_ink_space = ink_space and set(inks) not in (set(), {"R", "G", "B"}) and not np.isnan(device).any()
    # the drier reading is the aim, so that the model stands on what the print is
    model = aim_model(DiagnosisSubject(inks, device, in_ink_space, paper, drier, first[rows]))
    design = model.design()
    wetter = model.visual(first[rows] - drier)
    places = ink_moves(design, inks)
    sizes = np.full(len(design.departures), BESIDE)
    sizes[list(places.values())] = LARGE
    counts = trust(design) * tempering(len(rows))
    fit = robust_fit(design.columns, wetter, sizes, counts)
    sigma = float(np.median(fit.lengths)) / MEDIAN_LENGTH
    if sigma > max(TWO_SHEETS, OF_MOVEMENT * float(np.linalg.norm(wetter, axis=1).mean())):
        return None
    flat = design.columns.reshape(-1, design.columns.shape[2])
    weighted = flat * np.repeat(fit.weights * counts, 3)[:, None]
    covariance = np.linalg.inv(flat.T @ weighted / max(sigma, LEAST_SIGMA) ** 2 + np.diag(1 / sizes**2))
    errors = np.sqrt(np.diag(covariance))
    return {move: MoveSize(-float(fit.theta[place]), float(errors[place])) for move, place in places.items()}


LEAST_SIGMA = 0.05
"""ΔE00 of one component of one patch between two readings: no instrument repeats better."""


def _fewer(rows: IntArray, device: FloatArray) -> IntArray:
    """All of a small chart; of a large one the patches of one channel or none, and others evenly."""
    if len(rows) <= MOST_PATCHES:
        return rows
    used = (np.nan_to_num(device[rows]) > 0).sum(axis=1)
    few = rows[used <= 1][: MOST_PATCHES // 2]
    others = np.setdiff1d(rows, few)
    spread = others[np.linspace(0, len(others) - 1, MOST_PATCHES - len(few)).astype(np.intp)]
    return np.sort(np.concatenate([few, spread]))
