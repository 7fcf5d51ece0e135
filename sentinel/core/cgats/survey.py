"""What a text holds, read on past its faults: for people who look at a file, never for a verdict."""

from __future__ import annotations

from dataclasses import dataclass

from sentinel.core.cgats.bounds import STRUCTURAL_BOUNDS, Bounds
from sentinel.core.cgats.document import Assumption, Document, Table
from sentinel.core.cgats.encoding import decode
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.meaning import measurements
from sentinel.core.cgats.measurement import Measurement
from sentinel.core.cgats.notes import Notes
from sentinel.core.cgats.sections import Section, SectionReader
from sentinel.core.cgats.tables import TableReader


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """`document` is whole where there are no faults, and then it is what `read` gives; else it holds the tables that
    could be read one by one. `read_as` has a measurement for each of them, None where the cells mean nothing."""

    document: Document
    read_as: tuple[Measurement | None, ...]
    faults: tuple[CgatsError, ...]


def survey(data: bytes, bounds: Bounds = STRUCTURAL_BOUNDS) -> Survey:
    """Everything that can be shown of a text, and every fault met on the way. Never raises for what a file holds."""
    faults: list[CgatsError] = []
    try:
        text = decode(data, bounds)
    except CgatsError as fault:
        return Survey(Document("", (), (), (), "unknown"), (), (fault,))
    notes = Notes(text.assumptions)
    header = SectionReader(text.raw, bounds, notes)
    try:
        header.read()
    except CgatsError as fault:
        faults.append(fault)
    tables = _tables(TableReader(text.raw, bounds, notes), header.sections, faults)
    document = Document(header.identifier, tables, tuple(header.comments), notes.assumptions(), text.encoding)
    return Survey(document, tuple(_read_as(document, table, faults) for table in tables), tuple(faults))


def _tables(reader: TableReader, sections: list[Section], faults: list[CgatsError]) -> tuple[Table, ...]:
    """All tables, or where they cannot be read together, each one that can be by itself."""
    try:
        return reader.read(sections)
    except CgatsError:
        found: list[Table] = []
    for section in sections:
        try:
            found += reader.read([section])
        except CgatsError as fault:
            faults.append(fault)
    return tuple(found)


def _read_as(document: Document, table: Table, faults: list[CgatsError]) -> Measurement | None:
    alone = Document(document.identifier, (table,), (), (), document.encoding)
    try:
        return measurements(alone)[0]
    except CgatsError as fault:
        faults.append(fault)
        return None


def assumed_of(found: Survey) -> tuple[Assumption, ...]:
    """Every assumption, of the text and of its meaning, in the order of lines."""
    meaning = (note for measurement in found.read_as if measurement for note in measurement.assumptions)
    unique = dict.fromkeys((*found.document.assumptions, *meaning))
    return tuple(sorted(unique, key=lambda note: note.line))
