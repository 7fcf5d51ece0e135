"""CGATS.17 / ISO 28178: bytes to document to measurement, and back to text."""

from sentinel.core.measurement.cgats.document import CgatsDocument, Statement, Table
from sentinel.core.measurement.cgats.faults import Assumed, CgatsError, Refused
from sentinel.core.measurement.cgats.interpretation import measurements
from sentinel.core.measurement.cgats.reader import CGATS, Cgats, Survey, assumed_of, read, survey
from sentinel.core.measurement.cgats.writer import (
    Column,
    document_of,
    document_of_tables,
    spectral_columns,
    table_of,
    write,
)

__all__ = [
    "CGATS",
    "Assumed",
    "Cgats",
    "CgatsDocument",
    "CgatsError",
    "Column",
    "Refused",
    "Statement",
    "Survey",
    "Table",
    "assumed_of",
    "document_of",
    "document_of_tables",
    "measurements",
    "read",
    "spectral_columns",
    "survey",
    "table_of",
    "write",
]
