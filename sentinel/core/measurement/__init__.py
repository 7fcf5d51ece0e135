"""What instruments read: measurements, and the readers of file formats, chosen by content.

Files are read by `read_measurements` in `formats`. It is not named here, since it loads every reader and numpy.
"""

from sentinel.core.measurement.measured_time import MeasuredAt, measured_at
from sentinel.core.measurement.measurement import Assumption, Chart, Created, Measurement
from sentinel.core.measurement.measurement_condition import Backing, Bandpass, MCondition, MeasurementCondition
from sentinel.core.measurement.reading import STRUCTURAL_BOUNDS, Format, ReaderBounds, UnreadableError

__all__ = [
    "STRUCTURAL_BOUNDS",
    "Assumption",
    "Backing",
    "Bandpass",
    "Chart",
    "Created",
    "Format",
    "MCondition",
    "MeasuredAt",
    "Measurement",
    "MeasurementCondition",
    "ReaderBounds",
    "UnreadableError",
    "measured_at",
]
