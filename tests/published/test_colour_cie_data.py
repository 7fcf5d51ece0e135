"""The CIE data and the white points made of them, against colour-science and printed values."""

from __future__ import annotations

import colour
import numpy as np

from sentinel.core.colour import cie, lab

TWO_DEGREES = "CIE 1931 2 Degree Standard Observer"


def test_observer_is_that_of_colour_science() -> None:
    assert np.array_equal(cie.colour_matching_functions(), colour.MSDS_CMFS[TWO_DEGREES].values)


def test_illuminant_passes_through_the_table_of_colour_science() -> None:
    theirs = colour.SDS_ILLUMINANTS["D50"]
    table = {nm: power for nm, power in zip(theirs.wavelengths, theirs.values, strict=True) if nm >= 360}
    ours = cie.d50_power()[np.searchsorted(cie.WAVELENGTHS, list(table))]
    assert np.abs(ours - np.array(list(table.values()))).max() <= 1e-12


def test_white_has_the_published_chromaticity() -> None:
    """CIE 15's, as colour-science gives it to four or five decimals."""
    published = colour.CCS_ILLUMINANTS[TWO_DEGREES]["D50"]
    white = cie.d50_power() @ cie.colour_matching_functions()
    assert np.abs((white / white.sum())[:2] - published).max() <= 5e-5


def test_white_of_astm_e308_is_the_sum_at_5_nm() -> None:
    """The printed white, reproduced from colour-science's tables with none of ours."""
    shape = colour.SpectralShape(360, 780, 5)
    observer = colour.MSDS_CMFS[TWO_DEGREES].copy().align(shape).values
    products = colour.SDS_ILLUMINANTS["D50"].copy().trim(shape).values @ observer
    assert np.abs(100 * products / products[1] - lab.D50_ASTM_E308).max() <= 5.1e-4
