"""CGATS.17 / ISO 28178: bytes to document to measurement, and back to text."""

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement.cgats.document import CgatsDocument, Statement, Table
from sentinel.core.measurement.cgats.faults import STRUCTURAL_BOUNDS, Assumed, CgatsError, Refused
from sentinel.core.measurement.cgats.meaning import measurements
from sentinel.core.measurement.cgats.reader import read
from sentinel.core.measurement.cgats.writer import document_of, document_of_tables, spectral_columns, table_of, write
from sentinel.core.measurement.measurement import Assumption, Chart, Created, Measurement
from sentinel.core.measurement.measurement_condition import MeasurementCondition
from sentinel.core.measurement.reader_bounds import ReaderBounds

__all__ = [
    "STRUCTURAL_BOUNDS",
    "Assumed",
    "Assumption",
    "CgatsDocument",
    "CgatsError",
    "Chart",
    "Created",
    "FloatArray",
    "Measurement",
    "MeasurementCondition",
    "ReaderBounds",
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
