"""The CIE data and the white points made of them, against colour-science and printed values."""

from __future__ import annotations

from collections.abc import Callable

import colour
import numpy as np

from sentinel.core.colour import cie, lab

Record = Callable[[str, int, float, float], None]

TWO_DEGREES = "CIE 1931 2 Degree Standard Observer"


def test_observer_is_that_of_colour_science(record_deviation: Record) -> None:
    theirs = colour.MSDS_CMFS[TWO_DEGREES].values
    ours = cie.colour_matching_functions()
    record_deviation(f"{TWO_DEGREES}, 1 nm: colour-science", theirs.size, float(np.abs(ours - theirs).max()), 0.0)


def test_illuminant_passes_through_the_table_of_colour_science(record_deviation: Record) -> None:
    theirs = colour.SDS_ILLUMINANTS["D50"]
    table = {nm: power for nm, power in zip(theirs.wavelengths, theirs.values, strict=True) if nm >= 360}
    ours = cie.d50_power()[np.searchsorted(cie.WAVELENGTHS, list(table))]
    worst = float(np.abs(ours - np.array(list(table.values()))).max())
    record_deviation("Illuminant D50, 5 nm: colour-science (CIE 15)", len(table), worst, 1e-12)


def test_white_has_the_published_chromaticity(record_deviation: Record) -> None:
    """CIE 15's, as colour-science gives it to four or five decimals."""
    published = colour.CCS_ILLUMINANTS[TWO_DEGREES]["D50"]
    white = cie.d50_power() @ cie.colour_matching_functions()
    worst = float(np.abs((white / white.sum())[:2] - published).max())
    record_deviation("White of D50, 2°, x and y: CIE 15 in colour-science", 2, worst, 5e-5)


def test_white_of_astm_e308_is_the_sum_at_5_nm(record_deviation: Record) -> None:
    """The printed white, reproduced from colour-science's tables with none of ours."""
    shape = colour.SpectralShape(360, 780, 5)
    observer = colour.MSDS_CMFS[TWO_DEGREES].copy().align(shape).values
    products = colour.SDS_ILLUMINANTS["D50"].copy().trim(shape).values @ observer
    deviation = np.abs(100 * products / products[1] - lab.D50_ASTM_E308)
    record_deviation("White D50, 2°, printed in ASTM E308: sum at 5 nm", 3, float(deviation.max()), 6e-4)
