"""Texts made to be slow or large, of about as many bytes as are asked for: measurement files and files of events."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from types import MappingProxyType

from sentinel.application.checking import Assessor
from sentinel.cli.check import check_json, check_text
from sentinel.cli.inspect import inspected_json, inspected_text
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.payloads import Envelope, ReasonFacts, RefusedFileCase
from sentinel.core.cases.records import Notice
from sentinel.core.conditions.checks import UnscoredFile
from sentinel.core.conditions.event_input import EventFileError, Known, events_of
from sentinel.core.conditions.name import Catalogue, Clues, ConditionName, route
from sentinel.core.dropped_file import BEGINNING_BYTES, TAIL_BYTES, never_whole
from sentinel.core.measurement import MeasurementCondition
from sentinel.core.measurement.cgats import assumed_of, survey
from sentinel.core.measurement.formats import looks_whole, read_measurements
from sentinel.core.policy import HousePolicy
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.score import Target, target_from
from sentinel.core.verdict import Unscored
from sentinel.render.notices import Letters
from sentinel.render.notices.forms import Form
from sentinel.render.put_aside import reason_text, refused_text
from tests.support.room import Room

Shape = Callable[[int], bytes]


def table(fields: Sequence[str], rows: Sequence[str], header: str = "", gap: str = "\t") -> str:
    """One table, with header lines above it."""
    names, body = gap.join(fields), "\n".join(rows)
    return f"CGATS.17\n{header}BEGIN_DATA_FORMAT\n{names}\nEND_DATA_FORMAT\nBEGIN_DATA\n{body}\nEND_DATA\n"


def times(unit: str, size: int) -> str:
    """A text of so many bytes of one unit."""
    return unit * max(1, size // len(unit.encode()))


def many(row: str, size: int) -> list[str]:
    """A row as often as it fits, twice at least."""
    return [row] * max(2, size // (len(row.encode()) + 1))


def numbered(form: str, size: int) -> list[str]:
    """As many different lines as fit, at most."""
    return [form.format(number) for number in range(max(2, size // (len(form) + 5)))]


LAB = ("SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B")
NUMBERS = "1\t50\t1\t2"
INKS = ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K")
BANDS = tuple(f"SPECTRAL_NM{380 + 10 * band}" for band in range(36))


def header(line: Callable[[int], str], fields: Sequence[str] = LAB, row: str = NUMBERS) -> Shape:
    """A file of header lines above one row."""
    return lambda n: table(fields, [row], line(n) + "\n").encode()


def rows(of: Callable[[int], Sequence[str]], fields: Sequence[str] = LAB, gap: str = "\t") -> Shape:
    """A file of rows."""
    return lambda n: table(fields, of(n), gap=gap).encode()


def fields(of: Callable[[int], Sequence[str]], gap: str = "\t") -> Shape:
    """A file of names of fields."""
    return lambda n: table(of(n), [gap.join("1" for _ in of(n))], gap=gap).encode()


def statement(keyword: str, unit: str, before: str = "", after: str = "") -> Shape:
    """A header line whose value repeats something."""
    return header(lambda n: f"{keyword} {before}{times(unit, n)}{after}")


def _tables(n: int, header_lines: int = 0) -> bytes:
    head = "\n".join(f"KEY{number} {number}" for number in range(header_lines)) + "\n"
    bodies = "BEGIN_DATA\n1\t50\t1\t2\nEND_DATA\n" * max(1, n // 35)
    return (table(LAB, [NUMBERS], head) + bodies).encode()


def _inherited(n: int) -> bytes:
    own = "BEGIN_DATA\n1\t50\t1\t2\nEND_DATA\n"
    bodies = "".join(f"OWN{number} x\n{own}" for number in range(60))
    return (table(LAB, [NUMBERS], "\n".join(numbered("KEY{0} x", n)) + "\n") + bodies).encode()


def _equal_device(n: int) -> list[str]:
    return many("1\t0\t0\t0\t0\t50\t1\t2", n)


def _split(n: int) -> list[str]:
    return [f"{number}\t0\t0\t0\t0\t{number % 100}\t{number % 60}\t1\t2" for number in range(max(2, n // 18))]


MEASUREMENTS: dict[str, Shape] = {
    "plain rows": rows(lambda n: many("1\t" + "\t".join(["0.123456"] * 36), n), ("SAMPLE_ID", *BANDS)),
    "cells of one digit": rows(lambda n: many("1\t50\t1\t2", n)),
    "empty cells": rows(lambda n: many("1\t" + "\t" * 35 + "1", n), ("SAMPLE_ID", *BANDS)),
    "quoted cells": rows(lambda n: many('"1"\t"50"\t"1"\t"2"', n)),
    "spaces": rows(lambda n: many("1 50 1 2", n), gap=" "),
    "ids of one letter": rows(lambda n: many("a", n), ("SAMPLE_ID",)),
    "names of two letters": rows(lambda n: many("a\tbb", n), ("SAMPLE_ID", "SAMPLE_NAME")),
    "decimal commas": rows(lambda n: many("1\t50,5\t1,25\t2,5", n)),
    "commas in doubt": rows(lambda n: many("1\t" + "\t".join(["1,234"] * 300), n), ("SAMPLE_ID", *("LAB_L",), *BANDS)),
    "commas in doubt in many columns": lambda n: table(
        ["SAMPLE_ID", *(f"{k + 1}CLR_{j + 1}" for k in range(15) for j in range(15))],
        many("1\t" + "\t".join(["1,234"] * 225), n),
    ).encode(),
    "words": rows(lambda n: many("1\tx\ty\tz", n), ("SAMPLE_ID", "NOTE_A", "OTHER", "THIRD")),
    "letter in the last row": rows(lambda n: [*many(NUMBERS, n), "1\t50\tx\t2"]),
    "short last row": rows(lambda n: [*many(NUMBERS, n), "1\t2"]),
    "missing values": rows(lambda n: many("1\tNA\tNA\tNA", n)),
    "long numbers": rows(lambda n: ["1\t" + times("9", n) + "\t1\t2"]),
    "many long numbers": rows(lambda n: many("1\t0." + "3" * 900 + "\t1\t2", n)),
    "digits and a letter": rows(lambda n: ["1\t" + times("9", n) + "x\t1\t2"]),
    "long cells": rows(lambda n: many("1\t" + "x" * 2000 + "\t1", n), ("SAMPLE_ID", "SAMPLE_NAME", "LAB_L")),
    "one long cell": rows(lambda n: [times("x", n) + "\t50\t1\t2"]),
    "long row of words": rows(lambda n: [times("1 ", n)]),
    "long row of tabs": rows(lambda n: [NUMBERS, times("1\t", n)]),
    "trailing tabs": rows(lambda n: [NUMBERS, NUMBERS + times("\t", n)]),
    "trailing tabs on every row": rows(lambda n: many(NUMBERS + "\t" * 1500, n)),
    "trailing tabs in quotes": rows(lambda n: ['"1"\t"50"\t"1"\t"2"' + times("\t", n)]),
    "trailing blanks": rows(lambda n: [NUMBERS, NUMBERS + times(" ", n)]),
    "trailing tabs and blanks": rows(lambda n: [NUMBERS, NUMBERS + times(" \t", n)]),
    "blank lines": rows(lambda n: [NUMBERS, times("\n", n), NUMBERS]),
    "lines of blanks": rows(lambda n: [NUMBERS, times(" \t \n", n), NUMBERS]),
    "one line of blanks": rows(lambda n: [NUMBERS, times(" ", n), NUMBERS]),
    "form feeds": rows(lambda n: [NUMBERS, times("\f", n), NUMBERS]),
    "no-break spaces": rows(lambda n: [NUMBERS, times("\u00a0", n), NUMBERS]),
    "wrapped rows": rows(lambda n: many("1\n50\n1\n2", n), gap="\n"),
    "wide wrapped rows": lambda n: table(
        ["SAMPLE_ID", *(f"X{number}" for number in range(1800))], many("1", n), gap="\n"
    ).encode(),
    "empty quotes a line": rows(lambda n: [NUMBERS, *many('""', n)]),
    "unclosed quote": rows(lambda n: [NUMBERS, '1\t"' + times("x", n)]),
    "unclosed quotes": rows(lambda n: [NUMBERS, *many('1\t"x\t1\t2', n)]),
    "many quotes": rows(lambda n: [times('"', n)]),
    "odd quotes": rows(lambda n: [times('"a ', n)]),
    "doubled quotes": rows(lambda n: ["1\t" + times('""x', n)]),
    "quotes within quotes": rows(lambda n: ['1\t"' + times('""', n) + '"\t1\t2']),
    "apostrophes": rows(lambda n: [times("'a ", n)]),
    "apostrophes alone": rows(lambda n: [times("' ", n)]),
    "comments among rows": rows(lambda n: [NUMBERS, *many("# x", n), NUMBERS]),
    "comment behind every row": rows(lambda n: many("1\t50\t1\t2 # wet", n)),
    "one long comment": rows(lambda n: [NUMBERS, "# " + times("x ", n)]),
    "number signs": rows(lambda n: [NUMBERS, times("x#", n)]),
    "low lines": rows(lambda n: many("A_1\t50\t1\t2", n)),
    "one line of low lines": rows(lambda n: [times("_ ", n)]),
    "nearly the end": rows(lambda n: many("END_DATAX\t50\t1\t2", n)),
    "one row of equal device values": rows(_equal_device, ("SAMPLE_ID", *INKS, *LAB[1:])),
    "rows parted by a column": rows(_split, ("SAMPLE_ID", *INKS, "SPOT_1", *LAB[1:])),
    "many columns of doubt": lambda n: table(
        ["SAMPLE_ID", *INKS, *(f"THING{number}" for number in range(300)), *LAB[1:]],
        many("1\t" + "\t".join(["0"] * 304) + NUMBERS[1:], n),
    ).encode(),
    "long names of fields": fields(lambda n: ["SAMPLE_ID", times("x", n)]),
    "field of digits": fields(lambda n: ["SAMPLE_ID", "SPEC" + times("1", n) + "!"]),
    "temperature of digits": fields(lambda n: ["SAMPLE_ID", "CMYK_C", "TEMP" + times("1", n) + "!"]),
    "fields of digits": fields(lambda n: ["SAMPLE_ID", *(f"SPEC{'1' * 900}{each}!" for each in range(1 + n // 950))]),
    "fields of low lines": fields(lambda n: ["SAMPLE_ID", *(f"{'_ID1' * 240}{each}!" for each in range(1 + n // 990))]),
    "many fields": fields(lambda n: ["SAMPLE_ID", *numbered("X{0}", n // 2)]),
    "one field again and again": fields(lambda n: ["SAMPLE_ID", *["LAB_L"] * (n // 8)]),
    "tabs among fields": fields(lambda n: ["SAMPLE_ID", times("\t", n), "LAB_L"]),
    "wide n-channel names": fields(lambda n: ["SAMPLE_ID", *numbered("CMYKOGV_X{0}", n // 2)]),
    "n-channel inks": fields(lambda n: ["SAMPLE_ID", *(f"{1 + k % 99}CLR_{1 + k // 99}" for k in range(n // 10))]),
    "pairs of wavelengths": fields(lambda n: ["SAMPLE_ID", *["SPECTRAL_NM", "SPECTRAL_DEC"] * (1 + n // 28)]),
    "names over many lines": lambda n: table(["SAMPLE_ID", *numbered("X{0}", n)], ["1"], gap="\n").encode(),
    "many tables": _tables,
    "many tables below many keywords": lambda n: _tables(1500, n // 10),
    "tables with own keywords": _inherited,
    "tables of wide lists": lambda n: (
        table(["SAMPLE_ID", *(f"X{k}" for k in range(400))], ["1" + "\t1" * 400]) * max(1, n // 3200)
    ).encode(),
    "keywords": header(lambda n: "\n".join(numbered("KEY{0} x", n))),
    "one keyword again and again": header(lambda n: "\n".join(numbered("NOTE {0}", n))),
    "one count again and again": header(lambda n: times("NUMBER_OF_SETS 1\n", n)),
    "declarations": header(lambda n: "\n".join(numbered('KEYWORD "K{0}"', n))),
    "comments": header(lambda n: times("# x\n", n)),
    "comments on measuring": header(lambda n: times("# measured with M1\n", n)),
    "long keyword": header(lambda n: times("MEAS", n) + " x"),
    "long keyword of digits": header(lambda n: "ILLUMINANT" + times("1", n) + " x"),
    "value of words": statement("ORIGINATOR", "x "),
    "value of quotes": statement("ORIGINATOR", '"x" '),
    "value of apostrophes": statement("ORIGINATOR", "'x "),
    "identifier": header(lambda n: "CGATS" + times("1", n) + "!"),
    "conditions": statement("MEASUREMENT_CONDITION", "M1 "),
    "conditions in text": statement("INSTRUMENTATION", "x, M1, "),
    "conditions almost": statement("INSTRUMENTATION", "M1", after="!"),
    "condition and points": statement("MEASUREMENT_CONDITION", ".", before="M1", after="!"),
    "measurement condition": statement("DESCRIPTOR", "ur", before="meas", after="!"),
    "measured with": statement("DESCRIPTOR", "measured with "),
    "equal signs": statement("DESCRIPTOR", "="),
    "pairs": statement("DESCRIPTOR", "Filter=No "),
    "pairs of illuminants": statement("DESCRIPTOR", "Illumination=D50 "),
    "filter and illuminants": statement("DESCRIPTOR", "D50 ", before=f"Filter={'x' * 3000} Illumination="),
    "words before a pair": statement("DESCRIPTOR", "a", after="!=1"),
    "many words before a pair": statement("DESCRIPTOR", "a ", after="!=1"),
    "blanks before a pair": statement("DESCRIPTOR", " ", before="Measurement", after="Condition=M1"),
    "illuminants": statement("ILLUMINANT", "D50 "),
    "illuminant of digits": statement("ILLUMINANT", "1", after="!"),
    "illuminant and blanks": statement("ILLUMINANT", " ", before='"5', after='!"'),
    "illuminant and slashes": statement("ILLUMINANT", "0 "),
    "observers": statement("OBSERVER", "2 deg "),
    "observer and blanks": statement("OBSERVER", " ", before='"2', after='!"'),
    "white point of digits": statement("WHITE_POINT", "1", after="!"),
    "white point and blanks": statement("WHITE_POINT", " ", before='"96', after='!"'),
    "white point of numbers": statement("WHITE_POINT", "96 "),
    "white point of commas": statement("WHITE_POINT", ",", before="96", after="!"),
    "backings": statement("SAMPLE_BACKING", "white "),
    "other backing": statement("SAMPLE_BACKING", "sel ", after="!"),
    "filters": statement("FILTER", "uv-", after="!"),
    "polarised": statement("POLARIZATION", "cross", after="!"),
    "silent": statement("ILLUMINANT", "?", after="!"),
    "white base": statement("RELATIVE_TO", "to ", after="!"),
    "light and observer": statement("DESCRIPTOR", "1", before="D50 ", after="!"),
    "serial number": statement("INSTRUMENTATION", "sn "),
    "serial number of letters": statement("INSTRUMENTATION", "x-", before="serial ", after="!"),
    "serial number and blanks": statement("INSTRUMENTATION", " ", before='"serial', after='!"'),
    "geometry": statement("INSTRUMENTATION", "45 "),
    "geometry and blanks": statement("INSTRUMENTATION", " ", before='"45', after='!"'),
    "band-pass": statement("NOTE", "not ", before="bandpass correct ", after="!"),
    "created": statement("CREATED", "1"),
    "created and blanks": statement("CREATED", " ", before='"5 may', after='!"'),
    "NUL bytes": lambda n: b"CGATS.17\n" + bytes(n),
    "control characters at the end": lambda n: table(LAB, many(NUMBERS, n)).encode() + b"\x01",
    "end-of-file marks": lambda n: table(LAB, [NUMBERS]).encode() + b"\x1a" * n,
    "UTF-16": lambda n: table(LAB, many(NUMBERS, n // 2)).encode("utf-16"),
    "UTF-16 of odd length": lambda n: table(LAB, many(NUMBERS, n // 2)).encode("utf-16")[:-1],
    "Latin-1": lambda n: table((*LAB, "NOTE"), many(NUMBERS + "\tü", n)).encode("latin-1"),
    "umlauts": lambda n: table((*LAB, "NOTE"), many(NUMBERS + "\tü", n)).encode(),
    "carriage returns": lambda n: table(LAB, many(NUMBERS, n)).replace("\n", "\r").encode(),
    "line ends of all kinds": lambda n: table(LAB, [NUMBERS, times("\n\r\n\r", n)]).encode(),
    "no data": lambda n: times("Dear all, please find attached.\n", n).encode(),
    "nothing but blanks": lambda n: times(" \n", n).encode(),
    "begin and begin": lambda n: ("CGATS.17\n" + times("BEGIN_DATA\n", n)).encode(),
    "identical ids and device values": rows(
        lambda n: many("A1\t100\t0\t0\t0\t50\t1\t2", n), ("SAMPLE_ID", *INKS, *LAB[1:])
    ),
    "names that nearly match": rows(
        lambda n: [f"{row}\t{'A' * 40}{row}\t50\t1\t2" for row in range(max(2, n // 58))],
        ("SAMPLE_ID", "SAMPLE_NAME", *LAB[1:]),
    ),
    "device values that nearly match": rows(
        lambda n: [f"{row}\t{row % 101}.004\t0\t0\t0\t50\t1\t2" for row in range(max(2, n // 26))],
        ("SAMPLE_ID", *INKS, *LAB[1:]),
    ),
    "percent and fractions": rows(lambda n: many("1\t" + "\t".join(["0.5", "95.5"] * 18), n), ("SAMPLE_ID", *BANDS)),
    "values out of every range": rows(lambda n: [*many(NUMBERS, n), "1\t50\t-4E+18\t2"]),
    "exponents": rows(lambda n: many("1\t5.0E+01\t1.0E-01\t2.0E+00", n)),
    "cells of every spelling of nothing": rows(lambda n: many("1\t-\tN/A\tnan", n)),
    "units behind names": fields(lambda n: ["SAMPLE_ID", *(f"LAB_L (unit {k})" for k in range(2 + n // 24))]),
    "fields of digits alone": fields(lambda n: ["SAMPLE_ID", *numbered("{0}", n // 2)]),
    "bands nearly": fields(lambda n: ["SAMPLE_ID", *(f"SPECTRAL_{k}NM" for k in range(340, 340 + n // 24))]),
    "huge count of rows": lambda n: table(LAB, many(NUMBERS, n), "NUMBER_OF_SETS 999999999\n").encode(),
    "count of many digits": statement("NUMBER_OF_SETS", "9"),
    "count of fields of many digits": statement("NUMBER_OF_FIELDS", "9"),
    "instruments": header(lambda n: "\n".join(numbered('INSTRUMENTATION "reader {0}, M1, D50"', n))),
    "serial numbers": header(lambda n: "\n".join(numbered("INSTRUMENT_SERIAL {0}", n))),
    "routes": statement("PRINT_CONDITIONS", "north/"),
    "printer of letters": statement("PRINTER", "n\u0315\u0300"),
    "conditions that contradict": header(
        lambda n: "\n".join(many("MEASUREMENT_CONDITION M0\nMEASUREMENT_CONDITION M2", n))
    ),
    "declared and used": header(lambda n: "\n".join(f'KEYWORD "K{k}"\nK{k} x' for k in range(max(1, n // 22)))),
    "lists of fields alone": lambda n: ("CGATS.17\n" + times("BEGIN_DATA_FORMAT\nA\nEND_DATA_FORMAT\n", n)).encode(),
    "sheets": lambda n: table(LAB, [NUMBERS]).encode() * max(1, n // 110),
    "ends alone": lambda n: ("CGATS.17\n" + times("END_DATA\n", n)).encode(),
    "begin, end, begin": lambda n: (table(LAB, [NUMBERS]) + times("BEGIN_DATA\nEND_DATA\n", n)).encode(),
    "quotes opened and never closed": rows(lambda n: many('"1\t"50\t"1\t2', n)),
    "quotes in header lines": header(lambda n: times('NOTE "x" "y\n', n)),
    "byte-order marks": lambda n: times("\ufeff", n).encode() + table(LAB, [NUMBERS]).encode(),
    "byte-order marks among rows": rows(lambda n: many("\ufeff1\t50\t1\t2", n)),
    "UTF-16 without a mark": lambda n: table(LAB, many(NUMBERS, n // 2)).encode("utf-16-le"),
    "UTF-16 of halves": lambda n: table(LAB, [NUMBERS]).encode("utf-16") + b"\x00\xd8" * (n // 2),
    "bytes of no encoding": lambda n: table(LAB, [NUMBERS]).encode() + b"\x80" * n,
    "NUL bytes among rows": lambda n: table(LAB, many("1\t50\t1\t2\0", n)).encode(),
    "letters that cannot be seen": rows(lambda n: many("1\u202e\t50\t1\t2", n)),
    "one row of ideographs": rows(lambda n: ["\u58a8" * (n // 3) + "\t50\t1\t2"]),
    "begin and end": lambda n: table(LAB, [NUMBERS]).encode() + times("BEGIN_DATA END_DATA\n", n).encode(),
}


def _cells(column: Callable[[int], str]) -> Shape:
    return lambda n: f"kind;printer;note\nservice;north;{column(n)}\n".encode()


def _member(value: Callable[[int], str]) -> Shape:
    return lambda n: f'{{"kind": "service", "printer": "north", "note": {value(n)}}}\n'.encode()


_EVENT = '{"kind": "service", "printer": "north"}'

EVENTS: dict[str, tuple[str, Shape]] = {
    "CSV rows": ("e.csv", lambda n: ("kind;printer\n" + times("service;north\n", n)).encode()),
    "CSV rows of no kind": ("e.csv", lambda n: ("kind;printer\n" + times("servise;north\n", n)).encode()),
    "CSV long cell": ("e.csv", _cells(lambda n: times("x", n))),
    "CSV long cell of controls": ("e.csv", _cells(lambda n: times("\x01", n))),
    "CSV combining marks": ("e.csv", _cells(lambda n: times("\u0315\u0300", n))),
    "CSV kind of combining marks": ("e.csv", lambda n: ("kind;printer\na" + times("\u0315\u0300", n)).encode()),
    "CSV column of combining marks": ("e.csv", lambda n: ("kind;a" + times("\u0315\u0300", n) + "\nx\n").encode()),
    "CSV long column": ("e.csv", lambda n: ("kind;" + times("printer", n) + "\nservice;x\n").encode()),
    "CSV many columns": ("e.csv", lambda n: (times("kind;", n) + "\nservice\n").encode()),
    "CSV unknown columns": ("e.csv", lambda n: (";".join(numbered("x{0}", n)) + "\nservice\n").encode()),
    "CSV long row": ("e.csv", lambda n: ("kind;printer\n" + times("x;", n) + "\n").encode()),
    "CSV blank lines": ("e.csv", lambda n: ("kind;printer\n" + times("\n", n)).encode()),
    "CSV blank rows": ("e.csv", lambda n: ("kind;printer\n" + times(";\n", n)).encode()),
    "CSV unclosed quote": ("e.csv", lambda n: ('kind;printer\n"' + times("x\n", n)).encode()),
    "CSV many quotes": ("e.csv", lambda n: ("kind;printer\n" + times('"', n)).encode()),
    "CSV row over many lines": ("e.csv", lambda n: ("kind;printer\n" + times('"\n";', n)).encode()),
    "CSV NUL bytes": ("e.csv", lambda n: b"kind;printer\n" + bytes(n)),
    "CSV UTF-16": ("e.csv", lambda n: ("kind;printer\n" + times("service;north\n", n)).encode("utf-16")),
    "JSON lines": ("e.jsonl", lambda n: times(f"{_EVENT}\n", n).encode()),
    "JSON long text": ("e.jsonl", _member(lambda n: f'"{times("x", n)}"')),
    "JSON combining marks": ("e.jsonl", _member(lambda n: f'"{times(chr(0x315) + chr(0x300), n)}"')),
    "JSON huge number": ("e.jsonl", _member(lambda n: times("9", n))),
    "JSON long array": ("e.jsonl", _member(lambda n: f"[{times('1,', n)}1]")),
    "JSON deep array": ("e.jsonl", _member(lambda n: "[" * (n // 2) + "]" * (n // 2))),
    "JSON deep and open": ("e.jsonl", _member(lambda n: times('{"a":', n))),
    "JSON long name": ("e.jsonl", lambda n: f'{{"{times("kind", n)}": 1}}\n'.encode()),
    "JSON name of combining marks": ("e.jsonl", lambda n: f'{{"a{times(chr(0x315) + chr(0x300), n)}": 1}}\n'.encode()),
    "JSON many names": ("e.jsonl", lambda n: ("{" + ",".join(numbered('"k{0}":1', n)) + "}\n").encode()),
    "JSON escapes": ("e.jsonl", _member(lambda n: '"' + times("\\u0301", n) + '"')),
    "JSON blank lines": ("e.jsonl", lambda n: times("\n", n).encode() + _EVENT.encode()),
    "JSON blanks": ("e.jsonl", lambda n: times(" ", n).encode() + _EVENT.encode()),
    "JSON broken lines": ("e.jsonl", lambda n: times("{\n", n).encode()),
    "JSON deep lines": ("e.jsonl", lambda n: times("[" * 500 + "]" * 500 + "\n", n).encode()),
    "JSON deep objects": ("e.jsonl", lambda n: times('{"a":' * 200 + "1" + "}" * 200 + "\n", n).encode()),
    "JSON unknown kinds": ("e.jsonl", lambda n: "\n".join(numbered('{{"kind": "servise{0}"}}', n)).encode()),
    "JSON names said twice": ("e.jsonl", lambda n: times('{"kind": 1, "kind": 2}\n', n).encode()),
    "JSON byte-order marks": ("e.jsonl", lambda n: times("\ufeff", n).encode() + _EVENT.encode()),
    "CSV deep quotes": ("e.csv", lambda n: ("kind;printer\n" + times('"""";', n) + "\n").encode()),
    "CSV rows of one cell": ("e.csv", lambda n: ("kind;printer\n" + times("x\n", n)).encode()),
    "CSV carriage returns": ("e.csv", lambda n: ("kind;printer\r" + times("service;north\r", n)).encode()),
    "CSV times": ("e.csv", lambda n: ("kind;printer;at\n" + times("service;north;2026-03-01T10:00\n", n)).encode()),
    "CSV times of digits": ("e.csv", lambda n: (f"kind;printer;at\nservice;north;{times('1', n)}\n").encode()),
    "JSON no UTF-8": ("e.jsonl", lambda n: times("\n", n).encode() + b"\xff"),
}

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
KNOWN = Known(Catalogue({"north": "north"}, {"satin": "satin"}, frozenset({ConditionName("north", "satin")})), UTC, NOW)


TARGET = table(
    ("SAMPLE_ID", *INKS, *LAB[1:]),
    [f"{number}\t{number % 101}\t0\t0\t0\t{95 - number % 80}\t1\t2" for number in range(1, 60)],
    'MEASUREMENT_GEOMETRY "45/0, M1"\n',
).encode()


class _OneTarget:
    """Every target is the same file."""

    def target(self, name: str, _source: object) -> Target:
        return target_from(TARGET, name, 1, "ink-space", MeasurementCondition())


@cache
def _house() -> HousePolicy:
    with tempfile.TemporaryDirectory() as folder:
        return Room(Path(folder)).snapshot().house


def whole_way(data: bytes) -> str:
    """Everything that happens to a dropped file but its record: told whole, read, routed, matched, scored, diagnosed,
    and what people are told of it; says how that ended."""
    never_whole(data[:BEGINNING_BYTES])
    looks_whole(data[-TAIL_BYTES:])
    assessments = Assessor(_house(), _OneTarget()).file(data, "north/satin-240", "sheet")
    for assessment in assessments:
        if assessment.measurement is not None:
            with suppress(Unscored):
                route(Clues(assessment.measurement.keywords, "", "sheet"), _house().routes, _house().catalogue)
        check_text("sheet.txt", assessment)
        json.dumps(check_json("sheet.txt", None, assessment))
    reasons = tuple(dict.fromkeys(reason for each in assessments for reason in each.score.reasons))
    _tell(UnscoredFile(None, "sheet.txt", "", "north", reasons, NOW, NOW, "sheet.txt"))
    return str(reasons[0].code) if reasons else "scored"


def sentences(data: bytes) -> Iterator[str]:
    """All that is said of a file: reasons, faults, assumptions, and the texts that people get."""
    found = survey(data)
    yield from (str(fault) for fault in found.faults)
    yield from (note.message for note in assumed_of(found))
    for assessment in Assessor(_house(), _OneTarget()).file(data, "", "sheet"):
        yield from (str(reason.message) for reason in assessment.score.reasons)


def _tell(record: UnscoredFile) -> None:
    """The text beside the file, and the notice in every form."""
    reason_text(record, NOW)
    case = RefusedFileCase(
        file_name=record.file_name,
        folder=record.folder_clue,
        set_aside_as=record.set_aside_as,
        arrived_at=record.arrived_at,
        reasons=tuple(ReasonFacts(code=reason.code.value, message=reason.message) for reason in record.reasons),
    )
    facts = {**case.as_json(), **Envelope(timezone="UTC", step="opened", severity="notice", cases=(1,)).as_json()}
    letter = Letters().letter(Notice("key", NoticeKind.FILE_UNSCORED, "team", 0, json.loads(json.dumps(facts))))
    for form in Form:
        letter.message(form)


def inspect(data: bytes) -> str:
    """What `inspect` does with a file, in both of its forms."""
    found = survey(data)
    inspected_text("sheet.txt", found, data)
    inspected_json("sheet.txt", found)
    return "faults" if found.faults else "read"


def read_events(name: str, data: bytes) -> str:
    """Reads a file of events, and tells why it is refused; says how that ended."""
    try:
        events_of(name, data, KNOWN, NOW)
    except EventFileError as fault:
        refused_text(name, fault.faults, NOW)
        return "refused"
    return "read"


def matched(data: bytes) -> str:
    """Matches a file's second table with its first."""
    target, sample = read_measurements(data)
    try:
        return str(match(target, sample).near)
    except Unscored as refusal:
        return str(refusal.reason.code)


def _charts(target: Callable[[int], str], sample: Callable[[int], str]) -> Shape:
    """A chart as a target has it and as an export has it, from the number of each patch."""
    names = ("SAMPLE_ID", *INKS, *LAB[1:])

    def both(n: int) -> bytes:
        rows = range(max(20, n // 60))
        tables = (table(names, [f"{row}\t{of(row)}\t{row % 90 + 1}\t1\t2" for row in rows]) for of in (target, sample))
        return "".join(tables).encode()

    return both


CHARTS: dict[str, Shape] = {
    "all equal": _charts(lambda _: "0\t0\t0\t0", lambda _: "0\t0\t0\t0"),
    "all near": _charts(lambda k: f"{k / 99991:.5f}\t0\t0\t0", lambda k: f"{k / 99991:.2f}\t0\t0\t0"),
    "near runs": _charts(
        lambda k: f"{k % 300 / 3:.6f}\t{k // 300 % 90}\t0\t0",
        lambda k: f"{k % 300 / 3:.1f}\t{k // 300 % 90}\t0\t0",
    ),
    "near in one ink": _charts(
        lambda k: f"{k * 37 % 1000 / 13:.6f}\t0\t0\t{k % 7}", lambda k: f"{k * 37 % 1000 / 13:.0f}\t0\t0\t{k % 7}"
    ),
    "near in four inks": _charts(
        lambda k: "\t".join(f"{k // 10**ink % 10 * 9.123456:.6f}" for ink in range(4)),
        lambda k: "\t".join(f"{k // 10**ink % 10 * 9.123456:.1f}" for ink in range(4)),
    ),
    "eights": _charts(
        lambda k: f"{k // 9 % 90}.{k % 9 + 1}00001\t{k // 810 % 90}\t0\t0",
        lambda k: f"{k // 9 % 90}\t{k // 810 % 90}\t0\t{k % 2}",
    ),
}
"""Two tables a file: device values that the rounding of exports sets apart in ways that are many."""


CASES: MappingProxyType[str, tuple[Shape, Callable[[bytes], str]]] = MappingProxyType(
    {
        **{f"dropped: {name}": (shape, whole_way) for name, shape in MEASUREMENTS.items()},
        **{f"inspected: {name}": (shape, inspect) for name, shape in MEASUREMENTS.items()},
        **{
            f"events: {name}": (shape, lambda data, file=file: read_events(file, data))  # type: ignore[misc]
            for name, (file, shape) in EVENTS.items()
        },
        **{f"matched: {name}": (shape, matched) for name, shape in CHARTS.items()},
    }
)
