"""ASTM E308 and E2022 against their published tables and against colour-science."""

from __future__ import annotations

from collections.abc import Callable

import colour
import numpy as np
import numpy.typing as npt
import pytest

from sentinel.core.colour import cie
from sentinel.core.colour.bands import bands_of
from sentinel.core.colour.lab import White, lab_from_xyz
from sentinel.core.colour.spectra import tristimulus_weights, weights_at, xyz_from_reflectance
from tests.published.conftest import SOURCE

Record = Callable[..., None]
FloatArray = npt.NDArray[np.float64]
Table = Callable[[str], FloatArray]

# colour-science warns that a spectrum is cut to its observer's range, which is what the test wants.
pytestmark = pytest.mark.filterwarnings("ignore:Trimming", "ignore:.*could not be honoured")

TWO_DEGREES = "CIE 1931 2 Degree Standard Observer"
TEN_DEGREES = "CIE 1964 10 Degree Standard Observer"
CHART = "cc_ohta"
"""Chart spectra that colour-science carries, after Ohta 1997; those it calls of ISO 17321-1 are the same numbers."""

WHITE: White = (96.4241, 100.0, 82.5128)
"""The sum at 1 nm."""


@pytest.mark.parametrize(
    ("name", "illuminant", "observer"),
    [
        ("a_cie_1964_10_10", "A", 10),
        ("a_cie_1964_10_20", "A", 10),
        ("d65_cie_1931_2_20", "D65", 2),
    ],
)
def test_weights_are_those_printed_in_astm_e308(
    name: str, illuminant: str, observer: int, published_table: Table
) -> None:
    """Of other lamps and another observer than ours, since those are what could be had: the way is the same."""
    table = published_table(f"e308_published_twf_{name}.csv")
    functions = colour.MSDS_CMFS[{2: TWO_DEGREES, 10: TEN_DEGREES}[observer]]
    lamp = colour.SDS_ILLUMINANTS["D65"].copy().align(functions.shape, interpolator=colour.LinearInterpolator)
    if illuminant == "A":
        lamp = colour.sd_CIE_standard_illuminant_A(functions.shape)
    weights = weights_at(bands_of(table[:, 0]), lamp.values, functions.values)
    assert np.abs(weights - table[:, 1:]).max() <= 0.0005


@pytest.mark.parametrize("interval", [10, 20])
def test_d50_weights_are_those_of_e2022_in_colour_science(interval: int, published_table: Table) -> None:
    """To its five decimals."""
    table = published_table(f"d50_2deg_e2022_computed_{interval}nm.csv")
    assert np.abs(tristimulus_weights(bands_of(table[:, 0])) - table[:, 1:]).max() <= 5.1e-6


def test_chart_spectra_have_the_colour_of_the_table_of_iso_13655(
    published_table: Table, record_deviation: Record
) -> None:
    """L* and a* by the weights of the excerpt, 380 to 730 nm; Y's beyond 690 nm, which it lacks, are ours.

    Single weights lie up to 0.0142 from E2022's, more than its three decimals, and next to each other on either side.
    What that makes of a colour may be half of the one decimal that instruments show (common practice), a bound chosen
    when the deviation of 0.03 was known.
    """
    table = published_table("d50_2deg_iso13655_excerpt_10nm.csv")
    wavelengths, reflectance = _chart(CHART, 10)
    measured = reflectance[:, np.isin(wavelengths, table[:, 0])]
    own = tristimulus_weights(bands_of(table[:, 0]))[:, :2]
    weights = np.where(np.isnan(table[:, 1:]), own, table[:, 1:])
    x, y = colour.lightness(100 * (measured @ weights / weights.sum(axis=0)), method="CIE 1976").T
    theirs = np.stack([y, 500 / 116 * (x - y)], axis=1)
    ours = lab_from_xyz(xyz_from_reflectance(measured, table[:, 0]), WHITE)[:, :2]
    source = "24 patches after Ohta 1997, L* and a*: table of ISO 13655 (excerpt, a reproduction)"
    record_deviation(source, theirs.size, float(np.abs(ours - theirs).max()), 0.05, SOURCE)


@pytest.mark.parametrize("interval", [5, 10, 20])
def test_chart_spectra_have_the_colour_that_colour_science_gives(interval: int, record_deviation: Record) -> None:
    """Published chart spectra, at their own range of 380 to 780 nm: E2022 and E308, D50 and 2 degrees."""
    wavelengths, reflectance = _chart(CHART, interval)
    theirs = np.array([_xyz_by_colour_science(wavelengths, row) for row in reflectance])
    ours = xyz_from_reflectance(reflectance, wavelengths)
    chromaticity = colour.XYZ_to_xy(np.array(WHITE))
    deviation = lab_from_xyz(ours, WHITE) - colour.XYZ_to_Lab(theirs / 100, chromaticity)
    record_deviation(
        f"24 patches after Ohta 1997, {wavelengths[0]:g} to {wavelengths[-1]:g} nm by {interval}, Lab: colour-science",
        deviation.size,
        float(np.abs(deviation).max()),
        1e-9,
    )


@pytest.mark.parametrize(("interval", "bound"), [(10, 0.1), (20, 0.4)])
def test_bands_of_a_chart_give_nearly_the_sum_at_1_nm(interval: int, bound: float) -> None:
    """What the method itself costs: the same spectra at 1 nm (Sprague's interpolation) summed plainly."""
    wavelengths, reflectance = _chart(CHART, interval)
    distance = _distance(xyz_from_reflectance(reflectance, wavelengths), _sum_at_1_nm(_chart_at_1_nm()))
    assert distance.max() <= bound


@pytest.mark.parametrize("interval", [10, 20])
def test_correction_undoes_a_triangular_band_pass(interval: int) -> None:
    """Spectra read through a triangle as wide at half height as the interval, by plain sums, and corrected.

    colour-science 0.4.7 has the correction too, but writes each corrected band over the measured one before it
    corrects the next, so it cannot serve as a reference.
    """
    fine = _chart_at_1_nm()
    triangle = interval - np.abs(np.arange(-interval, interval + 1.0))
    read = np.array([np.convolve(row, triangle / triangle.sum(), mode="same") for row in fine])
    wavelengths = np.arange(380.0, 781.0, interval)
    measured = read[:, wavelengths.astype(int) - 360]
    left = _distance(xyz_from_reflectance(measured, wavelengths), _sum_at_1_nm(fine))
    distance = _distance(xyz_from_reflectance(measured, wavelengths, bandpass="uncorrected"), _sum_at_1_nm(fine))
    assert distance.max() < left.max() / 4


def _distance(xyz: FloatArray, other: FloatArray) -> FloatArray:
    distance: FloatArray = np.linalg.norm(lab_from_xyz(xyz, WHITE) - lab_from_xyz(other, WHITE), axis=1)
    return distance


def _chart_at_1_nm() -> FloatArray:
    """The chart at 1 nm, its ends of 380 and 780 nm continued to 360 and 830 nm."""
    return np.pad(_chart(CHART, 1)[1], ((0, 0), (20, 50)), mode="edge")


def _sum_at_1_nm(reflectance: FloatArray) -> FloatArray:
    products = cie.d50_power()[:, np.newaxis] * colour.MSDS_CMFS[TWO_DEGREES].values
    xyz: FloatArray = reflectance @ products * (100 / products[:, 1].sum())
    return xyz


def _chart(name: str, interval: int) -> tuple[FloatArray, FloatArray]:
    spectra = [sd.copy() for sd in colour.SDS_COLOURCHECKERS[name].values()]
    shape = spectra[0].shape
    wanted = colour.SpectralShape(shape.start, shape.end - (shape.end - shape.start) % interval, interval)
    values = np.array([sd.interpolate(wanted).values for sd in spectra])
    return np.arange(wanted.start, wanted.end + 1, interval), values


def _xyz_by_colour_science(wavelengths: FloatArray, reflectance: FloatArray) -> FloatArray:
    observer_functions = colour.MSDS_CMFS[TWO_DEGREES]
    lamp = colour.SDS_ILLUMINANTS["D50"].copy()
    xyz = colour.colorimetry.sd_to_XYZ_tristimulus_weighting_factors_ASTME308(
        colour.SpectralDistribution(reflectance, wavelengths),
        observer_functions,
        lamp.align(observer_functions.shape, interpolator=colour.LinearInterpolator),
    )
    return np.asarray(xyz, np.float64)
