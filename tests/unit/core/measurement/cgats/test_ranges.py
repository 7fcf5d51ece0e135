"""What no instrument reads and no printer lays is refused with its place; what one may read at its edge is not."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sentinel.core.measurement.cgats import CgatsError, Refused, measurements, ranges, read, reflectance

FIELDS = ["SAMPLE_ID", "CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K", "LAB_L", "LAB_A", "LAB_B"]
GOOD = dict(zip(FIELDS, ["1", "0", "0", "0", "0", "95", "0", "-2"], strict=True))


def text(**cells: str) -> bytes:
    second = GOOD | {"SAMPLE_ID": "2", "CMYK_C": "100"} | cells
    fields = list(second)
    rows = ["\t".join(row.get(field, "1") for field in fields) for row in (GOOD, second)]
    head = ["CGATS.17", "BEGIN_DATA_FORMAT", "\t".join(fields), "END_DATA_FORMAT", "BEGIN_DATA"]
    return "\n".join([*head, *rows, "END_DATA", ""]).encode()


@pytest.mark.parametrize(
    ("field", "cell", "words"),
    [
        ("LAB_A", "-4E+18", "expected a*, b* between -200 and 200, but -4e+18 came for LAB_A"),
        ("LAB_B", "201", "expected a*, b* between -200 and 200, but 201 came for LAB_B"),
        ("LAB_L", "-999", "expected L* between -10 and 150, but -999 came for LAB_L"),
        ("CMYK_M", "-1", "expected device values between -0.5 and 65535.5, but -1 came for CMYK_M"),
        ("CMYK_M", "1E+09", "expected device values between -0.5 and 65535.5, but 1e+09"),
        ("D_RED", "7", "expected density between -0.5 and 6, but 7 came for D_RED"),
        (
            "SPOT_1",
            "-30",
            "expected device values between -0.5 and 65535.5, but -30 came for SPOT_1",
        ),
        ("LAB_H", "400", "expected h between -360 and 360"),
    ],
)
def test_a_value_beyond_the_range_of_its_field_is_refused_with_its_place(field: str, cell: str, words: str) -> None:
    more = {"CMYK_C": "0", "LAB_L": "50"} if field == "SPOT_1" else {}
    data = text(**{field: cell}, **more)
    with pytest.raises(CgatsError) as caught:
        measurements(read(data))
    assert caught.value.code == Refused.VALUE_IMPLAUSIBLE
    place = (7, data.decode().splitlines()[6].index(f"\t{cell}") + 2)
    assert (caught.value.line, caught.value.column) == place
    assert str(caught.value).startswith(f"line 7, column {place[1]}: {words}")


@pytest.mark.parametrize(
    ("field", "cell"),
    [
        ("LAB_L", "104.5"),
        ("LAB_L", "-0.02"),
        ("LAB_A", "NA"),
        ("LAB_B", "inf"),
        ("CMYK_M", "-0.01"),
        ("D_RED", "-0.01"),
    ],
)
def test_noise_fluorescence_and_missing_values_are_read(field: str, cell: str) -> None:
    assert len(measurements(read(text(**{field: cell})))) == 1


@pytest.mark.parametrize("line", ['""', "''", '"" ""', '" "'])
def test_a_line_of_empty_quotes_does_not_complete_a_row(line: str) -> None:
    whole = b"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 1 2\n2 50 1\n"
    with pytest.raises(CgatsError) as caught:
        read(whole + line.encode() + b"\nEND_DATA\n")
    assert caught.value.code == Refused.SHORT_ROW
    assert caught.value.line in (7, 8)


def test_the_page_states_every_range() -> None:
    page = Path(ranges.__file__).with_name("README.md").read_text()
    rows = re.findall(r"^\| ([A-Za-z_, 0-9]+?) \| (-?[\d.]+) \| (-?[\d.]+) \|$", page, re.M)
    stated = {name: (float(low), float(high)) for names, low, high in rows for name in names.split(", ")}
    known = {name: (each.lowest, each.highest) for name, each in ranges.RANGES.items()}
    assert {name: stated[name] for name in known} == known
    assert stated["device values"] == (ranges.DEVICE.lowest, ranges.DEVICE.highest)
    assert stated["reflectance"] == (reflectance.LOWEST, reflectance.HIGHEST)
    assert stated["XYZ"] == (100 * reflectance.LOWEST, 100 * reflectance.HIGHEST)
