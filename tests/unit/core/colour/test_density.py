from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.bands import SpectrumError
from sentinel.core.colour.density import Status, status_density, visual_density

WAVELENGTHS = np.arange(380.0, 731.0, 10.0)


def _flat(*reflectances: float) -> FloatArray:
    return np.repeat(np.array(reflectances)[:, np.newaxis], len(WAVELENGTHS), axis=1)


@pytest.mark.parametrize("status", ["A", "E", "T"])
@pytest.mark.parametrize("interval", [1, 5, 7, 10, 20])
def test_a_neutral_has_one_density_behind_every_filter(status: Status, interval: int) -> None:
    wavelengths = np.arange(380.0, 731.0, interval)
    density = status_density(np.full((1, len(wavelengths)), 0.01), wavelengths, status)
    assert density == pytest.approx(np.full((1, 3), 2.0))
    assert visual_density(np.full((1, len(wavelengths)), 0.01), wavelengths) == pytest.approx([2.0])


@pytest.mark.parametrize("status", ["A", "E", "T"])
def test_filters_stand_in_the_order_red_green_blue(status: Status) -> None:
    absorbs_red, absorbs_green, absorbs_blue = _flat(0.9, 0.9, 0.9)
    absorbs_red[WAVELENGTHS > 580] = 0.05
    absorbs_green[(WAVELENGTHS > 490) & (WAVELENGTHS < 590)] = 0.05
    absorbs_blue[WAVELENGTHS < 500] = 0.05
    density = status_density(np.array([absorbs_red, absorbs_green, absorbs_blue]), WAVELENGTHS, status)
    assert density.argmax(axis=1).tolist() == [0, 1, 2]


def test_nothing_reflected_is_infinitely_dense_and_less_than_nothing_is_not_a_number() -> None:
    density = status_density(_flat(0.0, -0.001, 0.01), WAVELENGTHS, "E")
    assert np.isposinf(density[0]).all()
    assert np.isnan(density[1]).all()
    assert density[2] == pytest.approx([2, 2, 2])
    assert np.isfinite(visual_density(_flat(0.0, -0.001, 0.01), WAVELENGTHS)).tolist() == [False, False, True]


def test_a_single_negative_band_is_weighed_as_it_is() -> None:
    dark = _flat(0.01)
    dark[0, WAVELENGTHS == 600] = -0.001
    assert 2 < status_density(dark, WAVELENGTHS, "T")[0, 0] < 2.3


def test_a_paper_brighter_than_the_perfect_diffuser_has_a_negative_density() -> None:
    assert (status_density(_flat(1.1), WAVELENGTHS, "E") < 0).all()


def test_a_missing_value_spoils_its_own_row_alone() -> None:
    reflectance = _flat(0.1, 0.1)
    reflectance[0, 5] = np.nan
    density = status_density(reflectance, WAVELENGTHS, "T")
    assert np.isnan(density[0]).all()
    assert density[1] == pytest.approx([1, 1, 1])


def test_a_spectrum_too_short_for_colour_is_too_short_for_density() -> None:
    with pytest.raises(SpectrumError, match="covers 400 to 700 nm, got 450 to 650 nm"):
        visual_density(np.full((1, 21), 0.5), np.arange(450.0, 651.0, 10.0))
