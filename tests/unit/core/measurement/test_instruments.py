"""Whether two readings were made with the same instrument, by what files say."""

from __future__ import annotations

import pytest

from sentinel.core.measurement import InstrumentName


@pytest.mark.parametrize(
    ("first", "second", "other"),
    [
        (InstrumentName("4711"), InstrumentName("4712"), True),
        (InstrumentName("SN 0047-11"), InstrumentName("sn004711"), False),
        (InstrumentName("0815"), InstrumentName("815"), False),
        (InstrumentName("4711", "Spectro A"), InstrumentName("4711", "Table B"), False),
        (InstrumentName(None, "Spectro A"), InstrumentName("4712", "Table B"), True),
        (InstrumentName(None, "Spectro A"), InstrumentName(None, "Spectro A v2.1, M1"), None),
        (InstrumentName("4711"), InstrumentName(), None),
        (InstrumentName(), InstrumentName(), None),
        (InstrumentName("--"), InstrumentName("4711"), None),
    ],
)
def test_serial_numbers_decide_and_names_where_one_lacks(
    first: InstrumentName, second: InstrumentName, other: bool | None
) -> None:
    assert first.is_other_than(second) is other
    assert second.is_other_than(first) is other


def test_a_serial_number_is_told_before_a_name() -> None:
    assert InstrumentName("4711", "Spectro A").told == "4711"
    assert InstrumentName(None, "Spectro A").told == "Spectro A"
    assert InstrumentName().told is None
