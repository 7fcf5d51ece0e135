"""Spectral columns in every spelling and order, and the scale their values are in."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import Assumed, CgatsDocument, CgatsError, Refused, document_of, measurements, read

BANDS = (400, 410, 420)
VALUES = [[0.85, 0.86, 0.87], [0.04, 0.05, 0.06]]


def chart(fields: list[str], rows: list[list[object]]) -> bytes:
    lines = ["CGATS.17", f"NUMBER_OF_FIELDS {len(fields)}", "BEGIN_DATA_FORMAT", "\t".join(fields), "END_DATA_FORMAT"]
    lines += [f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA", *("\t".join(map(str, row)) for row in rows), "END_DATA"]
    return "\n".join(lines).encode()


def measured(fields: list[str], rows: list[list[object]]) -> Measurement:
    return measurements(read(chart(fields, rows)))[0]


def spectral(names: list[str], values: list[list[float]]) -> Measurement:
    return measured(["SAMPLE_ID", *names], [[number, *row] for number, row in enumerate(values)])


def refusal(names: list[str], values: list[list[float]]) -> CgatsError:
    with pytest.raises(CgatsError) as caught:
        spectral(names, values)
    return caught.value


def assert_bands(measurement: Measurement, values: list[list[float]] = VALUES) -> None:
    assert measurement.wavelengths is not None
    assert measurement.reflectance is not None
    assert measurement.wavelengths.tolist() == list(BANDS)
    assert measurement.reflectance.tolist() == values


@pytest.mark.parametrize(
    "spelling",
    [
        "SPECTRAL_NM{}",
        "SPECTRAL_NM_{}",
        "SPECTRAL_{}",
        "SPEC_{}",
        "nm{}",
        "{}nm",
        "{}_NM",
        "NM_{}",
        "R_{}",
        "Spectral_{}nm",
    ],
)
def test_item_18_every_spelling_of_a_band_is_read(spelling: str) -> None:
    assert_bands(spectral([spelling.format(band) for band in BANDS], VALUES))


@pytest.mark.parametrize(("field", "scale"), [("SPECTRAL_DEC", 1), ("SPECTRAL_PCT", 100)])
def test_item_18_pairs_of_wavelength_and_value_are_read(field: str, scale: int) -> None:
    pairs: list[list[object]] = [
        [number, *(cell for nm, value in zip(BANDS, row, strict=True) for cell in (nm, round(value * scale, 6)))]
        for number, row in enumerate(VALUES)
    ]
    assert_bands(measured(["SAMPLE_ID", *(["SPECTRAL_NM", field] * 3)], pairs))


def test_item_18_pair_whose_wavelength_varies_down_the_rows_is_refused_with_its_place() -> None:
    rows: list[list[object]] = [[1, 400, 0.5, 410, 0.5], [2, 400, 0.5, 420, 0.5]]
    with pytest.raises(CgatsError) as caught:
        measured(["SAMPLE_ID", "SPECTRAL_NM", "SPECTRAL_DEC", "SPECTRAL_NM", "SPECTRAL_DEC"], rows)
    assert (caught.value.code, caught.value.line, caught.value.column) == (Refused.WAVELENGTH_VARIES, 9, 11)


@pytest.mark.parametrize(
    "fields",
    [
        ["SPECTRAL_NM", "SPECTRAL_DEC", "SPECTRAL_NM"],
        ["SPECTRAL_DEC", "SPECTRAL_NM"],
        ["SPECTRAL_NM", "SPECTRAL_DEC", "SPECTRAL_NM", "SPECTRAL_PCT"],
    ],
)
def test_item_18_value_without_its_wavelength_is_refused(fields: list[str]) -> None:
    with pytest.raises(CgatsError) as caught:
        measured(["SAMPLE_ID", *fields], [list[object]([1, 400, 0.5, 410, 0.5][: len(fields) + 1])])
    assert caught.value.code == Refused.SPECTRUM_UNPAIRED


def test_item_18_unsorted_bands_are_sorted_and_said_to_be() -> None:
    names = [f"SPECTRAL_NM{band}" for band in (420, 400, 410)]
    measurement = spectral(names, [[row[2], row[0], row[1]] for row in VALUES])
    assert_bands(measurement)
    assert Assumed.WAVELENGTHS_SORTED in {note.code for note in measurement.assumptions}


@pytest.mark.parametrize("interval", [5, 10, 20])
def test_item_18_intervals_of_5_10_and_20_nm_are_taken(interval: int) -> None:
    names = [f"SPECTRAL_NM{340 + interval * band}" for band in range(3)]
    assert spectral(names, VALUES).wavelengths is not None


@pytest.mark.parametrize(
    ("bands", "code"),
    [
        ((400, 410, 425), Refused.WAVELENGTH_IRREGULAR),
        ((400, 410, 430), Refused.WAVELENGTH_IRREGULAR),
        ((400, 401, 402), Refused.WAVELENGTH_IRREGULAR),
        ((400, 430, 460), Refused.WAVELENGTH_IRREGULAR),
        ((330, 340, 350), Refused.WAVELENGTH_OUT_OF_RANGE),
        ((840, 850, 860), Refused.WAVELENGTH_OUT_OF_RANGE),
    ],
)
def test_item_18_irregular_and_far_off_wavelengths_are_refused(bands: tuple[int, ...], code: Refused) -> None:
    assert refusal([f"SPECTRAL_NM{band}" for band in bands], VALUES).code == code


def test_item_18_single_band_is_refused() -> None:
    assert refusal(["SPECTRAL_NM400"], [[0.5]]).code == Refused.WAVELENGTH_IRREGULAR


def test_item_18_doubled_wavelength_is_refused_whatever_its_spelling() -> None:
    assert refusal(["SPECTRAL_NM400", "nm400", "nm410"], VALUES).code == Refused.FIELD_DOUBLED
    rows: list[list[object]] = [[1, 400, 0.5, 400, 0.5]]
    with pytest.raises(CgatsError) as caught:
        measured(["SAMPLE_ID", "SPECTRAL_NM", "SPECTRAL_DEC", "SPECTRAL_NM", "SPECTRAL_DEC"], rows)
    assert caught.value.code == Refused.WAVELENGTH_DOUBLED


@pytest.mark.parametrize("name", ["SPECTRAL_NM4x0", "SPEC_4O0", "R_4x0", "4x0nm", "SPECTRAL_NM" + "4" * 400])
def test_item_18_garbled_wavelength_is_refused_rather_than_left_out(name: str) -> None:
    assert refusal([name, "nm410", "nm420"], VALUES).code == Refused.WAVELENGTH_UNREADABLE


def assert_scale(measurement: Measurement, code: Assumed, stated: str) -> None:
    assert any(note.code == code and stated in note.message for note in measurement.assumptions)


def test_item_19_reflectance_from_0_to_1_is_taken_as_it_is_and_said_to_be() -> None:
    measurement = spectral(["nm400", "nm410", "nm420"], VALUES)
    assert_bands(measurement)
    assert_scale(measurement, Assumed.REFLECTANCE_SCALE, "from 0 to 1")


def test_item_19_reflectance_in_percent_becomes_fractions_and_is_said_to_be() -> None:
    measurement = spectral(["nm400", "nm410", "nm420"], [[85, 86, 87], [4, 5, 6]])
    assert_bands(measurement)
    assert_scale(measurement, Assumed.REFLECTANCE_SCALE, "from 0 to 100")


def test_item_19_fluorescence_above_1_and_slightly_negative_values_are_read() -> None:
    values = [[0.9, 1.31, 0.95], [0.04, -0.002, 0.03]]
    assert_bands(spectral(["nm400", "nm410", "nm420"], values), values)


def test_item_19_dark_patches_do_not_turn_percent_into_fractions() -> None:
    values = [[85.0, 86.0, 87.0], [0.4, 0.5, 0.6], [0.3, 0.3, 0.3]]
    measurement = spectral(["nm400", "nm410", "nm420"], values)
    assert measurement.reflectance is not None
    assert measurement.reflectance[1].tolist() == [0.004, 0.005, 0.006]


def test_item_19_single_large_value_among_fractions_does_not_turn_them_into_percent() -> None:
    values = [[0.8, 0.8, 0.8]] * 9 + [[0.8, 85.0, 0.8]]
    assert refusal(["nm400", "nm410", "nm420"], values).code == Refused.SCALE_AMBIGUOUS


def test_item_19_patches_without_any_value_do_not_count_for_the_scale() -> None:
    document = document_of({"SAMPLE_ID": list("12345"), **{f"XYZ_{axis}": [84.0] + [np.nan] * 4 for axis in "XYZ"}})
    xyz = measurements(document)[0].xyz
    assert xyz is not None
    assert xyz[0].tolist() == [84.0] * 3


@pytest.mark.parametrize(
    "values",
    [[[0.8, -0.5, 0.8]], [[85.0, 86.0, 870.0]], [[85.0, 86.0, -20.0]]],
)
def test_item_19_impossible_reflectance_is_refused_with_its_place(values: list[list[float]]) -> None:
    fault = refusal(["nm400", "nm410", "nm420"], values)
    assert fault.code == Refused.VALUE_IMPLAUSIBLE
    assert fault.line == 8
    assert fault.column > 0


@pytest.mark.parametrize(
    ("values", "stated"), [([[0.8448, 0.8762, 0.7457]], "0 to 1"), ([[84.48, 87.62, 74.57]], "100")]
)
def test_item_19_xyz_is_given_with_100_for_the_perfect_diffuser(values: list[list[float]], stated: str) -> None:
    measurement = spectral(["XYZ_X", "XYZ_Y", "XYZ_Z"], values)
    assert measurement.xyz is not None
    np.testing.assert_allclose(measurement.xyz, [[84.48, 87.62, 74.57]], rtol=1e-15)
    assert_scale(measurement, Assumed.XYZ_SCALE, stated)


def test_all_values_missing_are_read_as_missing() -> None:
    document: CgatsDocument = document_of({"SAMPLE_ID": ["1"], "nm400": [np.nan], "nm410": [np.nan]})
    reflectance = measurements(document)[0].reflectance
    assert reflectance is not None
    assert np.isnan(reflectance).all()
