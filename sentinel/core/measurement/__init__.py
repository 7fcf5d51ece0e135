"""What instruments read: measurements, and the readers of file formats, chosen by content.

Files are read by `read_measurements` in `formats`. It is not named here, since it loads every reader and numpy.
"""

from sentinel.core.measurement.instruments import InstrumentName
from sentinel.core.measurement.interpretation import About, Account, Accounted, Interpretation, Unclear
from sentinel.core.measurement.measurement import (
    Assumption,
    Backing,
    Bandpass,
    Chart,
    Created,
    MCondition,
    MeasuredAt,
    Measurement,
    MeasurementCondition,
    measured_at,
)
from sentinel.core.measurement.reading import STRUCTURAL_BOUNDS, Format, ReaderBounds, Understand, UnreadableError

__all__ = [
    "STRUCTURAL_BOUNDS",
    "About",
    "Account",
    "Accounted",
    "Assumption",
    "Backing",
    "Bandpass",
    "Chart",
    "Created",
    "Format",
    "InstrumentName",
    "Interpretation",
    "MCondition",
    "MeasuredAt",
    "Measurement",
    "MeasurementCondition",
    "ReaderBounds",
    "Unclear",
    "Understand",
    "UnreadableError",
    "measured_at",
]
