"""The whole way from bytes to a document."""

from __future__ import annotations

from sentinel.core.cgats.bounds import STRUCTURAL_BOUNDS, Bounds
from sentinel.core.cgats.document import Document
from sentinel.core.cgats.encoding import decode
from sentinel.core.cgats.notes import Notes
from sentinel.core.cgats.sections import SectionReader
from sentinel.core.cgats.tables import TableReader


def read(data: bytes, bounds: Bounds = STRUCTURAL_BOUNDS) -> Document:
    """Read a CGATS.17 / ISO 28178 text.

    What is unambiguous is taken and every assumption recorded in the document; the rest raises `CgatsError` with its
    line and, where one cell is at fault, its column.
    """
    text = decode(data, bounds)
    notes = Notes(text.assumptions)
    header = SectionReader(text.raw, bounds, notes)
    tables = TableReader(text.raw, bounds, notes).read(header.read())
    return Document(header.identifier, tables, tuple(header.comments), notes.assumptions(), text.encoding)
