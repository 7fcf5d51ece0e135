"""Files of events: what RFC 4180 (CSV) and RFC 8259 (JSON) allow is read; one bad line refuses the whole file."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.conditions import event_input
from sentinel.core.conditions.event_input import EventFileError, ends_a_line, events_of
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.message import Message
from tests.support.clock import NOON
from tests.unit.core.conditions.test_event_texts import KNOWN

WRITTEN = NOON - timedelta(hours=2)
HEADER = "kind,printer,substrate,at,square_metres,lot,note\n"


def read(text: str | bytes, name: str = "events.csv") -> list[tuple[int, Event]]:
    return events_of(name, text.encode() if isinstance(text, str) else text, KNOWN, WRITTEN)


def faults(text: str | bytes, name: str = "events.csv") -> tuple[str, ...]:
    with pytest.raises(EventFileError) as caught:
        read(text, name)
    return tuple(map(str, caught.value.faults))


def area(square_metres: float, at: datetime = WRITTEN, **facts: str) -> Event:
    return Event(EventKind.PRINTED_AREA, at, "north", facts={"square_metres": square_metres, **facts})


def test_a_csv_file_gives_an_event_a_row() -> None:
    rows = "printed-area,north,,2026-03-01T10:00Z,4.5,,\nstock-lot,north,satin-240,,,0042,\n"
    assert read(HEADER + rows) == [
        (2, area(4.5, datetime(2026, 3, 1, 10, tzinfo=UTC))),
        (3, Event(EventKind.STOCK_LOT, WRITTEN, "north", "satin-240", facts={"lot": "0042"})),
    ]


def test_a_json_lines_file_gives_an_event_a_line() -> None:
    rows = (
        '{"kind": "printed-area", "printer": "north", "square_metres": 4.50, "substrate": null}\n\n'
        '{"kind": "stock-lot", "printer": "north", "substrate": "satin-240", "lot": 42, "note": "caf\\u00e9"}'
    )
    assert read(rows, "EVENTS.JSONL") == [
        (1, area(4.5)),
        (3, Event(EventKind.STOCK_LOT, WRITTEN, "north", "satin-240", facts={"lot": "42", "note": "café"})),
    ]


QUOTED = 'kind,printer,square_metres,note\r\n"printed-area",north,4.5,"said ""late"",\r\ntwo lines"\r\n'


def test_quoted_cells_hold_quotes_commas_and_line_ends() -> None:
    """RFC 4180, section 2, rules 5 to 7."""
    assert read(QUOTED + "printed-area,north,1,\r\n") == [(2, area(4.5, note='said "late", two lines')), (4, area(1.0))]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_spreadsheets_of_any_country_are_read(delimiter: str, ends: str, mark: str) -> None:
    rows = (("Kind", "Printer", "Square metres"), ("printed-area", "North", "4.5"), ("", "", ""))
    assert read(mark + "".join(delimiter.join(row) + ends for row in rows)) == [(2, area(4.5))]


def test_a_header_alone_tells_that_nothing_happened() -> None:
    assert read(HEADER) == []


BAD_ROWS = {
    "a bad figure": (
        "printed-area,north,,,4;5,,",
        "line 2: expected a number such as 12.5 for square_metres, got '4;5'",
    ),
    "a cell too few": ("printed-area,north,,,4.5,", "line 2: expected 7 cells as in the header, got 6"),
    "a cell too many": ("printed-area,north,,,4.5,,,", "line 2: expected 7 cells as in the header, got 8"),
    "an open quote": ('printed-area,"north,,,4.5,,', "line 2: expected CSV, got: unexpected end of data"),
    "a column that is not of the kind": (
        "printed-area,north,,,4.5,7,",
        "line 2: expected a fact of printed-area (note, square_metres), got 'lot'",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("row", "fault"), BAD_ROWS.values(), ids=BAD_ROWS)
def test_a_bad_row_refuses_the_file_with_its_line(row: str, fault: str) -> None:
    assert faults(HEADER + row + "\n") == (fault,)


def test_every_bad_line_is_told() -> None:
    told = faults(HEADER + "printed-area,north,,,x,,\nprinted-area,north,,,1,,\nheads,west,,,,,\n")
    assert [fault.partition(":")[0] for fault in told] == ["line 2", "line 4"]


BAD_FILES = {
    "an unknown column": ("kind,printer,colour\n", "line 1: expected a name of a column (at, by, cause, celsius, "),
    "a column twice": ("kind,printer,Kind\n", "line 1: expected each column once, got kind twice"),
    "no header": ("\n\nheads,north\n", "line 1: expected a header row, got a blank line"),
    "nothing": ("", "line 1: expected events, got an empty file"),
    "blanks": (" \n\n", "line 1: expected events, got an empty file"),
    "another encoding": (HEADER.encode() + b"heads,n\xf6rth,,,,,\n", "line 2: expected UTF-8, got the byte 0xf6"),
    "a page of bytes": (b"\x00" * 9, "line 1: expected a name of a column (at, by, "),
}


@pytest.mark.parametrize(("content", "fault"), BAD_FILES.values(), ids=BAD_FILES)
def test_a_file_that_is_no_csv_of_events_is_refused(content: str | bytes, fault: str) -> None:
    [told] = faults(content)
    assert told.startswith(fault)


BAD_LINES = {
    "no object": ('["heads"]', "line 1: expected a JSON object, got '[\"heads\"]'"),
    "half an object": ('{"kind": "heads"', "line 1: expected a JSON object, got: Expecting ',' delimiter at column 17"),
    "a list": ('{"kind": "heads", "note": []}', "line 1: expected a text or a number for note, got an array"),
    "a truth": ('{"kind": "heads", "note": true}', "line 1: expected a text or a number for note, got true or false"),
    "a name twice": (
        '{"kind": "heads", "kind": "service"}',
        "line 1: expected each name once in an object, got one of them twice",
    ),
    "no number": (
        '{"kind": "printed-area", "printer": "north", "square_metres": NaN}',
        "line 1: expected a number such as 12.5 for square_metres, got 'NaN'",
    ),
    "a nest": ("[" * 60_000, "line 1: expected a JSON object, got values nested very deep"),
    "a long line": ("[" * 100_000, "line 1: expected a line of at most 65536 letters, got more"),
    "a long name": (
        '{"' + "x" * 500 + '": []}',
        "line 1: expected a text or a number for " + "x" * 60 + "…, got an array",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("line", "fault"), BAD_LINES.values(), ids=BAD_LINES)
def test_a_bad_line_of_json_refuses_the_file(line: str, fault: str) -> None:
    assert faults(line + "\n", "events.jsonl") == (fault,)


@pytest.mark.parametrize(("line", "fault"), BAD_LINES.values(), ids=BAD_LINES)
def test_a_fault_can_be_kept_and_said_again(line: str, fault: str) -> None:
    with pytest.raises(EventFileError) as caught:
        read(line + "\n", "events.jsonl")
    [told] = caught.value.faults
    kept = Message.from_json(json.loads(json.dumps(told.as_json())))
    assert kept == told
    assert str(kept) == fault


def test_a_file_of_another_kind_is_refused_with_its_name() -> None:
    assert faults("kind\n", "events.txt") == ("expected a file that ends in .csv or .jsonl, got 'events.txt'",)


def test_a_file_of_too_many_events_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(event_input, "MOST_EVENTS", 2)
    row = "printed-area,north,,,1,,\n"
    assert len(read(HEADER + 2 * row)) == 2
    assert faults(HEADER + 3 * row) == ("line 4: expected at most 2 events in one file, got more",)


NOTES = st.text(st.characters(codec="utf-8"), max_size=40)


@given(NOTES, st.floats(0, 1e9))
def test_what_one_writer_of_csv_and_one_of_json_write_reads_the_same(note: str, square_metres: float) -> None:
    """The writers are those of Python's csv and json modules; what they may not write is refused by both."""
    told = {"kind": "printed-area", "printer": "north", "square_metres": square_metres, "note": note}
    table = io.StringIO()
    writer = csv.DictWriter(table, told)
    writer.writeheader()
    writer.writerow(told)
    files = {"a.csv": table.getvalue(), "a.jsonl": json.dumps(told) + "\n"}
    shown = " ".join(note.split())
    for name, text in files.items():
        if shown.isprintable():
            expected = area(square_metres, note=shown) if shown else area(square_metres)
            assert [event for _, event in read(text, name)] == [expected]
        else:
            assert "expected note in letters that can be shown" in " ".join(faults(text, name))


@given(st.binary(max_size=200), st.sampled_from(["a.csv", "a.jsonl"]))
def test_any_bytes_are_events_or_are_refused_with_the_line(data: bytes, name: str) -> None:
    told: tuple[str, ...] = ()
    try:
        read(data, name)
    except EventFileError as refusal:
        told = tuple(map(str, refusal.faults))
    assert all(re.match(r"line [1-9]\d*: expected ", fault) for fault in told)


@pytest.mark.parametrize(("tail", "ends"), [(b"a\n", True), (b"a\r", True), (b"12", False), (b"", False)])
def test_a_file_is_whole_when_its_last_line_ends(tail: bytes, ends: bool) -> None:
    assert ends_a_line(tail) is ends


def test_a_row_longer_than_one_can_be_refuses_the_file_with_its_line() -> None:
    assert faults("kind;printer\nservice;north\nservice;" + "x" * 70_000 + "\n", "events.csv") == (
        "line 3: expected a line of at most 65536 letters, got more",
    )
    open_quote = 'kind;printer\nservice;"' + "north\n" * 20_000
    assert faults(open_quote, "events.csv")[0].endswith("expected a line of at most 65536 letters, got more")


def test_a_file_larger_than_one_can_be_is_refused() -> None:
    assert faults("\n" * 8_000_001, "events.csv") == (
        "expected a file of events of at most 8000000 bytes, got 8000001",
    )
