"""XYZ to L*a*b* against published data and two libraries."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from typing import Protocol

import colour
import numpy as np
import numpy.typing as npt
import pytest
from coloraide.spaces.lab import lab_to_xyz, xyz_to_lab

from sentinel.core.colour.lab import D50_ASTM_E308, White, lab_from_xyz, xyz_from_lab
from tests.published.conftest import SOURCE
from tests.support.whites import D50_ICC

Record = Callable[..., None]
FloatArray = npt.NDArray[np.float64]


class Published(Protocol):
    xyz: FloatArray
    lab: FloatArray


def test_fogra39l_lab_follows_from_its_xyz_under_the_icc_white(fogra39l: Published, record_deviation: Record) -> None:
    """To the two decimals of its XYZ, which in darks leave a* 0.3 open, and of its Lab; and in the mean."""
    lab = lab_from_xyz(fogra39l.xyz, D50_ICC)
    corners = [lab_from_xyz(fogra39l.xyz + 0.005 * np.array(signs), D50_ICC) for signs in product((-1, 1), repeat=3)]
    left_open = np.max(np.abs(np.array(corners) - lab), axis=0) + 0.005
    deviation = lab - fogra39l.lab
    worst = float(np.abs(deviation / left_open).max())
    source = "FOGRA39L XYZ to Lab, part of what two decimals leave open: its own Lab"
    record_deviation(source, deviation.size, worst, 1.0, SOURCE)
    worst = float(np.abs(deviation.mean(0)).max())
    record_deviation("FOGRA39L XYZ to Lab, mean of L*, a*, b*: its own Lab", deviation.size, worst, 0.005, SOURCE)


def test_fogra39l_lab_does_not_stand_on_the_white_of_astm_e308(fogra39l: Published) -> None:
    """What the choice of white is worth: 0.014 in the mean of b*, 0.024 on the paper."""
    moved = lab_from_xyz(fogra39l.xyz, D50_ASTM_E308) - lab_from_xyz(fogra39l.xyz, D50_ICC)
    assert moved[:, 2].mean() == pytest.approx(0.0144, abs=0.0005)
    assert moved[0, 2] == pytest.approx(0.024, abs=0.001)


@pytest.mark.parametrize("white", [D50_ASTM_E308, D50_ICC])
def test_lab_is_that_of_colour_science(white: White, record_deviation: Record) -> None:
    xyz = _random_xyz()
    # colour-science takes the white as x, y: the same numbers, Y = 1.
    theirs = np.asarray(colour.XYZ_to_Lab(xyz / 100, colour.XYZ_to_xy(np.array(white))), np.float64)
    deviation = float(np.abs(lab_from_xyz(xyz, white) - theirs).max())
    record_deviation(f"XYZ to Lab, white {white[0]:g} 100 {white[2]:g}: colour-science", xyz.size, deviation, 1e-9)
    back = colour.Lab_to_XYZ(theirs, colour.XYZ_to_xy(np.array(white))) * 100
    assert np.abs(xyz_from_lab(theirs, white) - back).max() <= 1e-9


def test_lab_is_that_of_coloraide(record_deviation: Record) -> None:
    xyz = _random_xyz()
    lab = np.array([xyz_to_lab(row, D50_ASTM_E308) for row in xyz.tolist()])
    deviation = float(np.abs(lab_from_xyz(xyz, D50_ASTM_E308) - lab).max())
    record_deviation("XYZ to Lab: coloraide", xyz.size, deviation, 1e-9)
    back = np.array([lab_to_xyz(row, D50_ASTM_E308) for row in lab.tolist()])
    assert np.abs(xyz_from_lab(lab, D50_ASTM_E308) - back).max() <= 1e-9


def _random_xyz() -> FloatArray:
    """From a little below black, where noise takes a dark patch, to a little above white."""
    return np.random.default_rng(39).uniform(-0.5, 105, (10_000, 3))
