"""An adopted aim reads back as what it was, and says what it was read under."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.measurement import Measurement, MeasurementCondition
from sentinel.core.measurement.cgats import measurements, read
from sentinel.core.scoring.adoption import adopt, adopted_file
from tests.unit.core.builders import WAVELENGTHS, measurement

UNDER = MeasurementCondition(m="M1", backing="white", geometry="45/0")
DEVICE = [[0.0, 0.0, 0.0, 0.0], [100.0, 0.0, 0.0, 0.0], [50.5, 40.0, 40.0, 0.0]]
LAB = np.array([[95.0, 0.5, -3.0], [55.0, -36.0, -49.0], [58.0, 0.5, -1.0]])
SPECTRA = np.random.default_rng(3).uniform(0.02, 0.9, (3, len(WAVELENGTHS)))
XYZ = np.array([[88.0, 91.0, 78.0], [15.0, 23.0, 57.0], [25.0, 26.0, 22.0]]) / 3.0
WAYS = {
    "reflectance": measurement(device=DEVICE, reflectance=SPECTRA / 3.0),
    "Lab": measurement(device=DEVICE, lab=LAB / 3.0),
    "XYZ": measurement(device=DEVICE, xyz=XYZ),
}


def back(samples: list[Measurement], **keywords: str) -> Measurement:
    [found] = measurements(read(adopted_file(adopt(samples), samples, UNDER, keywords)))
    return found


@pytest.mark.parametrize("sample", WAYS.values(), ids=WAYS)
def test_every_value_reads_back_to_the_last_bit(sample: Measurement) -> None:
    found = back([sample])
    for part in ("reflectance", "wavelengths", "lab", "xyz"):
        written, expected = getattr(found, part), getattr(sample, part)
        assert (written is None) == (expected is None)
        assert written is None or (written == expected).all()
    assert (found.chart.inks, found.chart.ids) == (sample.chart.inks, sample.chart.ids)
    assert (found.chart.device == sample.chart.device).all()


INKS = [("C", "M", "Y", "K"), ("K", "C", "M", "Y"), ("C", "M", "Y"), ("R", "G", "B"), ("C", "M", "Y", "K", "O", "V")]
INKS += [tuple(f"7CLR_{number}" for number in range(1, 8)), ("10CLR_1", "10CLR_10")]


@pytest.mark.parametrize("inks", INKS, ids="".join)
def test_device_values_keep_their_inks(inks: tuple[str, ...]) -> None:
    device = np.arange(3 * len(inks)).reshape(3, -1)
    found = back([measurement(device=device, inks=inks, lab=LAB)])
    assert found.chart.inks == inks
    assert (found.chart.device == device).all()


def test_names_are_kept_and_a_chart_without_device_values_has_none() -> None:
    found = back([measurement(ids=["1", "01", "1A"], names=["paper", "solid C", 'grey "50"'], lab=LAB)])
    assert (found.chart.ids, found.chart.names) == (("1", "01", "1A"), ("paper", "solid C", 'grey "50"'))
    assert found.chart.inks == ()


@pytest.mark.parametrize("sample", WAYS.values(), ids=WAYS)
def test_the_file_says_what_it_was_read_under(sample: Measurement) -> None:
    found = back([sample], APPROVED_BY="Ben", DESCRIPTOR="aim house, adopted from check 7 of north/satin-240")
    assert (found.condition.m, found.condition.backing, found.condition.geometry) == ("M1", "white", "45/0")
    assert found.keywords["APPROVED_BY"] == "Ben"
    if sample.reflectance is None:
        assert (found.condition.illuminant, found.condition.observer) == ("D50", 2)


def test_an_instrument_is_named_where_all_checks_share_it() -> None:
    one, other = (replace(WAYS["Lab"], serial=serial, instrument="bench") for serial in ("0042", "0043"))
    assert (back([one, one]).serial, back([one, one]).instrument) == ("0042", "bench")
    assert back([one, other]).serial is None


def test_readings_and_spread_stand_beside_each_patch() -> None:
    samples = [measurement(device=DEVICE, lab=LAB + shift) for shift in (0.0, 1.0)]
    adopted = adopt(samples)
    table = read(adopted_file(adopted, samples, UNDER, {})).tables[0]
    assert table.number["READINGS"].tolist() == [2, 2, 2]
    assert (table.number["MEAN_DE"] == adopted.mean_de00).all()
    assert (table.number["MAX_DE"] == adopted.max_de00).all()


def test_text_that_would_break_a_line_is_refused() -> None:
    with pytest.raises(ValueError, match="expected text without line breaks"):
        adopted_file(adopt([WAYS["Lab"]]), [WAYS["Lab"]], UNDER, {"APPROVED_BY": "Ben\nCGATS.17"})
