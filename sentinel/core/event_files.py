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
from sentinel.core.said import Sentence, said
from sentinel.errors import OperatorError

MOST_EVENTS = 2_000
"""Events of one file: they are written in one transaction, and others wait for the store meanwhile."""

_KINDS = {bool: said("true or false"), list: said("an array"), dict: said("an object")}

_Texts = Callable[[], Mapping[str, str]]
"""Reads one line. Raises EventError."""


class EventFileError(OperatorError):
    """A file of events that is refused, with every fault and its line."""

    def __init__(self, *faults: Sentence) -> None:
        super().__init__("\n".join(map(str, faults)))
        self.faults = faults


def events_of(name: str, data: bytes, known: Known, at: datetime) -> list[tuple[int, Event]]:
    """Every event of a file with its line, counted from 1.

    The ending of `name` tells the format; `at` is when an event happened that does not say. Raises EventFileError.
    """
    events: list[tuple[int, Event]] = []
    faults: list[Sentence] = []
    for line, texts in _lines(name, _text(data)):
        try:
            events.append((line, event_from(texts(), known, at)))
        except EventError as fault:
            faults.append(_at(line, fault.sentence))
        if len(events) + len(faults) > MOST_EVENTS:
            most = said("expected at most {most} events in one file, got more", most=MOST_EVENTS)
            raise EventFileError(_at(line, most))
    if faults:
        raise EventFileError(*faults)
    return events


def _at(line: int, fault: Sentence) -> Sentence:
    return said("line {line}: {message}", line=line, message=fault)


def ends_a_line(tail: bytes) -> bool:
    """Whether the last bytes of a file end its last line: a cut one may still read as an event with other figures."""
    return tail.endswith((b"\n", b"\r"))


def _text(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        got = said("expected UTF-8, got the byte {byte:#04x}", byte=data[fault.start])
        raise EventFileError(_at(line, got)) from None
    if not text.strip():
        raise EventFileError(_at(1, said("expected events, got an empty file")))
    return text


def _lines(name: str, text: str) -> Iterator[tuple[int, _Texts]]:
    ending = PurePosixPath(name).suffix.lower()
    if ending == ".csv":
        return _csv_lines(text)
    if ending == ".jsonl":
        return _json_lines(text)
    raise EventFileError(said("expected a file that ends in .csv or .jsonl, got {name}", name=repr(name)))


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
        got = said("expected CSV, got: {fault}", fault=str(fault))
        raise EventFileError(_at(reader.line_num, got)) from None


def _columns(header: Sequence[str]) -> list[str]:
    if not header:
        raise EventFileError(_at(1, said("expected a header row, got a blank line")))
    try:
        columns = [name_of(cell) for cell in header]
    except EventError as fault:
        raise EventFileError(_at(1, fault.sentence)) from None
    if twice := [column for column in dict.fromkeys(columns) if columns.count(column) > 1]:
        doubled = said("expected each column once, got {columns} twice", columns=", ".join(twice))
        raise EventFileError(_at(1, doubled))
    return columns


def _cells(columns: Sequence[str], row: Sequence[str]) -> Mapping[str, str]:
    if len(row) != len(columns):
        raise EventError(
            said(
                "expected {count} cell as in the header, got {found}",
                "expected {count} cells as in the header, got {found}",
                count=len(columns),
                found=len(row),
            )
        )
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
        raise EventError(
            said(
                "expected a JSON object, got: {fault} at column {column}",
                fault=fault.msg,
                column=fault.colno,
            )
        ) from None
    except RecursionError:
        raise EventError(said("expected a JSON object, got values nested very deep")) from None
    if not isinstance(told, dict):
        raise EventError(said("expected a JSON object, got {text}", text=repr(line.strip()[:40])))
    for name, value in told.items():
        if not isinstance(value, str | None):
            raise EventError(
                said("expected a text or a number for {name}, got {found}", name=name, found=_KINDS[type(value)])
            )
    return {name: value for name, value in told.items() if value is not None}


def _members_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        raise EventError(said("expected each name once in an object, got one of them twice"))
    return members
