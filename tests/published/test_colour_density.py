"""Density against the ISO 5-3 products, applied to published chart spectra by plain sums."""

from __future__ import annotations

from collections.abc import Callable

import colour
import numpy as np
import numpy.typing as npt
import pytest

from sentinel.core.colour.density import Status, status_density, visual_density

Record = Callable[[str, int, float, float], None]
FloatArray = npt.NDArray[np.float64]
Table = Callable[[str], FloatArray]

RASTER = np.arange(340.0, 831.0, 10.0)
STATUSES: tuple[Status, ...] = ("A", "E", "T")


@pytest.mark.parametrize("status", STATUSES)
def test_status_densities_are_the_plain_sums(status: Status, published_table: Table, record_deviation: Record) -> None:
    """D = -log10(sum(W R) / sum(W))."""
    spectra = _chart_on_the_full_raster()
    products = _products(published_table("iso5_3_density_weights_10nm.csv"), status)
    theirs = -np.log10(spectra @ products / products.sum(axis=0))
    worst = float(np.abs(status_density(spectra, RASTER, status) - theirs).max())
    record_deviation(f"Status {status} density of chart spectra: ISO 5-3 products", theirs.size, worst, 1e-12)


def test_visual_densities_are_the_plain_sums(published_table: Table, record_deviation: Record) -> None:
    spectra = _chart_on_the_full_raster()
    products = published_table("iso5_3_density_weights_10nm.csv")[:, 13]
    theirs = -np.log10(spectra @ products / products.sum())
    worst = float(np.abs(visual_density(spectra, RASTER) - theirs).max())
    record_deviation("Visual density of chart spectra: ISO 5-3 products", theirs.size, worst, 1e-12)


# colour-science warns that a spectrum is cut or aligned to its observer, which is what the test wants.
@pytest.mark.filterwarnings("ignore:Aligning", "ignore:Trimming", "ignore:.*could not be honoured")
def test_visual_density_is_luminance_under_illuminant_a(record_deviation: Record) -> None:
    """ISO 5-3 defines the visual product as illuminant A by V: so D = -log10(Y / 100) with colour-science's Y."""
    wavelengths = np.arange(380.0, 731.0, 10.0)
    spectra = _chart()
    lamp = colour.sd_CIE_standard_illuminant_A(colour.SpectralShape(360, 830, 1))
    luminances = [
        colour.sd_to_XYZ(colour.SpectralDistribution(row, wavelengths), illuminant=lamp, method="ASTM E308")[1]
        for row in spectra
    ]
    worst = float(np.abs(visual_density(spectra, wavelengths) + np.log10(np.array(luminances) / 100)).max())
    record_deviation("Visual density of chart spectra: Y under A by colour-science", len(spectra), worst, 0.001)


def test_status_a_red_agrees_with_a_second_reproduction(published_table: Table, record_deviation: Record) -> None:
    """From a second open source's table of log10 products, which peaks at 620 nm."""
    red = dict(published_table("iso5_3_density_weights_10nm.csv")[:, [0, 3]].tolist())
    second = {610: 43.45, 620: 100.0, 630: 74.30, 640: 40.18}
    worst = max(abs(red[nm] - value) for nm, value in second.items())
    record_deviation("Status A red product, four bands: a second open reproduction", len(second), worst, 0.005)


@pytest.mark.parametrize(("interval", "bound"), [(5, 1e-12), (20, 0.02)])
def test_densities_at_other_intervals_are_near_the_plain_sums_at_10_nm(
    interval: int, bound: float, published_table: Table, record_deviation: Record
) -> None:
    """ISO 5-3 has no products at 5 and 20 nm: what our way there costs. The ends are continued for the sums."""
    fine = np.array([sd.values for sd in colour.SDS_COLOURCHECKERS["cc_ohta"].values()])
    wavelengths = np.arange(380.0, 781.0, interval)
    at_10_nm = np.pad(fine[:, ::2], ((0, 0), (4, 5)), mode="edge")
    measured = fine[:, :: interval // 5]
    table = published_table("iso5_3_density_weights_10nm.csv")
    worst = 0.0
    for status in STATUSES:
        products = _products(table, status)
        theirs = -np.log10(at_10_nm @ products / products.sum(axis=0))
        worst = max(worst, float(np.abs(status_density(measured, wavelengths, status) - theirs).max()))
    record_deviation(
        f"Status densities of chart spectra at {interval} nm: ISO 5-3 products at 10 nm",
        len(STATUSES) * 3 * len(fine),
        worst,
        bound,
    )


def _products(table: FloatArray, status: Status) -> FloatArray:
    """Red, green, blue of a status; the table has them as blue, green, red."""
    column = {"A": 1, "E": 4, "T": 10}[status]
    return table[:, column : column + 3][:, ::-1]


def _chart() -> FloatArray:
    """24 chart spectra after Ohta 1997, 380 to 730 nm at 10 nm: (24, 36)."""
    return np.array([sd.values[:71:2] for sd in colour.SDS_COLOURCHECKERS["cc_ohta"].values()])


def _chart_on_the_full_raster() -> FloatArray:
    """The chart's spectra, 380 to 730 nm, with their ends continued to 340 and 830 nm."""
    return np.pad(_chart(), ((0, 0), (4, 10)), mode="edge")
