"""`sentinel inspect`: what is in a file, and what the reader made of it."""

from __future__ import annotations

import argparse
import json
import sys
import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sentinel.application.inspecting import contents_of, inspect_file, rewrite_file
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.core.dropped_file import shown
from sentinel.core.measurement import Account, Interpretation, Measurement
from sentinel.core.measurement.cgats import CgatsError, Survey, Table, assumed_of
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


INSPECT_SCHEMA = "sentinel.inspect/1"
WIDTH = 100


def inspected_text(file: str, found: Survey, data: bytes) -> str:
    """Faults first, then what was read, then what was assumed."""
    document = found.document
    count = counted(len(document.tables), "table")
    lines = [f"{file}: {document.identifier[:WIDTH] or 'no identifier'}, {document.encoding}, {count}"]
    source = _SourceLines(data) if found.faults else None
    lines += [line for fault in found.faults for line in _fault(fault, source)]
    for number, (table, measurement) in enumerate(zip(document.tables, found.read_as, strict=True), 1):
        lines += ["", f"table {number}, rows from line {table.line}", *_table(table, measurement)]
    assumptions = assumed_of(found)
    if assumptions:
        lines += ["", "assumed:"]
        lines += [f"- {_place(note.line)}{note.message} ({note.code})" for note in assumptions]
    if not found.faults:
        lines += ["", "read so, and found right:  name ____________________  date ____________"]
    return "\n".join(lines)


class _SourceLines:
    """The lines of a file as it came, found by their numbers."""

    def __init__(self, data: bytes) -> None:
        self._bytes = data.replace(b"\0", b"").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        self._feeds = np.flatnonzero(np.frombuffer(self._bytes, np.uint8) == ord("\n"))

    def line(self, number: int) -> str | None:
        """The line counted from 1, None where there is none."""
        if not 0 < number <= len(self._feeds) + 1:
            return None
        start = int(self._feeds[number - 2]) + 1 if number > 1 else 0
        end = int(self._feeds[number - 1]) if number <= len(self._feeds) else len(self._bytes)
        part = self._bytes[start:end]
        try:
            return part.decode()
        except UnicodeDecodeError:
            return part.decode("latin-1")


def _fault(fault: CgatsError, source: _SourceLines | None) -> Iterator[str]:
    yield f"  fault: {fault} ({fault.code})"
    line = source.line(fault.line) if source else None
    if line is not None:
        shown = line.replace("\t", " ")
        start = max(0, min(fault.column - WIDTH // 2, len(shown) - WIDTH)) if fault.column else 0
        yield f"    {shown[start : start + WIDTH]}"
        if fault.column:
            yield "    " + " " * (fault.column - 1 - start) + "^"


def _table(table: Table, measurement: Measurement | None) -> Iterator[str]:
    yield f"  {table.rows} rows of {len(table.fields)} fields: {_some(table.fields)}"
    for keyword, value in table.keywords.items():
        yield f"  {keyword[:WIDTH]}: {value[:WIDTH]}"
    if measurement is None:
        return
    yield from _meaning(measurement)
    yield from _interpretation(measurement.interpretation)


def _meaning(measurement: Measurement) -> Iterator[str]:
    """A line for each thing that figures depend on, what is not told said to be so."""
    condition, chart = measurement.condition, measurement.chart
    yield f"  colours: {', '.join(_colours(measurement)) or 'none'}"
    yield f"  light: {_light(measurement)}"
    yield f"  M condition: {condition.m or NOT_TOLD}"
    yield f"  backing: {condition.backing or NOT_TOLD}"
    others = {name: getattr(condition, name) for name in ("filter", "geometry", "bandpass")}
    yield from (f"  {name}: {value[:WIDTH]}" for name, value in others.items() if value is not None)
    yield f"  inks: {' '.join(chart.inks) or 'none'}"
    yield f"  device values: {measurement.interpretation.scale or 'none'}"
    found = contents_of(measurement)
    yield f"  patches: {found.patches}, of them read more than once: {found.repeated}"
    named = {group: count for group, count in found.groups.items() if group != "all"}
    told = ", ".join(f"{group} {count}" for group, count in named.items()) or "none"
    yield from textwrap.wrap(f"groups: {told}", WIDTH, initial_indent="  ", subsequent_indent="    ")


NOT_TOLD = "not told by the file; settings may declare it"


def _light(measurement: Measurement) -> str:
    """Spectra need none; colours without one are taken to be for D50 and 2 degrees, as ISO 13655 has them."""
    illuminant, observer = measurement.condition.illuminant, measurement.condition.observer
    if measurement.lab is None and measurement.xyz is None:
        return ", ".join(filter(None, (illuminant, observer and f"{observer} degrees"))) or "not told by the file"
    return f"{illuminant or f'D50 {TAKEN}'}, {f'{observer} degrees' if observer else f'2 degrees {TAKEN}'}"


TAKEN = "(taken, the file does not say)"


ACCOUNTS = {
    Account.USED: "used",
    Account.DECLARED: "declared",
    Account.NOT_UNDERSTOOD: "not understood",
    Account.NOT_USED: "not used",
}


def _interpretation(read_as: Interpretation) -> Iterator[str]:
    """What each column and header line is, and what stands in the way of a verdict."""
    for account, words in ACCOUNTS.items():
        parts = read_as.of(account)
        columns: dict[str, list[str]] = {}
        for part in parts:
            if part.kind == "column":
                columns.setdefault(part.meaning, []).append(part.name)
        for meaning, names in columns.items():
            yield f"  {words}: {_some(tuple(names))}{f' as {meaning}' if meaning else ''}"
        for part in parts:
            if part.kind == "header":
                meaning = f" as {part.meaning}" if part.meaning else ""
                yield f"  {words}: {_place(part.line)}{part.name[:WIDTH]}{meaning}"
    yield from (f"  no verdict: {each.message}" for each in read_as.unclear)


def _colours(measurement: Measurement) -> Iterator[str]:
    if measurement.wavelengths is not None:
        first, *_, last = measurement.wavelengths.tolist()
        yield f"spectra {first:g} to {last:g} nm in {len(measurement.wavelengths)} bands"
    if measurement.lab is not None:
        yield "Lab"
    if measurement.xyz is not None:
        yield "XYZ"


def _some(fields: tuple[str, ...]) -> str:
    return " ".join(fields if len(fields) <= 12 else (*fields[:10], "...", fields[-1]))


def _place(line: int) -> str:
    return f"line {line}: " if line else ""


def inspected_json(file: str, found: Survey) -> dict[str, Any]:
    """The same, with how many cells are missing in each column."""
    return {
        "schema": INSPECT_SCHEMA,
        "file": file,
        "readable": not found.faults,
        "identifier": found.document.identifier,
        "encoding": found.document.encoding,
        "faults": [
            {"code": str(fault.code), "message": str(fault), "line": fault.line, "column": fault.column}
            for fault in found.faults
        ],
        "assumptions": [
            {"code": str(note.code), "message": note.message, "line": note.line} for note in assumed_of(found)
        ],
        "comments": list(found.document.comments),
        "tables": [
            _table_json(table, measurement)
            for table, measurement in zip(found.document.tables, found.read_as, strict=True)
        ],
    }


def _table_json(table: Table, measurement: Measurement | None) -> dict[str, Any]:
    missing = {field: int(np.isnan(values).sum()) for field, values in table.number.items()}
    return {
        "line": table.line,
        "rows": table.rows,
        "fields": list(table.fields),
        "keywords": dict(table.keywords),
        "missing": {field: count for field, count in missing.items() if count},
        "condition": asdict(measurement.condition) if measurement else None,
        "inks": list(measurement.chart.inks) if measurement else None,
        "wavelengths": measurement.wavelengths.tolist()
        if measurement is not None and measurement.wavelengths is not None
        else None,
        "serial": measurement.serial if measurement else None,
        "interpretation": measurement.interpretation.as_json() if measurement else None,
        "contents": asdict(contents_of(measurement)) if measurement else None,
        "created": measurement.created.text if measurement and measurement.created else None,
    }


def _options(parser: Parser) -> None:
    parser.description = (
        "Shows what was read of a CGATS file, what was assumed and every fault, with their lines; reads on "
        "past faults to show what is there. Needs no settings. Exit codes: 0 it can be read, 2 no such file or no "
        "place for the rewritten one, 3 it cannot be read without guessing."
    )
    parser.add_argument("file", metavar="FILE", help="a measurement file")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument("--rewrite", type=Path, metavar="OUT", help="write the clean file; it must not exist yet")
    parser.set_defaults(handler=_inspect)


def _inspect(options: argparse.Namespace, room: Composition) -> Exit:
    found = inspect_file(room.files, Path(options.file))
    if options.rewrite and not found.survey.faults:
        rewrite_file(room.files, options.rewrite, found)
    if options.json:
        print(json.dumps(inspected_json(options.file, found.survey), indent=2))
    else:
        print(inspected_text(shown(options.file), found.survey, found.data))
    if found.survey.faults:
        if options.rewrite:
            print("sentinel: not rewritten: the file cannot be read without guessing", file=sys.stderr)
        return Exit.UNSCORED
    return Exit.FINE


COMMANDS: Commands = {"inspect": _options}
