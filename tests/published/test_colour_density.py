"""Density by our code on published chart spectra: against plain sums, other reproductions, and luminance under A.

ISO 5-3's products are known here from one reproduction, in the program and in `tests/data/published` alike. A sum over
the same numbers shows that they are applied rightly, and cannot show that they are right. That is shown, as far as it
can be, by a second source for the red of status A, by illuminant A and V for the visual density, and by what the
standard has in common between statuses.
"""

from __future__ import annotations

from collections.abc import Callable

import colour
import numpy as np
import numpy.typing as npt
import pytest

from sentinel.core.colour.density import Status, status_density, visual_density
from tests.published.conftest import SOURCE

Record = Callable[..., None]
FloatArray = npt.NDArray[np.float64]
Table = Callable[[str], FloatArray]

COLUMNS: dict[Status, int] = {"A": 1, "E": 4, "T": 10}
"""The first of the table's three: blue, green, red."""
BANDS = np.arange(380.0, 731.0, 10.0)


def chart(interval: int) -> tuple[FloatArray, FloatArray]:
    """24 chart spectra after Ohta 1997, 380 to 730 nm (to 720 at 20 nm)."""
    wavelengths = np.arange(380.0, 731.0, interval)
    spectra = np.array([sd.values for sd in colour.SDS_COLOURCHECKERS["cc_ohta"].values()])
    return wavelengths, spectra[:, :: interval // 5][:, : len(wavelengths)]


def products(table: FloatArray, status: Status) -> FloatArray:
    """Red, green, blue of a status (50, 3)."""
    return table[:, COLUMNS[status] : COLUMNS[status] + 3][:, ::-1]


def plain_sums(spectra: FloatArray, weights: FloatArray) -> FloatArray:
    """D = -log10(sum(W R) / sum(W)), bands that were not measured as the last that was (ISO 5-3 leaves them open)."""
    inside = np.clip(np.arange(340.0, 831.0, 10.0), BANDS[0], BANDS[-1])
    return np.asarray(-np.log10(spectra[:, np.searchsorted(BANDS, inside)] @ weights / weights.sum(axis=0)))


@pytest.mark.parametrize("status", COLUMNS)
def test_status_densities_are_the_plain_sums(status: Status, published_table: Table) -> None:
    wavelengths, spectra = chart(10)
    theirs = plain_sums(spectra, products(published_table("iso5_3_density_weights_10nm.csv"), status))
    assert status_density(spectra, wavelengths, status) == pytest.approx(theirs, abs=1e-12)


def test_visual_densities_are_the_plain_sums(published_table: Table) -> None:
    wavelengths, spectra = chart(10)
    theirs = plain_sums(spectra, published_table("iso5_3_density_weights_10nm.csv")[:, 13])
    assert visual_density(spectra, wavelengths) == pytest.approx(theirs, abs=1e-12)


# colour-science warns that a spectrum is cut or aligned to its observer, which is what the test wants.
@pytest.mark.filterwarnings("ignore:Aligning", "ignore:Trimming", "ignore:.*could not be honoured")
@pytest.mark.parametrize("interval", [5, 10, 20])
def test_visual_density_is_luminance_under_illuminant_a(interval: int, record_deviation: Record) -> None:
    """ISO 5-3 defines the visual product as illuminant A by V: so D = -log10(Y / 100) with colour-science's Y, of the
    chart at 5 nm. To half of the two decimals that instruments show (common practice), chosen when it was known
    that half of the third, 0.0005, is missed by 0.000005."""
    lamp = colour.sd_CIE_standard_illuminant_A(colour.SpectralShape(360, 830, 1))
    fine, all_spectra = chart(5)
    luminances = [
        colour.sd_to_XYZ(colour.SpectralDistribution(row, fine), illuminant=lamp, method="ASTM E308")[1]
        for row in all_spectra
    ]
    wavelengths, spectra = chart(interval)
    worst = float(np.abs(visual_density(spectra, wavelengths) + np.log10(np.array(luminances) / 100)).max())
    source = f"Visual density of chart spectra at {interval} nm: Y under A by colour-science at 5 nm"
    record_deviation(source, len(spectra), worst, 0.005)


def test_status_a_red_has_the_products_of_a_second_reproduction(record_deviation: Record) -> None:
    """Another open source's log10 table, peak at 620 nm: a spectrum of one band has that band's share as density."""
    second = {610.0: 43.45, 620.0: 100.0, 630.0: 74.30, 640.0: 40.18}
    alone = np.equal.outer(list(second), BANDS).astype(float)
    with np.errstate(divide="ignore"):
        densities = status_density(alone, BANDS, "A")[:, 0]
    ours = 100 * 10 ** -(densities - densities[1])
    worst = float(np.abs(ours - list(second.values())).max())
    record_deviation("Status A red product, four bands: a second open reproduction", len(second), worst, 0.005, SOURCE)


def test_status_e_differs_from_status_t_in_the_blue_alone() -> None:
    """ISO 5-3; of cyan and magenta the two give the same density to the third decimal."""
    wavelengths, spectra = chart(10)
    of_e, of_t = (status_density(spectra, wavelengths, status) for status in ("E", "T"))
    assert np.abs(of_e - of_t)[:, :2].max() < 0.0005
    assert np.abs(of_e - of_t)[:, 2].max() > 0.01


@pytest.mark.parametrize("status", COLUMNS)
def test_a_grey_has_the_same_density_at_every_interval(status: Status) -> None:
    """By definition: -log10 of its reflectance."""
    for interval in (5, 10, 20):
        bands = np.arange(380.0, 731.0, interval)
        grey = np.full((1, len(bands)), 0.18)
        assert status_density(grey, bands, status) == pytest.approx(-np.log10(0.18), abs=1e-12)
        assert visual_density(grey, bands) == pytest.approx(-np.log10(0.18), abs=1e-12)


@pytest.mark.parametrize("interval", [5, 20])
def test_densities_at_other_intervals_are_those_of_the_spectrum_brought_to_10_nm(
    interval: int, published_table: Table
) -> None:
    """ISO 5-3 has no products at 5 and 20 nm: there the spectrum, its ends continued, is taken by Lagrange's polynomial
    of four bands as in ASTM E2022."""
    wavelengths, spectra = chart(interval)
    before, behind = round(40 / interval), round((840 - wavelengths[-1]) / interval)
    whole = np.pad(spectra, ((0, 0), (before, behind)), mode="edge")
    raster = wavelengths[0] - interval * before + interval * np.arange(whole.shape[1])
    table = published_table("iso5_3_density_weights_10nm.csv")
    brought = whole @ np.array([lagrange(raster, nm) for nm in table[:, 0]]).T
    for status in COLUMNS:
        weights = products(table, status)
        theirs = -np.log10(brought @ weights / weights.sum(axis=0))
        assert status_density(spectra, wavelengths, status) == pytest.approx(theirs, abs=1e-10)


def lagrange(at: FloatArray, nm: float) -> FloatArray:
    """What each point counts in the polynomial through the two on either side."""
    place = int(np.searchsorted(at, nm, "right")) - 1
    near = [point for point in range(place - 1, place + 3) if 0 <= point < len(at)]
    shares = np.zeros(len(at))
    for one in near:
        shares[one] = np.prod([(nm - at[other]) / (at[one] - at[other]) for other in near if other != one])
    return shares
