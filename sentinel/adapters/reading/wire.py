"""What the service and a reader in another process say to each other: frames of bounded JSON and plain arrays.

The service takes nothing on trust that comes back. Whoever wrote a file may have taken its reader over, so every
answer is checked like a file of a stranger's: `AnswerError` where anything in it is not as a reader of ours says it.
"""

from __future__ import annotations

import json
import re
import struct
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from functools import partial
from itertools import pairwise
from string import Formatter
from typing import Any, TypeVar, cast, get_args

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.conditions.event_input import MOST_EVENTS, EventFileError, EventRow
from sentinel.core.measurement import (
    About,
    Account,
    Accounted,
    Assumption,
    Backing,
    Bandpass,
    Chart,
    Created,
    Interpretation,
    MCondition,
    Measurement,
    MeasurementCondition,
    ReaderBounds,
    Unclear,
    UnreadableError,
)
from sentinel.core.message import Message

HEAD = struct.Struct(">4sIQ")
"""A frame: a mark, how long its JSON is, how long what follows the JSON is."""
MARK = b"snt1"

SLACK_BYTES = 1 << 20
TEXT_PER_BYTE = 16
MOST_TEXT_BYTES = 64 << 20
"""Bytes of JSON for a byte of a file, over the slack, and at most. Escapes and the names of members need some; a header
that many tables inherit is told with each of them."""
ARRAY_PER_BYTE = 16
"""A number takes two bytes of a text or more, and eight in an array; no reader makes two arrays of all its columns."""

LARGEST_NUMBER = 1e6
"""Far above what any column may hold."""
MOST_DEPTH = 4
MOST_VALUES = 64
LONGEST_SENTENCE = 100_000
LONGEST_CODE = 100

_SPECIFICATION = re.compile(r"[<>=^]?[-+ ]?#?0?[0-9]{0,2},?(\.[0-9]{1,2})?[a-zA-Z%]?")
_HALF_LETTER = re.compile(rb"(?<!\\)(?:\\\\)*\\u[dD][89a-fA-F]")

Checked = TypeVar("Checked")


class AnswerError(Exception):
    """An answer that no reader of ours gives."""


class BrokeError(Exception):
    """A reader met a fault of its own that nobody foresaw."""


class OutOfMemoryError(Exception):
    """A reader had no memory left."""


def framed(head: Mapping[str, Any], body_bytes: int) -> bytes:
    """The beginning of a frame, before so many bytes of its body."""
    text = json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode()
    return HEAD.pack(MARK, len(text), body_bytes) + text


def most_text(data: bytes) -> int:
    """How long the JSON of an answer about these bytes may be."""
    return min(TEXT_PER_BYTE * len(data) + SLACK_BYTES, MOST_TEXT_BYTES)


def most_arrays(data: bytes) -> int:
    """How long the arrays of an answer about these bytes may be."""
    return ARRAY_PER_BYTE * len(data) + SLACK_BYTES


# --- asking -----------------------------------------------------------------------------------------------------------


def measurements_wanted(bounds: ReaderBounds) -> dict[str, Any]:
    """The question for what was measured."""
    return {"ask": "measurements", "bounds": asdict(bounds)}


def rows_wanted(name: str) -> dict[str, Any]:
    """The question for the rows of a file of events."""
    return {"ask": "rows", "name": name}


# --- answering --------------------------------------------------------------------------------------------------------


def told_measurements(found: Sequence[Measurement]) -> tuple[dict[str, Any], list[FloatArray]]:
    """The JSON of measurements, and their arrays in its order."""
    arrays: list[FloatArray] = []
    return {"measurements": [_told(each, arrays) for each in found]}, arrays


def told_refusal(fault: UnreadableError) -> dict[str, Any]:
    """The JSON of a file that is not read."""
    place = {"line": fault.line, "column": fault.column}
    return {"unreadable": str(fault.code), "sentence": fault.sentence.as_json(), **place}


def told_rows(rows: Sequence[EventRow]) -> dict[str, Any]:
    """The JSON of rows of a file of events."""
    return {
        "rows": [[line, told.as_json(), 1] if isinstance(told, Message) else [line, told, 0] for line, told in rows]
    }


def told_faults(fault: EventFileError) -> dict[str, Any]:
    """The JSON of a file of events that is refused."""
    return {"faults": [each.as_json() for each in fault.faults]}


def _told(measurement: Measurement, arrays: list[FloatArray]) -> dict[str, Any]:
    chart, under, created, meaning = (
        measurement.chart,
        measurement.condition,
        measurement.created,
        measurement.interpretation,
    )

    def array(values: FloatArray | None) -> list[int] | None:
        if values is None:
            return None
        arrays.append(np.ascontiguousarray(values, dtype="<f8"))
        return list(values.shape)

    return {
        "ids": chart.ids,
        "names": chart.names,
        "inks": chart.inks,
        "positions": chart.positions,
        "condition": [
            under.m,
            under.backing,
            under.filter,
            under.illuminant,
            under.observer,
            under.geometry,
            under.bandpass,
        ],
        "instrument": measurement.instrument,
        "serial": measurement.serial,
        "created": created and [created.text, created.at and created.at.isoformat()],
        "keywords": dict(measurement.keywords),
        "assumptions": [[each.code, each.message, each.line] for each in measurement.assumptions],
        "parts": [[each.kind, each.name, each.account, each.meaning, each.value, each.line] for each in meaning.parts],
        "unclear": [[each.about, each.message.as_json()] for each in meaning.unclear],
        "scale": meaning.scale,
        "device": array(chart.device),
        "wavelengths": array(measurement.wavelengths),
        "reflectance": array(measurement.reflectance),
        "lab": array(measurement.lab),
        "xyz": array(measurement.xyz),
    }


# --- checking ---------------------------------------------------------------------------------------------------------


def measurements_of(head: bytes, body: bytearray, bounds: ReaderBounds) -> tuple[Measurement, ...]:
    """What an answer says was measured. Raises UnreadableError, AnswerError, BrokeError, OutOfMemoryError."""
    return _checked(lambda: _measurements(_answer(head), body, bounds))


def rows_of(head: bytes, body: bytearray) -> list[EventRow]:
    """The rows of a file of events. Raises EventFileError, AnswerError, BrokeError, OutOfMemoryError."""
    return _checked(lambda: _rows(_answer(head), body))


def plain(head: bytes) -> dict[str, Any]:
    """The JSON of a frame without anything foreign in it. Raises AnswerError."""
    return _checked(lambda: _object(head))


def _checked(taken: Callable[[], Checked]) -> Checked:
    """Any slip in taking an answer apart is a fault of the answer."""
    try:
        return taken()
    except (UnreadableError, EventFileError, AnswerError, BrokeError, OutOfMemoryError):
        raise
    except Exception as fault:
        raise AnswerError(f"{type(fault).__name__} at its parts") from fault


def _object(head: bytes) -> dict[str, Any]:
    _expect(b"\\u" not in head or _HALF_LETTER.search(head) is None, "whole letters")
    found = json.loads(head.decode())
    _expect(isinstance(found, dict), "an object")
    return dict(found)


def _answer(head: bytes) -> dict[str, Any]:
    found = _object(head)
    if "broke" in found:
        raise BrokeError(_line(found["broke"]))
    if "memory" in found:
        raise OutOfMemoryError
    return found


def _expect(holds: object, what: str) -> None:
    if not holds:
        raise AnswerError(f"expected {what}")


def _text(value: Any) -> str:
    _expect(type(value) is str, "a text")
    return str(value)


def _line(value: Any) -> str:
    return _text(value)[:LONGEST_CODE]


def _maybe_text(value: Any) -> str | None:
    return None if value is None else _text(value)


def _number(value: Any, least: int = 0) -> int:
    _expect(type(value) is int and least <= value < 2**53, "a number")
    return int(value)


def _one_of(value: Any, known: Sequence[Any]) -> Any:
    _expect(type(value) in (str, int) and value in known, "a known word")
    return value


def _list(value: Any, most: int) -> list[Any]:
    _expect(isinstance(value, list) and len(value) <= most, "a list that is not too long")
    return list(value)


def _texts(value: Any, count: int | None = None, *, most: int = 2**31) -> tuple[str, ...]:
    found = _list(value, most)
    _expect(count is None or len(found) == count, "as many texts as rows")
    _expect(all(type(each) is str for each in found), "texts")
    return tuple(found)


def _measurements(found: dict[str, Any], body: bytearray, bounds: ReaderBounds) -> tuple[Measurement, ...]:
    if "unreadable" in found:
        _expect(not body, "no arrays with a refusal")
        refusal = UnreadableError(_line(found["unreadable"]), _message(found["sentence"]))
        refusal.line, refusal.column = _number(found["line"]), _number(found["column"])
        raise refusal
    arrays = _Arrays(body)
    tables = _list(found["measurements"], bounds.tables)
    _expect(tables, "a measurement")
    read = tuple(_measurement(number, each, arrays, bounds) for number, each in enumerate(tables, 1))
    _expect(arrays.at == len(body), "no bytes beyond the arrays")
    return read


class _Arrays:
    """Takes one array after the other off what follows the JSON."""

    def __init__(self, body: bytearray) -> None:
        self._body = body
        self.at = 0

    def take(self, shape: Any, *expected: int) -> FloatArray:
        """The next array, of this shape; a number of -1 expects any."""
        told = [_number(each) for each in _list(shape, 2)]
        fits = len(told) == len(expected) and all(want in (-1, is_) for is_, want in zip(told, expected, strict=True))
        _expect(fits, f"an array of {expected}")
        count = int(np.prod(told, dtype=object))
        _expect(self.at + 8 * count <= len(self._body), "as many bytes as the array has")
        values = np.frombuffer(self._body, "<f8", count, self.at).astype(np.float64, copy=False).reshape(told)
        self.at += 8 * count
        _expect(not (np.abs(values) > LARGEST_NUMBER).any(), "numbers that are not too large")
        return values

    def maybe(self, shape: Any, *expected: int) -> FloatArray | None:
        """The same, where there is one."""
        return None if shape is None else self.take(shape, *expected)


def _measurement(number: int, told: Any, arrays: _Arrays, bounds: ReaderBounds) -> Measurement:
    ids = _texts(told["ids"], most=bounds.rows)
    rows, inks = len(ids), _texts(told["inks"], most=bounds.columns)
    names, positions = told["names"], told["positions"]
    device = arrays.take(told["device"], rows, len(inks))
    wavelengths = arrays.maybe(told["wavelengths"], -1)
    bands = None if wavelengths is None else len(wavelengths)
    _expect(wavelengths is None or _rising(wavelengths), "rising wavelengths")
    _expect((told["reflectance"] is None) == (bands is None), "reflectance with its wavelengths")
    return Measurement(
        table=number,
        chart=Chart(
            ids=ids,
            names=None if names is None else _texts(names, rows),
            inks=inks,
            device=device,
            positions=None if positions is None else _texts(positions, rows),
        ),
        condition=_condition(told["condition"]),
        wavelengths=wavelengths,
        reflectance=arrays.maybe(told["reflectance"], rows, bands or 0),
        lab=arrays.maybe(told["lab"], rows, 3),
        xyz=arrays.maybe(told["xyz"], rows, 3),
        instrument=_maybe_text(told["instrument"]),
        serial=_maybe_text(told["serial"]),
        created=_created(told["created"]),
        keywords={_text(keyword): _text(value) for keyword, value in told["keywords"].items()},
        assumptions=tuple(
            Assumption(_line(code), _text(message), _number(line)) for code, message, line in told["assumptions"]
        ),
        interpretation=_interpretation(told),
    )


def _rising(wavelengths: FloatArray) -> bool:
    values = wavelengths.tolist()
    return bool(values) and values[0] > 0 and all(before < after for before, after in pairwise(values))


def _condition(told: Any) -> MeasurementCondition:
    m, backing, light_filter, illuminant, observer, geometry, bandpass = _list(told, 7)
    return MeasurementCondition(
        m=_one_of(m, get_args(MCondition)) if m is not None else None,
        backing=_one_of(backing, get_args(Backing)) if backing is not None else None,
        filter=_maybe_text(light_filter),
        illuminant=_maybe_text(illuminant),
        observer=_one_of(observer, (2, 10)) if observer is not None else None,
        geometry=_maybe_text(geometry),
        bandpass=_one_of(bandpass, get_args(Bandpass)) if bandpass is not None else None,
    )


def _created(told: Any) -> Created | None:
    if told is None:
        return None
    text, at = _list(told, 2)
    return Created(_text(text), None if at is None else datetime.fromisoformat(_line(at)))


_KINDS = ("column", "header", "setting")


def _interpretation(told: Any) -> Interpretation:
    parts = tuple(
        Accounted(
            _one_of(kind, _KINDS), _text(name), Account(account), _text(meaning), _maybe_text(value), _number(line)
        )
        for kind, name, account, meaning, value, line in told["parts"]
    )
    unclear = tuple(Unclear(_one_of(about, get_args(About)), _message(said)) for about, said in told["unclear"])
    return Interpretation(partial(_same, parts), unclear, _text(told["scale"]))


def _same(parts: tuple[Accounted, ...]) -> tuple[Accounted, ...]:
    return parts


def _rows(found: dict[str, Any], body: bytearray) -> list[EventRow]:
    _expect(not body, "no arrays with rows")
    if "faults" in found:
        faults = [_message(each) for each in _list(found["faults"], MOST_EVENTS + 1)]
        _expect(faults, "a fault")
        raise EventFileError(*faults)
    rows: list[EventRow] = []
    for line, told, refused in _list(found["rows"], MOST_EVENTS):
        texts = _message(told) if refused else {_text(name): _text(text) for name, text in told.items()}
        rows.append((_number(line, 1), texts))
    return rows


def _message(told: Any) -> Message:
    """A sentence that can be said in any language, of a length that can be told."""
    message = Message.from_json(told)
    _check_message(message, MOST_DEPTH)
    _expect(len(str(message)) <= LONGEST_SENTENCE, "a sentence that is not too long")
    return message


def _check_message(message: Message, depth: int) -> None:
    _expect(depth > 0 and len(message.values) <= MOST_VALUES, "a sentence of few parts")
    patterns = [each for each in (message.pattern, message.several) if each is not None]
    _expect(all(type(each) is str and len(each) <= LONGEST_SENTENCE for each in patterns), "patterns")
    for _, value in message.values:
        if isinstance(value, Message):
            _check_message(value, depth - 1)
        elif isinstance(value, str):
            _expect(len(value) <= LONGEST_SENTENCE, "a part that is not too long")
        else:
            _expect(type(value) in (int, float) and abs(cast("float", value)) < 2**63, "a number")
    if message.values:
        names = {name for name, _ in message.values}
        for pattern in patterns:
            for _, name, specification, conversion in Formatter().parse(pattern):
                filled = name in names and conversion in (None, "r", "s")
                fits = _SPECIFICATION.fullmatch(specification or "") is not None
                _expect(name is None or (filled and fits), "a pattern that its parts fill")
