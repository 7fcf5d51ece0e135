"""How two instruments differ that read the same sheets, and the correction from one to the other, as information.

Nothing here changes a reading or a verdict. What a correction is worth is told on patches, or sheets, that it was
not made from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, IntArray
from sentinel.core.colour.difference import de00, scale_around
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz, xyz_from_lab
from sentinel.core.diagnosis.design_matrix import robust_fit
from sentinel.core.diagnosis.movement import NINETY
from sentinel.core.diagnosis.parts import DARK_BELOW, near_grey
from sentinel.core.scoring.metrics import percentile

FEWEST = 20
"""Patches below which nothing is told."""
SAME_SHEET, PERHAPS_SAME = 1.0, 0.4
"""Mean ΔE00 left after the correction beyond which two readings are not of one sheet, and from which that is doubtful:
a sheet and the next differ by 0.3 to 0.6, the same sheet read again by 0.1 to 0.3 (common practice, from memory, no
published source)."""

USUAL_ONE_MODEL, USUAL_TWO_MODELS = 0.5, 1.0
"""Mean ΔE00 to which two instruments of one model agree, and from which those of two models differ, as they usually do
(common practice, from memory, no published source; ISO 13655 fixes how to measure, not how far instruments agree)."""

FOLDS, SHEETS_TO_FOLD = 10, 3
STUDENT_95 = (6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833)
"""Quantiles of Student's t at 0.95 for 1 to 9 degrees of freedom: 90 % to both sides (Student, 1908)."""
OPEN = 1000.0
"""How large a parameter may be, in ΔE00: no bound."""
STEP, STEPS = 0.01, 3
NO_MATTER = 0.02
"""ΔE00 by which one form may leave more than another and still be as good: nobody reads so well."""


class CorrectionForm(StrEnum):
    """What a correction is made of. Codes of the JSON contract."""

    NONE = "none"
    SHIFT = "shift"
    SCALE_AND_ZERO = "scale-and-zero"
    AFFINE = "affine"


@dataclass(frozen=True, slots=True, eq=False)
class PairedReading:
    """One sheet read by both instruments, patch by patch: `first` and `second` are Lab (n, 3); `paper` and `solids`
    (n,) tell those patches, where the chart does."""

    first: FloatArray
    second: FloatArray
    paper: BoolArray
    solids: BoolArray


@dataclass(frozen=True, slots=True)
class RegionAgreement:
    """Differences of the second from the first instrument over the `count` patches of a region.

    ΔE00 as mean, 95th percentile, maximum; `lab` the mean ΔL*, Δa*, Δb*, `plus_minus` what each may be off by at 90 %,
    `spread` the standard deviation of each, None of a single patch; `left` the mean ΔE00 after the correction.
    """

    region: str
    count: int
    mean: float
    p95: float
    maximum: float
    lab: tuple[float, float, float]
    plus_minus: tuple[float, float, float]
    spread: tuple[float, float, float] | None
    left: float


class Term(NamedTuple):
    """A parameter of a correction with what it may be off by at 90 %."""

    name: str
    value: float
    plus_minus: float


@dataclass(frozen=True, slots=True)
class Correction:
    """From the second instrument to the first. `left` is the mean ΔE00 that it leaves on what it was not made from, by
    form also of those not taken: `others`."""

    form: CorrectionForm
    terms: tuple[Term, ...]
    left: float
    others: Mapping[CorrectionForm, float]


@dataclass(frozen=True, slots=True)
class InstrumentAgreement:
    """`by_sheets` says that the correction was tried on whole sheets it was not made from, not on patches."""

    sheets: int
    patches: int
    regions: tuple[RegionAgreement, ...]
    correction: Correction
    by_sheets: bool

    @property
    def everything(self) -> RegionAgreement:
        """Of all patches."""
        return self.regions[-1]

    @property
    def one_sheet(self) -> bool | None:
        """Whether the readings may be of the same sheets; None where that is doubtful."""
        if self.correction.left > SAME_SHEET:
            return False
        return None if self.correction.left > PERHAPS_SAME else True


def agreement(pairs: Sequence[PairedReading]) -> InstrumentAgreement:
    """Of one pair of readings or more. Raises ValueError below `FEWEST` patches."""
    first = np.concatenate([each.first for each in pairs])
    second = np.concatenate([each.second for each in pairs])
    if len(first) < FEWEST:
        raise ValueError(f"expected {FEWEST} patches or more that both instruments read, got {len(first)}")
    by_sheets = len(pairs) >= SHEETS_TO_FOLD
    folds = _folds([len(each.first) for each in pairs], by_sheets=by_sheets)
    tried = {form: _tried(form, first, second, folds) for form in CorrectionForm}
    correction = _chosen(tried)
    taken = tried[correction.form]
    scatter = (corrected(taken.form, taken.values, second) - first).std(axis=0, ddof=1)
    regions = tuple(
        _region(name, second[rows] - first[rows], de00(first[rows], second[rows]), taken.left[rows], scatter)
        for name, rows in _regions(pairs, first).items()
        if rows.any()
    )
    return InstrumentAgreement(len(pairs), len(first), regions, correction, by_sheets)


def _folds(counts: Sequence[int], *, by_sheets: bool) -> IntArray:
    """Which part of the patches each is of: (n,). Whole sheets, or patches dealt out by chance, always the same."""
    sheet = np.repeat(np.arange(len(counts)), counts)
    if by_sheets:
        return np.asarray(sheet % FOLDS)
    return np.asarray(np.random.default_rng(len(sheet)).permutation(len(sheet)) % FOLDS)


class _Tried(NamedTuple):
    """Of a form: its parameters from all patches (p,), those without each fold (folds, p), and ΔE00 of each patch that
    its own fold's parameters leave (n,)."""

    form: CorrectionForm
    values: FloatArray
    without: FloatArray
    left: FloatArray
    fold: IntArray

    @property
    def mean(self) -> float:
        """Mean ΔE00 left."""
        return float(self.left.mean())

    def plus_minus(self) -> FloatArray:
        """Of the parameters, by the jackknife over folds (Tukey, 1958): (p,)."""
        folds = len(self.without)
        spread = ((self.without - self.without.mean(axis=0)) ** 2).sum(axis=0)
        half: FloatArray = STUDENT_95[folds - 2] * np.sqrt(spread * (folds - 1) / folds)
        return half


def _tried(form: CorrectionForm, first: FloatArray, second: FloatArray, folds: IntArray) -> _Tried:
    left = np.zeros(len(first))
    without = []
    for fold in np.unique(folds):
        out = folds == fold
        values = _fitted(form, first[~out], second[~out])
        left[out] = de00(first[out], corrected(form, values, second[out]))
        without.append(values)
    return _Tried(form, _fitted(form, first, second), np.array(without), left, folds)


def _chosen(tried: Mapping[CorrectionForm, _Tried]) -> Correction:
    """The simplest form that leaves no more than the best by one standard error (Breiman et al., 1984)."""
    best = min(tried.values(), key=lambda each: each.mean)
    taken = next(each for each in tried.values() if _no_worse(each, best))
    terms = tuple(
        Term(name, float(value), float(give))
        for name, value, give in zip(NAMES[taken.form], _told(taken), taken.plus_minus(), strict=True)
    )
    others = {form: each.mean for form, each in tried.items() if form is not taken.form}
    return Correction(taken.form, terms, taken.mean, others)


def _no_worse(each: _Tried, best: _Tried) -> bool:
    """By the differences of what both leave, fold by fold."""
    folds = np.unique(best.fold)
    more = np.array([(each.left - best.left)[best.fold == fold].mean() for fold in folds])
    return bool(more.mean() <= max(NO_MATTER, more.std(ddof=1) / np.sqrt(len(folds))))


NAMES: Mapping[CorrectionForm, tuple[str, ...]] = {
    CorrectionForm.NONE: (),
    CorrectionForm.SHIFT: ("L*", "a*", "b*"),
    CorrectionForm.SCALE_AND_ZERO: ("X scale", "Y scale", "Z scale", "X zero", "Y zero", "Z zero"),
    CorrectionForm.AFFINE: (
        "L* of 1", "a* of 1", "b* of 1", "L* of L*", "a* of L*", "b* of L*", "L* of a*", "a* of a*", "b* of a*",
        "L* of b*", "a* of b*", "b* of b*",
    ),
}  # fmt: skip
"""What each parameter is: of a shift and of `affine` what is added in Lab, "a* of L*" to a* for every unit of L*; of
`scale-and-zero` the factor on X, Y and Z, and what is added to them, Y being 100 for the perfect diffuser."""


def _told(tried: _Tried) -> FloatArray:
    """Factors as such, not as what is beyond 1."""
    values = tried.values.copy()
    if tried.form is CorrectionForm.SCALE_AND_ZERO:
        values[:3] += 1.0
    return values


def _fitted(form: CorrectionForm, first: FloatArray, second: FloatArray) -> FloatArray:
    """Robust least squares in ΔE00, by Gauss and Newton's steps: (p,)."""
    values = np.zeros(len(NAMES[form]))
    if form is CorrectionForm.NONE:
        return values
    visual, sizes, trust = scale_around(first), np.full(len(values), OPEN), np.ones(len(first))
    for _ in range(STEPS):
        columns = np.stack([visual(column) for column in _columns(form, values, second)], axis=2)
        left = visual(first - corrected(form, values, second))
        values = values + robust_fit(columns, left, sizes, trust).theta
    return values


def _columns(form: CorrectionForm, values: FloatArray, lab: FloatArray) -> list[FloatArray]:
    """What a unit more of each parameter does to what `values` make of Lab: (n, 3) each."""
    axes = np.eye(3)
    if form is CorrectionForm.SHIFT:
        return [np.broadcast_to(axis, lab.shape) for axis in axes]
    if form is CorrectionForm.AFFINE:
        terms = [np.ones(len(lab)), *lab.T]
        return [term[:, None] * axis for term in terms for axis in axes]
    xyz = xyz_from_lab(lab, D50_ASTM_E308)
    moved = corrected(form, values, lab)
    at = xyz_from_lab(moved, D50_ASTM_E308)
    slopes = [(lab_from_xyz(at + STEP * axis, D50_ASTM_E308) - moved) / STEP for axis in axes]
    return [*(xyz[:, [number]] * slope for number, slope in enumerate(slopes)), *slopes]


def corrected(form: CorrectionForm, values: FloatArray, lab: FloatArray) -> FloatArray:
    """Readings of the second instrument (n, 3) as the first would give them; `values` as `_fitted` gives them."""
    if form is CorrectionForm.NONE:
        return lab
    if form is CorrectionForm.SCALE_AND_ZERO:
        xyz = xyz_from_lab(lab, D50_ASTM_E308)
        moved: FloatArray = lab_from_xyz(np.maximum(xyz * (1 + values[:3]) + values[3:], 0.0), D50_ASTM_E308)
        return moved
    shifted: FloatArray = lab + np.tensordot(np.stack(_columns(form, values, lab), axis=2), values, axes=1)
    return shifted


def _regions(pairs: Sequence[PairedReading], first: FloatArray) -> dict[str, BoolArray]:
    paper, solids = (np.concatenate([getattr(each, name) for each in pairs]) for name in ("paper", "solids"))
    grey = np.concatenate([near_grey(each.first) for each in pairs])
    return {
        "paper": paper,
        "solids": solids,
        "neutrals": grey & ~paper,
        "dark": np.asarray(first[:, 0] < DARK_BELOW),
        "all": np.ones(len(first), dtype=bool),
    }


def _region(name: str, change: FloatArray, size: FloatArray, left: FloatArray, scatter: FloatArray) -> RegionAgreement:
    """`change` (n, 3) in Lab, `size` (n,) in ΔE00; `scatter` (3,) that of any patch, which tells a single one."""
    free = len(change) - 1
    spread = change.std(axis=0, ddof=1) if free else None
    student = STUDENT_95[free - 1] if 0 < free <= len(STUDENT_95) else NINETY
    give = student * (scatter if spread is None else spread) / np.sqrt(len(change))
    ordered = np.sort(size)
    return RegionAgreement(
        name,
        len(change),
        float(size.mean()),
        percentile(ordered, 95),
        float(ordered[-1]),
        _three(change.mean(axis=0)),
        _three(give),
        None if spread is None else _three(spread),
        float(left.mean()),
    )


def _three(values: FloatArray) -> tuple[float, float, float]:
    first, second, third = values.tolist()
    return first, second, third
