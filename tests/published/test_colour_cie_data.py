"""The CIE data and the white points made of them, against colour-science and printed values."""

from __future__ import annotations

from collections.abc import Callable

import colour
import numpy as np
import pytest

from sentinel.core.colour import cie, lab, spectra

Record = Callable[[str, int, float, float], None]

OBSERVER_NAMES = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}


@pytest.mark.parametrize("observer", [2, 10])
def test_observers_are_those_of_colour_science(observer: cie.Observer, record_deviation: Record) -> None:
    theirs = colour.MSDS_CMFS[OBSERVER_NAMES[observer]].values
    ours = cie.colour_matching_functions(observer)
    record_deviation(
        f"{OBSERVER_NAMES[observer]}, 1 nm: colour-science", theirs.size, float(np.abs(ours - theirs).max()), 0.0
    )


@pytest.mark.parametrize(("name", "theirs_name"), [("D50", "D50"), ("D65", "D65"), ("F11", "FL11")])
def test_illuminants_pass_through_the_tables_of_colour_science(
    name: cie.Illuminant, theirs_name: str, record_deviation: Record
) -> None:
    theirs = colour.SDS_ILLUMINANTS[theirs_name]
    table = {nm: power for nm, power in zip(theirs.wavelengths, theirs.values, strict=True) if nm >= 360}
    ours = cie.illuminant_power(name)[np.searchsorted(cie.WAVELENGTHS, list(table))]
    worst = float(np.abs(ours - np.array(list(table.values()))).max())
    record_deviation(f"Illuminant {name}, 5 nm: colour-science (CIE 15)", len(table), worst, 1e-12)


def test_illuminant_a_has_the_printed_digits_of_its_table(record_deviation: Record) -> None:
    theirs = colour.SDS_ILLUMINANTS["A"]
    table = {nm: power for nm, power in zip(theirs.wavelengths, theirs.values, strict=True) if nm >= 360}
    ours = cie.illuminant_power("A")[np.searchsorted(cie.WAVELENGTHS, list(table))]
    relative = np.abs(ours / np.array(list(table.values())) - 1)
    record_deviation(
        "Illuminant A by its formula, relative: colour-science (CIE 15, six digits)",
        len(table),
        float(relative.max()),
        5e-6,
    )


@pytest.mark.parametrize("observer", [2, 10])
def test_whites_have_the_published_chromaticity(observer: cie.Observer, record_deviation: Record) -> None:
    """CIE 15's, as colour-science gives them to four or five decimals."""
    lamps: tuple[cie.Illuminant, ...] = ("D50", "A", "D65")
    worst = max(_chromaticity_error(lamp, observer) for lamp in lamps)
    record_deviation(f"Whites of D50, A, D65, {observer}°, x and y: CIE 15 in colour-science", 6, worst, 5e-5)


@pytest.mark.parametrize(("observer", "bound"), [(2, 5e-5), (10, 1.5e-4)])
def test_white_of_f11_has_the_published_chromaticity(
    observer: cie.Observer, bound: float, record_deviation: Record
) -> None:
    """Under 10 degrees CIE 15 prints a y that is 0.00013 off the sum of its own 5 nm table."""
    worst = _chromaticity_error("F11", observer)
    record_deviation(f"White of F11, {observer}°, x and y: CIE 15 in colour-science", 2, worst, bound)


def _chromaticity_error(lamp: cie.Illuminant, observer: cie.Observer) -> float:
    published = colour.CCS_ILLUMINANTS[OBSERVER_NAMES[observer]][{"F11": "FL11"}.get(lamp, lamp)]
    white = np.array(spectra.perfect_diffuser(lamp, observer))
    return float(np.abs((white / white.sum())[:2] - published).max())


def test_white_of_astm_e308_is_the_sum_at_5_nm(record_deviation: Record) -> None:
    """The printed white, reproduced from colour-science's tables with none of ours."""
    shape = colour.SpectralShape(360, 780, 5)
    observer = colour.MSDS_CMFS[OBSERVER_NAMES[2]].copy().align(shape).values
    products = colour.SDS_ILLUMINANTS["D50"].copy().trim(shape).values @ observer
    deviation = np.abs(100 * products / products[1] - lab.D50_ASTM_E308)
    record_deviation("White D50, 2°, printed in ASTM E308: sum at 5 nm", 3, float(deviation.max()), 6e-4)


def test_white_of_icc_is_the_profile_connection_space(record_deviation: Record) -> None:
    """ICC.1: X 0.9642, Y 1, Z 0.8249, the encoding 0.96420288, 1, 0.82490540 in s15Fixed16."""
    deviation = np.abs(np.array([96.420288, 100.0, 82.490540]) - lab.D50_ICC)
    record_deviation("White of the ICC profile connection space: ICC.1", 3, float(deviation.max()), 6e-4)
