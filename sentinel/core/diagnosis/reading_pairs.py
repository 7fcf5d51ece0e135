"""Two readings of one sheet, some hours apart: what moved in between, by the parts that drying may move."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray, IntArray
from sentinel.core.diagnosis.design_matrix import MEDIAN_LENGTH, robust_fit
from sentinel.core.diagnosis.diagnose import LARGE, aim_model
from sentinel.core.diagnosis.drying import Change, DryingPair, InkMove, ink_moves
from sentinel.core.diagnosis.explanations import tempering, trust
from sentinel.core.diagnosis.sheet import DiagnosisSubject
from sentinel.core.scoring.groups import groups

TWO_SHEETS, OF_MOVEMENT = 0.35, 0.15
"""ΔE00 of one component of a patch, and share of the mean movement, beyond which two readings stray apart as those of
two sheets do: patches of one sheet stay where they are (common practice, no published source)."""

BESIDE = 0.5
"""ΔE00 of a departure that drying does not make, such as missing dots."""

MOST_PATCHES = 300
"""More tell nothing new: neighbours stray alike (`explanations.INDEPENDENT`)."""

SHORTEST = 0.25
"""Hours between two readings from which drying shows in them."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadTwice:
    """A chart of n patches, `device` (n, inks), read `first` and `second` hours after printing as Lab (n, 3) each."""

    condition: str
    substrate: str
    inks: tuple[str, ...]
    device: FloatArray
    ink_space: bool
    first: float
    second: float
    first_lab: FloatArray
    second_lab: FloatArray


def drying_pair(read: ReadTwice) -> DryingPair | None:
    """What moved; None where the readings are too close in time, or stray apart as those of two sheets."""
    if read.second - read.first < SHORTEST:
        return None
    changes = _changes(read)
    if changes is None:
        return None
    return DryingPair(read.condition, read.substrate, read.first, read.second, changes)


def _changes(read: ReadTwice) -> dict[InkMove, Change] | None:
    known = ~(np.isnan(read.first_lab) | np.isnan(read.second_lab)).any(axis=1)
    rows = _fewer(np.flatnonzero(known), read.device)
    if not len(rows):
        return None
    drier, device = read.second_lab[rows], read.device[rows]
    paper = groups(read.inks, device, drier).get("paper", np.zeros(len(rows), dtype=bool))
    in_ink_space = read.ink_space and set(read.inks) not in (set(), {"R", "G", "B"}) and not np.isnan(device).any()
    # the drier reading is the aim, so that the model stands on what the print is
    model = aim_model(DiagnosisSubject(read.inks, device, in_ink_space, paper, drier, read.first_lab[rows]))
    design = model.design()
    wetter = model.visual(read.first_lab[rows] - drier)
    places = ink_moves(design, read.inks)
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
    return {move: Change(-float(fit.theta[place]), float(errors[place])) for move, place in places.items()}


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
