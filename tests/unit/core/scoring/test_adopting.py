"""The mean of several readings of a chart: against plain numpy, a colour library and published robust statistics."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import numpy.typing as npt
import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sentinel.core.measurement import Measurement, MeasurementCondition
from sentinel.core.scoring.adoption import MODIFIED_Z, NORMAL_QUARTILE, adopt, from_median, outlying
from sentinel.core.verdict import Unscored
from tests.unit.core.builders import WAVELENGTHS, FloatArray, measurement

DEVICE = [[0, 0, 0, 0], [100, 0, 0, 0], [50, 40, 40, 0]]
LAB = np.array([[95.0, 0.5, -3.0], [55.0, -36.0, -49.0], [58.0, 0.5, -1.0]])
NOISE = np.random.default_rng(7).normal(0.0, 0.1, (5, 3, 3))
MISREAD = 2, 1
"""The third sheet's second patch."""


def sheets(count: int = 5) -> FloatArray:
    return LAB + NOISE[:count]


def misread() -> FloatArray:
    lab = sheets()
    lab[MISREAD] = [89.0, -5.0, 92.0]
    return lab


def library_de00(first: npt.ArrayLike, second: npt.ArrayLike) -> float:
    """CIEDE2000 by coloraide, which takes the numbers as they are in the space it works in."""
    one, other = (Color("lab-d65", np.asarray(lab).tolist()) for lab in (first, second))
    return float(one.delta_e(other, method="2000"))


# --- the rule -------------------------------------------------------------------------------------------------------


def test_the_constant_is_the_upper_quartile_of_the_normal_distribution() -> None:
    """Iglewicz and Hoaglin (1993): with it MAD estimates a standard deviation. The quantile is Python's own."""
    assert pytest.approx(NormalDist().inv_cdf(0.75), abs=5e-5) == NORMAL_QUARTILE


def test_the_bound_is_that_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17, on modified Z-scores."""
    assert MODIFIED_Z == 3.5


def test_the_textbook_reading_with_a_slipped_point_is_found() -> None:
    """Five readings of a length, 6.31 written as 63.1: Rousseeuw and Hubert, Robust statistics for outlier detection
    (2011), section on location and scale; from memory. In hundredths here."""
    lengths = np.array([627.0, 634.0, 625.0, 6310.0, 628.0])
    off = np.abs(lengths - 628.0)[:, None]
    assert np.median(off) == 3.0
    assert outlying(off)[:, 0].tolist() == [False, False, False, True, False]


OFF = arrays(np.float64, (7, 4), elements=st.floats(0.0, 50.0) | st.just(np.nan))


@given(OFF)
def test_the_rule_is_that_of_plain_numpy(off: FloatArray) -> None:
    off[0] = 0.25  # each patch has a reading
    found = outlying(off)
    for patch in range(off.shape[1]):
        there = off[:, patch][~np.isnan(off[:, patch])]
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            score = 0.6745 * there / np.median(there)
        expected = (score > 3.5) & (there > 1.0) & (len(there) >= 3)
        assert found[:, patch][~np.isnan(off[:, patch])].tolist() == expected.tolist()
    assert not found[np.isnan(off)].any()


@given(OFF)
def test_half_of_the_readings_of_a_patch_always_stay(off: FloatArray) -> None:
    off[0] = 0.25
    kept = (~np.isnan(off) & ~outlying(off)).sum(axis=0)
    assert (2 * kept >= (~np.isnan(off)).sum(axis=0)).all()


def test_of_two_readings_none_is_rejected() -> None:
    assert not outlying(np.array([[0.0], [50.0]])).any()


def test_a_difference_that_is_hardly_seen_is_no_outlier_even_where_two_readings_agree() -> None:
    assert not outlying(np.array([[0.0], [0.001], [1.0]])).any()
    assert outlying(np.array([[0.0], [0.001], [1.01]]))[2, 0]


def test_where_two_readings_are_identical_a_third_far_off_is_rejected() -> None:
    """MAD is 0 there."""
    assert outlying(np.array([[0.0], [0.0], [5.0]]))[:, 0].tolist() == [False, False, True]


def test_differences_are_from_the_median_colour() -> None:
    lab = misread()
    off = from_median(lab)
    for sheet, patch in np.ndindex(off.shape):
        expected = library_de00(np.median(lab[:, patch], axis=0), lab[sheet, patch])
        assert off[sheet, patch] == pytest.approx(expected, abs=1e-9)


# --- the mean -------------------------------------------------------------------------------------------------------


def test_the_mean_is_that_of_numpy_patch_by_patch() -> None:
    adopted = adopt([measurement(device=DEVICE, lab=lab) for lab in sheets()])
    assert adopted.quantity == "Lab"
    assert adopted.values == pytest.approx(sheets().mean(axis=0), abs=1e-12)
    assert adopted.readings.tolist() == [5, 5, 5]
    assert (adopted.rejected, adopted.missing, adopted.unread) == ((), 0, ())


def test_a_misread_patch_is_left_out_counted_and_told() -> None:
    lab = misread()
    adopted = adopt([measurement(device=DEVICE, lab=each) for each in lab])
    [rejected] = adopted.rejected
    assert (rejected.sample, rejected.label) == (2, "2")
    assert rejected.de00 == pytest.approx(library_de00(np.median(lab[:, 1], axis=0), lab[MISREAD]), abs=1e-9)
    assert adopted.readings.tolist() == [5, 4, 5]
    assert adopted.values[1] == pytest.approx(np.delete(lab[:, 1], 2, axis=0).mean(axis=0), abs=1e-12)


def test_the_spread_is_the_difference_of_what_was_kept_from_its_mean() -> None:
    lab = misread()
    adopted = adopt([measurement(device=DEVICE, lab=each) for each in lab])
    for patch in range(3):
        kept = np.delete(lab[:, patch], 2, axis=0) if patch == 1 else lab[:, patch]
        away = [library_de00(kept.mean(axis=0), each) for each in kept]
        assert adopted.mean_de00[patch] == pytest.approx(np.mean(away), abs=1e-9)
        assert adopted.max_de00[patch] == pytest.approx(max(away), abs=1e-9)


def test_one_check_is_taken_as_it_is() -> None:
    adopted = adopt([measurement(device=DEVICE, lab=LAB)])
    assert (adopted.values == LAB).all()
    assert not adopted.max_de00.any()


def test_the_order_of_rows_does_not_matter() -> None:
    first, second = sheets(2)
    turned = measurement(device=DEVICE[::-1], lab=second[::-1], ids=["x", "y", "z"])
    adopted = adopt([measurement(device=DEVICE, lab=first), turned])
    assert adopted.values == pytest.approx((first + second) / 2, abs=1e-12)
    assert adopted.chart.ids == ("1", "2", "3")


def test_inks_in_another_order_are_the_same_chart() -> None:
    first, second = sheets(2)
    turned = measurement(device=np.array(DEVICE)[:, ::-1], inks="KYMC", lab=second)
    adopted = adopt([measurement(device=DEVICE, lab=first), turned])
    assert adopted.values == pytest.approx((first + second) / 2, abs=1e-12)


def test_a_check_that_read_a_patch_twice_has_one_voice_for_it() -> None:
    twice = measurement(device=[*DEVICE, DEVICE[0]], lab=[*LAB, LAB[0] + 1.0])
    adopted = adopt([twice, measurement(device=DEVICE, lab=LAB)])
    assert adopted.values[0] == pytest.approx(LAB[0] + 0.25)
    assert adopted.readings.tolist() == [2, 2, 2]


def test_readings_of_one_patch_that_cannot_be_of_one_are_never_averaged() -> None:
    """Cyan read beside yellow's values on the first sheet: the second sheet alone speaks for it."""
    torn = measurement(device=[*DEVICE, DEVICE[1]], lab=[*LAB, [89.0, -5.0, 92.0]])
    adopted = adopt([torn, measurement(device=DEVICE, lab=LAB + 0.2)])
    assert adopted.values[1] == pytest.approx(LAB[1] + 0.2)
    assert (adopted.readings.tolist(), adopted.missing) == ([2, 1, 2], 1)
    assert adopt([torn]).unread == ("2",)


def test_patches_without_device_values_go_by_their_names_else_by_their_ids() -> None:
    first, second = sheets(2)
    by_name = [
        measurement(names=["a", "b", "c"], lab=first),
        measurement(names=["c", "a", "b"], lab=np.roll(second, 1, axis=0)),
    ]
    by_id = [measurement(ids=["a", "b", "c"], lab=first), measurement(ids=["a", "b", "c"], names=[""] * 3, lab=second)]
    for samples in (by_name, by_id):
        assert adopt(samples).values == pytest.approx((first + second) / 2, abs=1e-12)


def test_a_missing_reading_is_never_a_zero() -> None:
    first, second = sheets(2)
    second[1, 2] = np.nan
    adopted = adopt([measurement(device=DEVICE, lab=lab) for lab in (first, second)])
    assert adopted.values[1] == pytest.approx(first[1])
    assert (adopted.readings.tolist(), adopted.missing) == ([2, 1, 2], 1)


def test_a_patch_that_no_check_read_is_left_out_and_named() -> None:
    lab = sheets(2)
    lab[:, 1, 0] = np.nan
    adopted = adopt([measurement(device=DEVICE, lab=each) for each in lab])
    assert (adopted.unread, adopted.chart.ids) == (("2",), ("1", "3"))
    assert adopted.chart.device.tolist() == [DEVICE[0], DEVICE[2]]


# --- what is averaged -----------------------------------------------------------------------------------------------

SPECTRA = np.random.default_rng(3).uniform(0.02, 0.9, (3, len(WAVELENGTHS)))


def test_spectra_on_the_same_bands_are_averaged_as_reflectance() -> None:
    samples = [measurement(device=DEVICE, reflectance=SPECTRA * scale, lab=LAB) for scale in (1.0, 1.02)]
    adopted = adopt(samples)
    assert adopted.quantity == "reflectance"
    assert adopted.values == pytest.approx(SPECTRA * 1.01, abs=1e-15)
    assert adopted.wavelengths is not None
    assert (adopted.wavelengths == WAVELENGTHS).all()


def test_spectra_on_other_bands_are_averaged_as_lab() -> None:
    every_other = measurement(device=DEVICE, reflectance=SPECTRA[:, ::2], wavelengths=WAVELENGTHS[::2])
    lab_alone = measurement(device=DEVICE, lab=LAB)
    adopted = adopt([measurement(device=DEVICE, reflectance=SPECTRA), every_other, lab_alone])
    assert (adopted.quantity, adopted.wavelengths, adopted.values.shape) == ("Lab", None, (3, 3))


def test_xyz_is_averaged_as_xyz_where_nothing_else_is_there() -> None:
    xyz = np.array([[88.0, 91.0, 78.0], [15.0, 23.0, 57.0], [25.0, 26.0, 22.0]])
    adopted = adopt([measurement(device=DEVICE, xyz=xyz + shift) for shift in (0.0, 1.0)])
    assert adopted.quantity == "XYZ"
    assert adopted.values == pytest.approx(xyz + 0.5)
    assert adopt([measurement(device=DEVICE, xyz=xyz), measurement(device=DEVICE, lab=LAB)]).quantity == "Lab"


# --- what is refused ------------------------------------------------------------------------------------------------

OTHER_PATCH = [*DEVICE[:2], [25, 19, 19, 0]]
REFUSED = {
    "another patch": (
        [measurement(device=DEVICE, lab=LAB), measurement(device=OTHER_PATCH, lab=LAB)],
        "chart-mismatch",
        "expected checks of one chart, got 3 patches and 3 patches, of which 2 patches have the same device values",
    ),
    "a part of the chart": (
        [measurement(device=DEVICE, lab=LAB), measurement(device=DEVICE[:2], lab=LAB[:2])],
        "chart-mismatch",
        "got 3 patches and 2 patches, of which 2 patches have",
    ),
    "other inks": (
        [measurement(device=DEVICE, lab=LAB), measurement(device=np.array(DEVICE)[:, :3], inks="RGB", lab=LAB)],
        "chart-mismatch",
        "expected a chart of the inks C M Y K",
    ),
    "nothing read": ([measurement(device=DEVICE, lab=LAB * np.nan)], "no-readings", "got none"),
    "another light": (
        [measurement(device=DEVICE, lab=LAB, condition=MeasurementCondition(illuminant="D65"))],
        "not-d50-2",
        "expected colours for D50",
    ),
}


@pytest.mark.parametrize(("samples", "code", "said"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_averaged_is_refused_with_the_reason(samples: list[Measurement], code: str, said: str) -> None:
    with pytest.raises(Unscored) as refusal:
        adopt(samples)
    assert refusal.value.reason.code == code
    assert said in str(refusal.value.reason.message)
