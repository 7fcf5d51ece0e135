"""A further file format is one row: readings come from it without anything else knowing of it."""

from __future__ import annotations

import json
from collections.abc import Sequence

import numpy as np
import pytest

from sentinel.core.measurement import (
    Assumption,
    Chart,
    Format,
    Measurement,
    MeasurementCondition,
    ReaderBounds,
    UnreadableError,
)
from sentinel.core.measurement.cgats import CgatsError, measurements, read
from sentinel.core.measurement.formats import FORMATS, looks_whole, read_measurements
from sentinel.core.message import msg

CGATS_TEXT = (
    b'CGATS.17\nMEASUREMENT_CONDITION "M1"\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n'
    b"BEGIN_DATA\n1 95 0 -2\n2 50 70 -4\nEND_DATA\n"
)
BARE = b'{"lab": {"1": [95, 0, -2], "2": [50, 70, -4]}, "m": "M1"}'


class BareLab:
    """A made-up format: one JSON object, no list of anything else."""

    name = "bare Lab"

    def recognises(self, beginning: bytes) -> bool:
        return beginning.lstrip().startswith(b"{")

    def measurements(self, data: bytes, bounds: ReaderBounds) -> tuple[Measurement, ...]:
        held = json.loads(data)
        if len(held["lab"]) > bounds.rows:
            raise UnreadableError("too-many", msg("expected {rows} patches at most", rows=bounds.rows), 3, 4)
        ids, lab = tuple(held["lab"]), np.array(list(held["lab"].values()), np.float64)
        chart = Chart(ids, None, (), np.empty((len(ids), 0)))
        return (
            Measurement(
                table=1,
                chart=chart,
                condition=MeasurementCondition(m=held["m"]),
                wavelengths=None,
                reflectance=None,
                lab=lab,
                xyz=None,
                instrument=None,
                serial=None,
                created=None,
                keywords={},
                assumptions=(Assumption("bare", "nothing says which instrument"),),
            ),
        )

    def looks_whole(self, end: bytes) -> bool:
        return end.rstrip().endswith(b"}")


TWO: Sequence[Format] = (BareLab(), *FORMATS)


def test_a_further_format_is_read_where_its_content_says_so() -> None:
    [bare] = read_measurements(BARE, formats=TWO)
    [cgats] = read_measurements(CGATS_TEXT, formats=TWO)
    assert bare.lab is not None
    assert cgats.lab is not None
    np.testing.assert_array_equal(bare.lab, cgats.lab)
    assert (bare.chart.ids, bare.condition.m) == (cgats.chart.ids, cgats.condition.m) == (("1", "2"), "M1")
    assert [note.code for note in bare.assumptions] == ["bare"]


def test_a_further_format_gets_the_bounds_and_says_where_it_met_a_fault() -> None:
    with pytest.raises(UnreadableError, match="line 3, column 4: expected 1 patches at most") as refusal:
        read_measurements(BARE, ReaderBounds(rows=1), TWO)
    assert (refusal.value.code, refusal.value.line, refusal.value.column) == ("too-many", 3, 4)


def test_a_file_is_whole_that_ends_as_its_format_does() -> None:
    assert looks_whole(BARE, TWO)
    assert looks_whole(CGATS_TEXT, TWO)
    assert not looks_whole(BARE)
    assert not looks_whole(CGATS_TEXT[:-4], TWO)


@pytest.mark.parametrize("data", [b"", b" \n\n", b"\x89PNG\r\n\x1a\n\0\0", b"%PDF-1.7\n", b"Lab values\n1 2 3\n", BARE])
@pytest.mark.parametrize("formats", [FORMATS, (*FORMATS, *FORMATS)])
def test_what_no_format_recognises_is_refused_as_a_bad_cgats_text(data: bytes, formats: Sequence[Format]) -> None:
    with pytest.raises(CgatsError) as expected:
        measurements(read(data))
    with pytest.raises(UnreadableError) as refusal:
        read_measurements(data, formats=formats)
    assert (str(refusal.value), refusal.value.code) == (str(expected.value), expected.value.code)


@pytest.mark.parametrize("encoding", ["ascii", "utf-8-sig", "utf-16-le", "utf-16-be", "utf-16"])
@pytest.mark.parametrize("first", ["CGATS.17", "ISO28178", "IT8.7/2", "some program's export", "\n\r\n  cgats.5 "])
def test_cgats_is_recognised_by_its_first_line_or_its_lists(first: str, encoding: str) -> None:
    [cgats] = FORMATS
    text = f"{first}\n" + CGATS_TEXT.decode().partition("\n")[2]
    assert cgats.recognises(text.encode(encoding))


@pytest.mark.parametrize("beginning", [b"", b"\xff", b"\0\0", b"<?xml version='1.0'?>\n<a/>", BARE, b"# CGATS.17\n"])
def test_what_is_something_else_is_not_recognised(beginning: bytes) -> None:
    [cgats] = FORMATS
    assert not cgats.recognises(beginning)
