"""Bands at the ends of spectra that hold no value in any row."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import Assumed, document_of, measurements, spectral_columns
from sentinel.core.scoring.averaging import averaged

NM = np.arange(380, 740, 10)
LAB: dict[str, list[str] | list[float]] = {"LAB_L": [95.0, 50.0], "LAB_A": [0.0, 1.0], "LAB_B": [-2.0, 3.0]}


def read(reflectance: FloatArray, with_lab: bool = False) -> Measurement:
    columns: dict[str, list[str] | list[float]] = {"SAMPLE_ID": ["1", "2"], **(LAB if with_lab else {})}
    return measurements(document_of({**columns, **spectral_columns(NM.tolist(), reflectance)}))[0]


def without(*bands: int, rows: slice = slice(None)) -> FloatArray:
    reflectance = np.array([np.full(len(NM), 0.8), np.linspace(0.2, 0.6, len(NM))])
    for band in bands:
        reflectance[rows, band] = np.nan
    return reflectance


def codes(measurement: Measurement) -> set[str]:
    return {note.code for note in measurement.assumptions}


@pytest.mark.parametrize("with_lab", [False, True])
def test_two_empty_bands_at_the_blue_end_are_left_out_and_the_chart_is_scored(with_lab: bool) -> None:
    measurement = read(without(0, 1), with_lab)
    assert measurement.wavelengths is not None
    assert (measurement.wavelengths[0], len(measurement.wavelengths)) == (400.0, len(NM) - 2)
    assert Assumed.BANDS_EMPTY in codes(measurement)
    whole = averaged(read(without()), ["1", "2"]).lab
    assert averaged(measurement, ["1", "2"]).lab == pytest.approx(whole, abs=0.1)


def test_empty_bands_where_colours_need_them_give_way_to_lab() -> None:
    measurement = read(without(0, 1, 2, 3), with_lab=True)
    assert (measurement.reflectance, measurement.wavelengths) == (None, None)
    assert Assumed.SPECTRUM_LEFT_OUT in codes(measurement)
    assert averaged(measurement, ["1", "2"]).lab.tolist() == [[95.0, 0.0, -2.0], [50.0, 1.0, 3.0]]


@pytest.mark.parametrize(
    "reflectance",
    [without(0, 1, 2, 3), without(5), without(0, 1, rows=slice(0, 1)), without(*range(len(NM)))],
    ids=["needed, no Lab", "in the middle", "of one patch", "all"],
)
def test_other_missing_values_stay_where_they_are(reflectance: FloatArray) -> None:
    measurement = read(reflectance)
    assert np.array_equal(measurement.reflectance, reflectance, equal_nan=True)  # type: ignore[arg-type]
    assert Assumed.BANDS_EMPTY not in codes(measurement)
