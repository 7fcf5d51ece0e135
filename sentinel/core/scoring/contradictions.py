"""What of one reading cannot be true together: colours stated in two ways, readings of one patch far apart, and a paper
darker than what is printed on it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz, xyz_from_lab
from sentinel.core.measurement import Measurement
from sentinel.core.message import Message, msg
from sentinel.core.scoring.averaging import ToLab, colour_source
from sentinel.core.scoring.groups import FULL_RGB
from sentinel.core.scoring.matching import Match
from sentinel.core.verdict import Code, Reason, Unscored

APART = 1.0
"""Mean ΔE00 between two statements of one reading that no instrument's own arithmetic reaches (common practice)."""

ARITHMETIC = 0.1
"""Mean ΔE00 beyond rounding that another table of weights or another D50 white makes."""

_MOST_DIGITS = 4
_SLACK = 1e-6
_SIGNS = tuple(np.array(signs) for signs in sorted(product((-1.0, 1.0), repeat=3), key=lambda signs: abs(sum(signs))))
"""The corners of a step of rounding; where X, Y and Z move apart stands first, since colours move farthest there."""


@dataclass(frozen=True, slots=True, eq=False)
class _Statement:
    """What a file says of every patch's colour: `lab` (n, 3) by `to_lab` of `values` (n, 3). `digits` are the numbers
    as they stand in the file, and one of their steps moves a row of `values` by `unit` (3,) at most."""

    name: str | Message
    lab: FloatArray
    values: FloatArray
    to_lab: ToLab
    digits: FloatArray
    unit: FloatArray

    def corners(self, rows: BoolArray) -> Iterator[FloatArray]:
        """How far in ΔE00 each of these patches moves to each corner of its rounding to the digits seen."""
        lab, values = self.lab[rows], self.values[rows]
        half = _step(self.digits[rows]) / 2 * self.unit
        for signs in _SIGNS:
            yield de00(lab, self.to_lab(values + half * signs)) if half.any() else np.zeros(len(lab))


def held_against_itself(measurement: Measurement) -> tuple[Reason, ...]:
    """A remark for each of Lab and XYZ for D50 and 2 degrees that rounding does not reconcile with the spectra, or XYZ
    with Lab where there are no spectra.

    Raises Unscored where they differ by more than any instrument makes of one reading.
    """
    condition = measurement.condition
    if measurement.interpretation.about("light"):
        return ()
    if condition.illuminant not in (None, "D50") or condition.observer not in (None, 2):
        return ()
    if sum(stated is not None for stated in (measurement.reflectance, measurement.lab, measurement.xyz)) < 2:
        return ()
    [taken, *others] = _statements(measurement)
    return tuple(remark for other in others if (remark := _contradiction(other, taken)))


def _statements(measurement: Measurement) -> Iterator[_Statement]:
    """What figures stand on, and whatever is beside it."""
    own = np.ones(3)
    if measurement.reflectance is not None:
        reflectance, lab_of = colour_source(measurement)
        lab = lab_of(reflectance)
        white = np.array(D50_ASTM_E308)
        xyz = xyz_from_lab(lab, D50_ASTM_E308)
        yield _Statement(msg("spectra"), lab, xyz, _lab_of_xyz, reflectance, white)
    if measurement.lab is not None:
        yield _Statement("Lab", measurement.lab, measurement.lab, lambda lab: lab, measurement.lab, own)
    if measurement.xyz is not None:
        xyz = measurement.xyz
        yield _Statement("XYZ", _lab_of_xyz(xyz), xyz, _lab_of_xyz, xyz, own)


def _lab_of_xyz(xyz: FloatArray) -> FloatArray:
    return lab_from_xyz(xyz, D50_ASTM_E308)


def _contradiction(other: _Statement, taken: _Statement) -> Reason | None:
    """Rounding is looked into corner by corner until nothing is left to explain: mostly not at all."""
    both = np.asarray(~np.isnan(taken.lab + other.lab).any(axis=1))
    if not both.any():
        return None
    away = de00(other.lab[both], taken.lab[both])
    mean = float(away.mean())
    explained = np.zeros((2, len(away)))
    for moved in zip(taken.corners(both), other.corners(both), strict=True):
        if mean <= ARITHMETIC:
            break
        explained = np.maximum(explained, moved)
        mean = float(np.maximum(away - explained.sum(axis=0), 0.0).mean())
    if mean <= ARITHMETIC:
        return None
    if mean >= APART:
        raise Unscored(
            Code.CONTRADICTS_ITSELF,
            msg(
                "expected {one} and {other} of one reading to agree, but they differ by {mean:.2f} ΔE00 on average, "
                "more than rounding explains: export both for D50 and 2 degrees, and from the same reading",
                one=other.name,
                other=taken.name,
                mean=mean,
            ),
        )
    message = msg(
        "the file's {one} and its {other} differ by {mean:.2f} ΔE00 on average, more than rounding explains; the "
        "figures stand on {other}",
        one=other.name,
        other=taken.name,
        mean=mean,
    )
    return Reason(Code.CONTRADICTS_ITSELF, message)


def _step(values: FloatArray) -> float:
    """What numbers were rounded to, learnt from their digits; 0 for finer ones than 0.0001."""
    for digits in range(_MOST_DIGITS + 1):
        step = 10.0**-digits
        if (abs(values / step - np.rint(values / step)) < _SLACK).all():
            return step
    return 0.0


_NAMED = 3
"""Patches that a remark calls by name."""


def readings_apart(pairs: Match) -> tuple[Reason, ...]:
    """A remark that names the patches whose readings were too far apart to be one patch, the farthest first."""
    rows = np.flatnonzero(pairs.apart)
    if not len(rows):
        return ()
    farthest = rows[np.argsort(pairs.spread[rows], kind="stable")[::-1]][:_NAMED].tolist()
    named = ", ".join(f"{pairs.labels[row]} (ΔE00 {pairs.spread[row]:.0f})" for row in farthest)
    message = msg(
        "readings of {count} patch are farther from their mean than repeated readings can be: {named}; it counts as "
        "not read",
        "readings of {count} patches are farther from their mean than repeated readings can be, most of all {named}; "
        "they count as not read",
        count=len(rows),
        named=named,
    )
    return (Reason(Code.CONTRADICTS_ITSELF, message),)


_DARK_SHARE = 0.1
"""Of the patches: one misread patch says nothing of the sheet."""


def paper_against_dark(pairs: Match) -> tuple[Reason, ...]:
    """Why no verdict can stand on a sheet whose paper is darker than its darkest patches, which the aim has lighter.

    The darkest are the tenth that the aim has darkest, taken by their median.
    """
    paper = _paper(pairs)
    if not paper.any() or paper.all():
        return ()
    dark = np.argsort(pairs.aim[:, 0], kind="stable")[: max(1, int(_DARK_SHARE * len(pairs)))]
    aimed, read = (float(lab[paper, 0].mean() - np.median(lab[dark, 0])) for lab in (pairs.aim, pairs.lab))
    if read >= -APART or aimed <= APART:
        return ()
    message = msg(
        "expected the bare stock to be lighter than the darkest patches, as the aim has it, but it was read {less:.0f} "
        "L* darker: the readings stand beside the wrong patches, or the device values are inverted",
        less=-read,
    )
    return (Reason(Code.CONTRADICTS_ITSELF, message),)


def _paper(pairs: Match) -> BoolArray:
    if not pairs.inks:
        return np.zeros(len(pairs), dtype=bool)
    bare = FULL_RGB if set(pairs.inks) == {"R", "G", "B"} else 0.0
    paper: BoolArray = (pairs.device == bare).all(axis=1)
    return paper
