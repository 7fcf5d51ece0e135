"""Every patch's differences from its aim, each computed once for all groups."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.difference import dch, de00, de76
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz, xyz_from_lab

LENGTHS = ("de00", "de76", "dch", "rel_de00")
SIGNED = ("dl", "da", "db", "dc")


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Aim and reading of n patches in both forms, (n, 3) each: L*, a*, b* and X, Y, Z under D50."""

    aim: FloatArray
    lab: FloatArray
    aim_xyz: FloatArray
    xyz: FloatArray

    @classmethod
    def of(cls, aim: FloatArray, lab: FloatArray) -> Sides:
        """Both forms from L*, a*, b*."""
        return cls(aim, lab, xyz_from_lab(aim, D50_ASTM_E308), xyz_from_lab(lab, D50_ASTM_E308))


@dataclass(frozen=True, slots=True, eq=False)
class Differences:
    """`lengths` has a row for each of LENGTHS, the last left out where there is no paper: CIEDE2000, CIELAB, the
    chromatic difference ΔCh, and CIEDE2000 relative to paper. `signed` has a row for each of SIGNED: measured less aim
    in L*, a*, b* and C*. (kinds, n) both."""

    lengths: FloatArray
    signed: FloatArray


def differences(sides: Sides, paper: npt.NDArray[np.bool_] | None) -> Differences:
    """`paper` (n,) says which patches are paper."""
    aim, lab = sides.aim, sides.lab
    lengths = [de00(aim, lab), de76(aim, lab), dch(aim, lab)]
    if paper is not None:
        relative = on_paper(sides.xyz, sides.xyz[paper].mean(axis=0), sides.aim_xyz[paper].mean(axis=0))
        lengths.append(de00(aim, lab_from_xyz(relative, D50_ASTM_E308)))
    chroma = np.hypot(lab[:, 1], lab[:, 2]) - np.hypot(aim[:, 1], aim[:, 2])
    return Differences(np.array(lengths), np.vstack([(lab - aim).T, chroma]))


def on_paper(xyz: FloatArray, own_paper: FloatArray, other_paper: FloatArray) -> FloatArray:
    """The colours of a sheet as they would look on another paper: X, Y, Z scaled by the ratio of the two papers.

    This is the media-relative scaling of ICC.1 (ISO 15076-1) applied to both sheets. It is an approximation where the
    papers differ in brightener or were read on another backing.
    """
    scaled: FloatArray = xyz * (other_paper / own_paper)
    return scaled
