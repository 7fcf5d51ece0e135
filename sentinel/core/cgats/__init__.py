"""CGATS.17 / ISO 28178: bytes to document to measurement, and back to text."""

from sentinel.core.cgats.bounds import STRUCTURAL_BOUNDS, Bounds
from sentinel.core.cgats.building import document_of, document_of_tables, spectral_columns, table_of
from sentinel.core.cgats.codes import Assumed, Refused
from sentinel.core.cgats.document import Assumption, Document, FloatArray, Statement, Table
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.meaning import measurements
from sentinel.core.cgats.measurement import Chart, Created, Measurement
from sentinel.core.cgats.reader import read
from sentinel.core.cgats.writer import write
from sentinel.core.measurement_condition import MeasurementCondition

__all__ = [
    "STRUCTURAL_BOUNDS",
    "Assumed",
    "Assumption",
    "Bounds",
    "CgatsError",
    "Chart",
    "Created",
    "Document",
    "FloatArray",
    "Measurement",
    "MeasurementCondition",
    "Refused",
    "Statement",
    "Table",
    "document_of",
    "document_of_tables",
    "measurements",
    "read",
    "spectral_columns",
    "table_of",
    "write",
]
