"""From the bytes of a CGATS file to aim values."""

from __future__ import annotations

import hashlib

import pytest

from sentinel.core.measurement import MeasurementCondition
from sentinel.core.scoring.score import Target, target_from
from sentinel.core.verdict import Unscored
from tests.support import cgats

DECLARED = MeasurementCondition(m="M2", backing="white")


def made(text: str, table: int = 1, declared: MeasurementCondition = DECLARED) -> Target:
    return target_from(text.encode(), "satin", table, "ink-space", declared, "0042")


def test_a_target_keeps_the_hash_of_its_bytes_and_what_it_was_named() -> None:
    text = cgats.text()
    found = made(text)
    assert (found.name, found.colour_path, found.instrument) == ("satin", "ink-space", "0042")
    assert found.sha256 == hashlib.sha256(text.encode()).hexdigest()
    assert len(found.measurement.chart.ids) == len(cgats.PATCHES)


def test_what_the_file_says_goes_before_what_was_declared() -> None:
    found = made(cgats.text(m="M1")).condition
    assert (found.m, found.backing) == ("M1", "white")


def test_what_the_file_does_not_say_is_declared() -> None:
    found = made(cgats.text(m=None)).condition
    assert (found.m, found.backing) == ("M2", "white")


def test_the_table_asked_for_is_taken() -> None:
    text = cgats.file_of(cgats.table(), cgats.table(5.0))
    assert made(text, 2).measurement.table == 2
    assert made(text, 2).measurement.lab is not None
    assert made(text, 2).measurement.lab[0, 0] == cgats.PATCHES[0].lab[0] + 5.0  # type: ignore[index]


IDS_ALONE = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID\nEND_DATA_FORMAT\nBEGIN_DATA\n1\n2\nEND_DATA\n"


@pytest.mark.parametrize(
    ("text", "table", "said"),
    [
        ("no chart at all", 1, "the aim satin cannot be read: "),
        ("", 1, "the aim satin cannot be read: "),
        (cgats.text(), 2, "expected 2 measurements or more in the aim satin, got 1"),
        (IDS_ALONE, 1, "expected spectral, Lab or XYZ columns in the aim satin, got none of them"),
    ],
    ids=["no CGATS", "empty", "too few tables", "no colours"],
)
def test_a_file_that_cannot_serve_as_a_target_is_refused_with_the_reason(text: str, table: int, said: str) -> None:
    with pytest.raises(Unscored) as refusal:
        made(text, table)
    assert refusal.value.reason.code == "target-not-readable"
    assert said in str(refusal.value.reason.message)
