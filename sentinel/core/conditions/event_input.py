"""An event out of the texts in which people and other systems tell it: words of a command, CSV, JSON Lines."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from functools import partial
from pathlib import PurePosixPath
from typing import Any

from sentinel.core.conditions.calendar import Weekday
from sentinel.core.conditions.events import (
    ANSWERED_FOR,
    FACTS,
    KEPT_AS,
    OF_PRINTER,
    OF_STOCK,
    REQUIRED,
    WORDS,
    Event,
    EventKind,
)
from sentinel.core.conditions.name import Catalogue, folded, nearest
from sentinel.core.message import Message, msg
from sentinel.errors import OperatorError

NAMES = tuple(dict.fromkeys([*WORDS, *(fact for facts in FACTS.values() for fact in facts)]))
"""What every event may tell, and the facts of every kind: the columns a file may have."""

EARLIEST, LATEST = datetime(1970, 1, 1, tzinfo=UTC), datetime(9000, 1, 1, tzinfo=UTC)
"""Beyond these, another zone can leave the calendar."""
AHEAD = timedelta(days=1)
"""How far a clock elsewhere may be ahead of ours."""

LONGEST = 1000
"""Letters of one text."""
LONGEST_LINE = 64 * 1024
"""Letters of one line, and of one row where it goes on over several: texts of every kind fit many times over."""
LARGEST_FILE = 8_000_000
"""Bytes of a file of events: as many as one may hold, each with a long note."""
_MOST_SHOWN = 60

RANGES = {"celsius": (-50.0, 100.0), "percent_humidity": (0.0, 100.0)}
ANY_AMOUNT = (0.0, 1e9)

_COUNT = re.compile(r"[0-9]{1,15}")
_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?")
_FOLDED = {folded(name): name for name in NAMES} | {folded(kept): name for name, kept in KEPT_AS.items()}


class EventError(OperatorError):
    """A told event that cannot be taken: `sentence` is what was expected and what came."""

    def __init__(self, sentence: Message) -> None:
        super().__init__(str(sentence))
        self.sentence = sentence


@dataclass(frozen=True, slots=True)
class Known:
    """What is known where an event is told: the names that exist, the site's zone, the time (aware)."""

    names: Catalogue
    zone: tzinfo
    now: datetime


def event_from(texts: Mapping[str, str], known: Known, at: datetime | None = None) -> Event:
    """The event that these texts tell, keyed by WORDS and the names of facts; empty ones count as absent.

    `at` is when it happened where the texts do not say: now, where it is None. Its time is in UTC. Raises EventError.
    """
    told = _canonical(texts)
    kind = kind_of(told.pop("kind", None))
    printer = one_of(msg("expected a printer ({names})"), told.pop("printer", None), known.names.printers)
    substrate = _substrate(kind, told.pop("substrate", None), known.names)
    mode = _mode(kind, printer, substrate, told.pop("mode", None), known.names)
    when = told.pop("at", None)
    by = told.pop("by", None)
    event = Event(
        kind=kind,
        at=_past(when, known) if when else (at or known.now).astimezone(UTC),
        printer=printer,
        substrate=substrate,
        mode=mode,
        facts=_facts(kind, told),
        told_by=by,
    )
    _refuse_unanswered(event, event.at.astimezone(known.zone).date())
    return event


LONGEST_SKIP = timedelta(days=60)
"""As far as the probability of being out of tolerance is known ahead."""


def _refuse_unanswered(event: Event, today: date) -> None:
    """What overrules the rules must be answered for, and say a day that is neither over nor far."""
    if event.kind not in ANSWERED_FOR:
        return
    if event.told_by is None:
        raise EventError(msg("expected {facts} with {kind}, got none", facts="by", kind=event.kind))
    days = [name for name in ("on", "every") if name in event.facts]
    if event.kind is EventKind.CHECK_WANTED and len(days) != 1:
        found = msg("both") if days else msg("none of them")
        raise EventError(msg("expected either on or every with {kind}, got {found}", kind=event.kind, found=found))
    first = today if event.kind is EventKind.CHECK_WANTED else today + timedelta(days=1)
    for name in ("on", "until"):
        text = event.facts.get(name)
        if text is not None and not first <= date.fromisoformat(text) <= today + LONGEST_SKIP:
            raise EventError(
                msg(
                    "expected for {name} a day from {first} to {last}, got {text}",
                    name=name,
                    first=first,
                    last=today + LONGEST_SKIP,
                    text=_told(text),
                )
            )


def kind_of(text: str | None) -> EventKind:
    """The kind of event that the text is a spelling of. Raises EventError."""
    return EventKind(one_of(msg("expected a kind of event ({names})"), text, _spellings(EventKind)))


def name_of(column: str) -> str:
    """The one of NAMES that this spelling stands for: case, blanks, hyphens and underscores do not matter.

    Raises EventError where there is none.
    """
    return one_of(msg("expected a name of a column ({names})"), column, _FOLDED)


def moment(text: str, zone: tzinfo) -> datetime:
    """The time in UTC that a text in ISO 8601 names, read in `zone` where it names none. Raises EventError."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        message = msg(
            "expected a time such as 2026-03-02T14:30 or 2026-03-02T14:30+01:00, got {text}", text=_told(text)
        )
        raise EventError(message) from None
    at = at if at.tzinfo is not None else at.replace(tzinfo=zone)
    if not EARLIEST <= at < LATEST:
        raise EventError(
            msg(
                "expected a time from {first} to {last}, got {text}",
                first=EARLIEST.year,
                last=LATEST.year,
                text=_told(text),
            )
        )
    return at.astimezone(UTC)


def one_of(expected: Message, text: str | None, spellings: Mapping[str, str] | Collection[str]) -> str:
    """The name that the text is a spelling of; a mapping of spellings is keyed by their folded form.

    `expected` still lacks its `names`. Raises EventError.
    """
    known = spellings if isinstance(spellings, Mapping) else _spellings(spellings)
    found = known.get(folded(text or ""))
    if found is None:
        raise _unknown(expected, text, known.values())
    return found


def one_line(name: str, text: str) -> str:
    """The text with its blanks made one, '' where it has nothing else. Raises EventError for what cannot be shown."""
    line = " ".join(text.split())
    name = shortened(name)
    if not line.isprintable():
        raise EventError(msg("expected {name} in letters that can be shown, got {text}", name=name, text=_told(text)))
    if len(line) > LONGEST:
        raise EventError(
            msg("expected {name} in at most {most} letters, got {found}", name=name, most=LONGEST, found=len(line))
        )
    return line


def _canonical(texts: Mapping[str, str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for spelling, text in texts.items():
        name = _FOLDED.get(folded(spelling), spelling)
        if name in found:
            raise EventError(msg("expected {name} once, got it twice", name=shortened(name)))
        found[name] = one_line(name, text)
    return {name: text for name, text in found.items() if text}


def _substrate(kind: EventKind, text: str | None, names: Catalogue) -> str | None:
    if kind in OF_PRINTER and text is not None:
        raise EventError(
            msg(
                "expected no substrate with {kind}, which speaks of the whole printer, got {text}",
                kind=kind,
                text=_told(text),
            )
        )
    if kind in OF_STOCK or text is not None:
        return one_of(msg("expected a substrate ({names})"), text, names.substrates)
    return None


def _mode(kind: EventKind, printer: str, substrate: str | None, text: str | None, names: Catalogue) -> str | None:
    if text is None:
        return None
    if kind in OF_PRINTER:
        raise EventError(
            msg(
                "expected no print mode with {kind}, which speaks of the whole printer, got {text}",
                kind=kind,
                text=_told(text),
            )
        )
    modes = {
        each.mode
        for each in names.conditions
        if each.mode is not None and each.printer == printer and substrate in (None, each.substrate)
    }
    place = f"{printer}/{substrate}" if substrate else printer
    return one_of(msg("expected a print mode of {place} ({names})", place=place), text, modes)


def _past(text: str, known: Known) -> datetime:
    at = moment(text, known.zone)
    if at > known.now + AHEAD:
        now = f"{known.now.astimezone(known.zone):%Y-%m-%d %H:%M}"  # in the form in which a time is told
        raise EventError(msg("expected a time that has come, now being {now}, got {text}", now=now, text=_told(text)))
    return at


def _facts(kind: EventKind, told: Mapping[str, str]) -> dict[str, str | float | int]:
    allowed = [*FACTS[kind], "note"]
    for name in told:
        if name not in allowed:
            raise _unknown(msg("expected a fact of {kind} ({names})", kind=kind), name, allowed)
    if missing := sorted(REQUIRED.get(kind, frozenset()) - told.keys()):
        raise EventError(msg("expected {facts} with {kind}, got none", facts=", ".join(missing), kind=kind))
    return {KEPT_AS.get(name, name): READ_AS[FACTS[kind].get(name, str)](name, text) for name, text in told.items()}


def _count(name: str, text: str) -> int:
    if _COUNT.fullmatch(text) is None:
        raise EventError(msg("expected a whole number such as 118 for {name}, got {text}", name=name, text=_told(text)))
    return int(text)


def _number(name: str, text: str) -> float:
    if _NUMBER.fullmatch(text) is None:
        raise EventError(msg("expected a number such as 12.5 for {name}, got {text}", name=name, text=_told(text)))
    least, most = RANGES.get(name, ANY_AMOUNT)
    if not least <= float(text) <= most:
        raise EventError(
            msg(
                "expected {name} from {least:g} to {most:g}, got {text}",
                name=name,
                least=least,
                most=most,
                text=_told(text),
            )
        )
    return float(text)


def _day(name: str, text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        message = msg("expected a day such as 2026-03-02 for {name}, got {text}", name=name, text=_told(text))
        raise EventError(message) from None


def _weekday(name: str, text: str) -> str:
    return one_of(msg("expected for {name} a day of the week ({names})", name=name), text, _spellings(Weekday))


READ_AS: Mapping[type, Callable[[str, str], str | float | int]] = {
    str: lambda _, text: text,
    float: _number,
    int: _count,
    date: _day,
    Weekday: _weekday,
}
"""How the text of a fact is read, by the type it is kept as. Each raises EventError."""


def _spellings(names: Iterable[str]) -> dict[str, str]:
    return {folded(name): str(name) for name in names}


def _unknown(expected: Message, text: str | None, known: Iterable[str]) -> EventError:
    """`expected` still lacks its `names`."""
    names = sorted(set(known))
    expected = expected.format(names=", ".join(names) or msg("there is none"))
    if text is None:
        return EventError(msg("{expected}, got none", expected=expected))
    near = nearest(text, names)
    if near is None:
        return EventError(msg("{expected}, got {text}", expected=expected, text=_told(text)))
    return EventError(
        msg("{expected}, got {text}; did you mean {near}?", expected=expected, text=_told(text), near=repr(near))
    )


def shortened(text: str) -> str:
    """As much of a text as a message has room for."""
    return text if len(text) <= _MOST_SHOWN else text[:_MOST_SHOWN] + "…"


def _told(text: str) -> str:
    return repr(shortened(text))


MOST_EVENTS = 2_000
"""Events of one file: they are written in one transaction, and others wait for the store meanwhile."""

_KINDS = {bool: msg("true or false"), list: msg("an array"), dict: msg("an object")}

EventRow = tuple[int, Mapping[str, str] | Message]
"""A line's number with the texts it tells an event in, or with what is wrong with it."""

_Texts = Callable[[], Mapping[str, str]]
"""Reads one line. Raises EventError."""


class EventFileError(OperatorError):
    """A file of events that is refused, with every fault and its line."""

    def __init__(self, *faults: Message) -> None:
        super().__init__("\n".join(map(str, faults)))
        self.faults = faults


def events_of(name: str, data: bytes, known: Known, at: datetime) -> list[tuple[int, Event]]:
    """Every event of a file with its line, counted from 1.

    The ending of `name` tells the format; `at` is when an event happened that does not say. Raises EventFileError.
    """
    return events_from(event_rows(name, data), known, at)


def event_rows(name: str, data: bytes) -> list[EventRow]:
    """What each line of a file tells, not held against anything yet. Raises EventFileError."""
    if len(data) > LARGEST_FILE:
        message = msg(
            "expected a file of events of at most {most} bytes, got {found}", most=LARGEST_FILE, found=len(data)
        )
        raise EventFileError(message)
    rows: list[EventRow] = []
    for line, texts in _lines(name, _text(data)):
        try:
            rows.append((line, texts()))
        except EventError as fault:
            rows.append((line, fault.sentence))
        if len(rows) > MOST_EVENTS:
            most = msg("expected at most {most} events in one file, got more", most=MOST_EVENTS)
            raise EventFileError(at_line(line, most))
    return rows


def events_from(rows: Iterable[EventRow], known: Known, at: datetime) -> list[tuple[int, Event]]:
    """The event of every row, with its line; `at` is when one happened that does not say. Raises EventFileError."""
    events: list[tuple[int, Event]] = []
    faults: list[Message] = []
    for line, told in rows:
        try:
            events.append((line, event_from(_texts_of(told), known, at)))
        except EventError as fault:
            faults.append(at_line(line, fault.sentence))
    if faults:
        raise EventFileError(*faults)
    return events


def _texts_of(told: Mapping[str, str] | Message) -> Mapping[str, str]:
    if isinstance(told, Message):
        raise EventError(told)
    return told


def at_line(line: int, fault: Message) -> Message:
    """The fault with the number of its line."""
    return msg("line {line}: {message}", line=line, message=fault)


def ends_a_line(tail: bytes) -> bool:
    """Whether the last bytes of a file end its last line: a cut one may still read as an event with other figures."""
    return tail.endswith((b"\n", b"\r"))


def _text(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        got = msg("expected UTF-8, got the byte {byte:#04x}", byte=data[fault.start])
        raise EventFileError(at_line(line, got)) from None
    if not text.strip():
        raise EventFileError(at_line(1, msg("expected events, got an empty file")))
    return text


def _lines(name: str, text: str) -> Iterator[tuple[int, _Texts]]:
    ending = PurePosixPath(name).suffix.lower()
    if ending == ".csv":
        return _csv_lines(text)
    if ending == ".jsonl":
        return _json_lines(text)
    raise EventFileError(msg("expected a file that ends in .csv or .jsonl, got {name}", name=repr(name)))


def _csv_lines(text: str) -> Iterator[tuple[int, _Texts]]:
    lines = _BoundedLines(text)
    reader = csv.reader(lines, delimiter=max(",;\t", key=lines.first.count), strict=True)
    try:
        columns = _columns(next(reader))
        before = reader.line_num
        lines.row_ends()
        for row in reader:
            if any(cell.strip() for cell in row):
                yield before + 1, partial(_cells, columns, row)
            before = reader.line_num
            lines.row_ends()
    except csv.Error as fault:
        got = msg("expected CSV, got: {fault}", fault=str(fault))
        raise EventFileError(at_line(reader.line_num, got)) from None


class _BoundedLines:
    """The lines of a CSV; refuses a row that is longer than one can be."""

    def __init__(self, text: str) -> None:
        self._lines = io.StringIO(text, newline="")
        self._number = 0
        self._letters = 0
        self.first = self._lines.readline(LONGEST_LINE)
        self._lines.seek(0)

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = self._lines.readline(LONGEST_LINE + 1)
        if not line:
            raise StopIteration
        self._number += 1
        self._letters += len(line)
        if self._letters > LONGEST_LINE:
            raise EventFileError(at_line(self._number, _too_long()))
        return line

    def row_ends(self) -> None:
        """What comes next is another row."""
        self._letters = 0


def _too_long() -> Message:
    return msg("expected a line of at most {most} letters, got more", most=LONGEST_LINE)


def _columns(header: Sequence[str]) -> list[str]:
    if not header:
        raise EventFileError(at_line(1, msg("expected a header row, got a blank line")))
    try:
        columns = [name_of(cell) for cell in header]
    except EventError as fault:
        raise EventFileError(at_line(1, fault.sentence)) from None
    if twice := [column for column, times in Counter(columns).items() if times > 1]:
        doubled = msg("expected each column once, got {columns} twice", columns=", ".join(twice))
        raise EventFileError(at_line(1, doubled))
    return columns


def _cells(columns: Sequence[str], row: Sequence[str]) -> Mapping[str, str]:
    if len(row) != len(columns):
        raise EventError(
            msg(
                "expected {count} cell as in the header, got {found}",
                "expected {count} cells as in the header, got {found}",
                count=len(columns),
                found=len(row),
            )
        )
    return dict(zip(columns, row, strict=True))


def _json_lines(text: str) -> Iterator[tuple[int, _Texts]]:
    for number, line in enumerate(io.StringIO(text), 1):
        if not line.isspace():
            yield number, partial(_members, line.rstrip("\n"))


def _members(line: str) -> Mapping[str, str]:
    if len(line) > LONGEST_LINE:
        raise EventError(_too_long())
    try:
        # numbers stay as they were written: 007 is a lot, and a cell of a CSV is a text as well
        told = json.loads(line, parse_int=str, parse_float=str, parse_constant=str, object_pairs_hook=_members_once)
    except json.JSONDecodeError as fault:
        raise EventError(
            msg(
                "expected a JSON object, got: {fault} at column {column}",
                fault=fault.msg,
                column=fault.colno,
            )
        ) from None
    except RecursionError:
        raise EventError(msg("expected a JSON object, got values nested very deep")) from None
    if not isinstance(told, dict):
        raise EventError(msg("expected a JSON object, got {text}", text=repr(line.strip()[:40])))
    for name, value in told.items():
        if not isinstance(value, str | None):
            raise EventError(
                msg(
                    "expected a text or a number for {name}, got {found}",
                    name=shortened(name),
                    found=_KINDS[type(value)],
                )
            )
    return {name: value for name, value in told.items() if value is not None}


def _members_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        raise EventError(msg("expected each name once in an object, got one of them twice"))
    return members
