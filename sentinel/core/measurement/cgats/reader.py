"""The whole way from bytes to a document; and what a text holds, read on past its faults, for people who look at it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sentinel.core.measurement.cgats.document import CgatsDocument, Notes, Table
from sentinel.core.measurement.cgats.faults import CgatsError
from sentinel.core.measurement.cgats.fields import is_identifier
from sentinel.core.measurement.cgats.interpretation import measurements
from sentinel.core.measurement.cgats.sections import SectionReader, TableSection
from sentinel.core.measurement.cgats.tables import TableReader
from sentinel.core.measurement.cgats.tokens import decode
from sentinel.core.measurement.measurement import Assumption, Measurement
from sentinel.core.measurement.reading import STRUCTURAL_BOUNDS, ReaderBounds


def read(data: bytes, bounds: ReaderBounds = STRUCTURAL_BOUNDS) -> CgatsDocument:
    """Read a CGATS.17 / ISO 28178 text.

    What is unambiguous is taken and every assumption recorded in the document; the rest raises `CgatsError` with its
    line and, where one cell is at fault, its column.
    """
    text = decode(data, bounds)
    notes = Notes(text.assumptions)
    header = SectionReader(text.raw, bounds, notes)
    tables = TableReader(text.raw, bounds, notes).read(header.read())
    return CgatsDocument(header.identifier, tables, tuple(header.comments), notes.assumptions(), text.encoding)


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """`document` is whole where there are no faults, and then it is what `read` gives; else it holds the tables that
    could be read one by one. `read_as` has a measurement for each of them, None where the cells mean nothing."""

    document: CgatsDocument
    read_as: tuple[Measurement | None, ...]
    faults: tuple[CgatsError, ...]


def survey(data: bytes, bounds: ReaderBounds = STRUCTURAL_BOUNDS) -> Survey:
    """Everything that can be shown of a text, and every fault met on the way. Never raises for what a file holds."""
    faults: list[CgatsError] = []
    try:
        text = decode(data, bounds)
    except CgatsError as fault:
        return Survey(CgatsDocument("", (), (), (), "unknown"), (), (fault,))
    notes = Notes(text.assumptions)
    header = SectionReader(text.raw, bounds, notes)
    try:
        header.read()
    except CgatsError as fault:
        faults.append(fault)
    tables = _tables(lambda: TableReader(text.raw, bounds, notes), header.sections, faults)
    document = CgatsDocument(header.identifier, tables, tuple(header.comments), notes.assumptions(), text.encoding)
    return Survey(document, tuple(_read_as(document, table, faults) for table in tables), tuple(faults))


def _tables(
    reader: Callable[[], TableReader], sections: list[TableSection], faults: list[CgatsError]
) -> tuple[Table, ...]:
    """All tables, or where they cannot be read together, each one that can be by itself."""
    try:
        return reader().read(sections)
    except CgatsError as fault:
        together = fault.with_traceback(None)
    found: list[Table] = []
    alone, before = reader(), len(faults)
    for section in sections:
        try:
            found += alone.read([section])
        except CgatsError as fault:
            faults.append(fault)
    if len(faults) == before:
        faults.append(together)
    return tuple(found)


def _read_as(document: CgatsDocument, table: Table, faults: list[CgatsError]) -> Measurement | None:
    alone = CgatsDocument(document.identifier, (table,), (), (), document.encoding)
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


_MARKS = b"\xef\xbb\xbf\xff\xfe"
"""The bytes of the byte-order marks."""
_CTRL_Z = "\x1a"


class Cgats:
    """The format among the others: see `sentinel.core.measurement.reading.Format`."""

    name = "CGATS.17"

    def recognises(self, beginning: bytes) -> bool:
        """Whether the first line names the standard, or a list of fields or rows begin here."""
        lines = _plain_lines(beginning.lstrip(_MARKS))
        return any(is_identifier(line) for line in lines[:1]) or any(line.startswith("BEGIN_DATA") for line in lines)

    def measurements(self, data: bytes, bounds: ReaderBounds) -> tuple[Measurement, ...]:
        """One measurement a table, in file order. Raises CgatsError."""
        return measurements(read(data, bounds))

    def looks_whole(self, end: bytes) -> bool:
        """Whether the last bytes end a table, comments below it aside, in whichever encoding."""
        last = next((line for line in reversed(_plain_lines(end)) if not line.startswith("#")), "")
        return last.split("#")[0].split()[-1:] == ["END_DATA"]


def _plain_lines(part: bytes) -> list[str]:
    """The lines of some part of a text that are not blank, in upper case, whatever its encoding."""
    text = part.replace(b"\0", b"").decode("latin-1").upper()
    return [line for each in text.splitlines() if (line := each.strip(" \t\f" + _CTRL_Z))]


CGATS = Cgats()
