"""Files of events: CSV with a header row, or JSON Lines; all lines are good, or the file is refused whole."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import partial
from pathlib import PurePosixPath
from typing import Any

from sentinel.core.event_texts import EventError, Known, event_from, name_of
from sentinel.core.events import Event
from sentinel.errors import OperatorError

MOST_EVENTS = 2_000
"""Events of one file: they are written in one transaction, and others wait for the store meanwhile."""

_KINDS = {bool: "true or false", list: "an array", dict: "an object"}

_Texts = Callable[[], Mapping[str, str]]
"""Reads one line. Raises EventError."""


class EventFileError(OperatorError):
    """A file of events that is refused, with every fault and its line."""

    def __init__(self, *faults: str) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


def events_of(name: str, data: bytes, known: Known, at: datetime) -> list[tuple[int, Event]]:
    """Every event of a file with its line, counted from 1.

    The ending of `name` tells the format; `at` is when an event happened that does not say. Raises EventFileError.
    """
    events: list[tuple[int, Event]] = []
    faults: list[str] = []
    for line, texts in _lines(name, _text(data)):
        try:
            events.append((line, event_from(texts(), known, at)))
        except EventError as fault:
            faults.append(f"line {line}: {fault}")
        if len(events) + len(faults) > MOST_EVENTS:
            raise EventFileError(f"line {line}: expected at most {MOST_EVENTS} events in one file, got more")
    if faults:
        raise EventFileError(*faults)
    return events


def ends_a_line(tail: bytes) -> bool:
    """Whether the last bytes of a file end its last line: a cut one may still read as an event with other figures."""
    return tail.endswith((b"\n", b"\r"))


def _text(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        raise EventFileError(f"line {line}: expected UTF-8, got the byte {data[fault.start]:#04x}") from None
    if not text.strip():
        raise EventFileError("line 1: expected events, got an empty file")
    return text


def _lines(name: str, text: str) -> Iterator[tuple[int, _Texts]]:
    ending = PurePosixPath(name).suffix.lower()
    if ending == ".csv":
        return _csv_lines(text)
    if ending == ".jsonl":
        return _json_lines(text)
    raise EventFileError(f"expected a file that ends in .csv or .jsonl, got {name!r}")


def _csv_lines(text: str) -> Iterator[tuple[int, _Texts]]:
    header = text.splitlines()[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=header.count), strict=True)
    try:
        columns = _columns(next(reader))
        before = reader.line_num
        for row in reader:
            if any(cell.strip() for cell in row):
                yield before + 1, partial(_cells, columns, row)
            before = reader.line_num
    except csv.Error as fault:
        raise EventFileError(f"line {reader.line_num}: expected CSV, got: {fault}") from None


def _columns(header: Sequence[str]) -> list[str]:
    if not header:
        raise EventFileError("line 1: expected a header row, got a blank line")
    try:
        columns = [name_of(cell) for cell in header]
    except EventError as fault:
        raise EventFileError(f"line 1: {fault}") from None
    if twice := [column for column in dict.fromkeys(columns) if columns.count(column) > 1]:
        raise EventFileError(f"line 1: expected each column once, got {', '.join(twice)} twice")
    return columns


def _cells(columns: Sequence[str], row: Sequence[str]) -> Mapping[str, str]:
    if len(row) != len(columns):
        raise EventError(f"expected {len(columns)} cells as in the header, got {len(row)}")
    return dict(zip(columns, row, strict=True))


def _json_lines(text: str) -> Iterator[tuple[int, _Texts]]:
    for number, line in enumerate(text.split("\n"), 1):
        if line.strip():
            yield number, partial(_members, line)


def _members(line: str) -> Mapping[str, str]:
    try:
        # numbers stay as they were written: 007 is a lot, and a cell of a CSV is a text as well
        told = json.loads(line, parse_int=str, parse_float=str, parse_constant=str, object_pairs_hook=_members_once)
    except json.JSONDecodeError as fault:
        raise EventError(f"expected a JSON object, got: {fault.msg} at column {fault.colno}") from None
    except RecursionError:
        raise EventError("expected a JSON object, got values nested very deep") from None
    if not isinstance(told, dict):
        raise EventError(f"expected a JSON object, got {line.strip()[:40]!r}")
    for name, value in told.items():
        if not isinstance(value, str | None):
            raise EventError(f"expected a text or a number for {name}, got {_KINDS[type(value)]}")
    return {name: value for name, value in told.items() if value is not None}


def _members_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        raise EventError("expected each name once in an object, got one of them twice")
    return members
