from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, White, lab_from_xyz, xyz_from_lab
from tests.support.whites import D50_ICC


@pytest.mark.parametrize("white", [D50_ASTM_E308, D50_ICC])
def test_white_is_100_0_0_and_black_0_0_0(white: White) -> None:
    assert lab_from_xyz(np.array([white, (0, 0, 0)]), white) == pytest.approx(np.array([[100, 0, 0], [0, 0, 0]]))


def test_noise_below_black_gives_a_negative_lightness_and_comes_back() -> None:
    lab = lab_from_xyz(np.array([[-0.1, -0.1, -0.1]]), D50_ICC)
    assert lab[0, 0] < 0
    assert xyz_from_lab(lab, D50_ICC) == pytest.approx(np.full((1, 3), -0.1))


@given(arrays(float, (5, 3), elements=st.floats(-5, 130)))
def test_lab_and_back_is_where_it_began(xyz: FloatArray) -> None:
    assert xyz_from_lab(lab_from_xyz(xyz, D50_ASTM_E308), D50_ASTM_E308) == pytest.approx(xyz, abs=1e-9)


def test_a_missing_value_stays_in_its_row() -> None:
    lab = lab_from_xyz(np.array([[np.nan, 50.0, 50.0], [50.0, 50.0, 50.0]]), D50_ICC)
    assert np.isnan(lab[0, 1])
    assert np.isfinite(lab[1]).all()


def test_the_argument_is_not_written_to() -> None:
    xyz = np.full((2, 3), 50.0)
    lab_from_xyz(xyz, D50_ICC)
    xyz_from_lab(xyz, D50_ICC)
    assert (xyz == 50).all()
