"""What a table means: which patches were read, under which measurement condition, with which values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from sentinel.core.measurement.measurement_condition import MeasurementCondition

if TYPE_CHECKING:
    from sentinel.core.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something the text left open and the reader decided, for people to see.

    `code` is fixed and listed in the reader's documentation; `line` counts from 1, 0 for the whole file.
    """

    code: str
    message: str
    line: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """The patches of a chart in the order of the file.

    `ids` are SAMPLE_ID as written (the row number as text where the file has none), `names` SAMPLE_NAME or None.
    `inks` names the device columns by their field: `C M Y K`, `R G B`, or `6CLR_1` and so on; empty where the file
    has no device values. `device` is (patches, inks), in the file's own scale, NaN for missing.
    `positions` are the places on the sheet (SAMPLE_LOC or the like), or None.
    """

    ids: tuple[str, ...]
    names: tuple[str, ...] | None
    inks: tuple[str, ...]
    device: FloatArray
    positions: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Created:
    """When the file says it was made, as far as it can be understood.

    `text` is as written. `at` is None where the text has no full date and time of day or can be read in two ways;
    it is aware where the text names its zone, else naive, which is local time at the print room.
    """

    text: str
    at: datetime | None


@dataclass(frozen=True, slots=True, eq=False)
class Measurement:
    """One reading of one chart.

    `table` counts the file's tables from 1. `reflectance` is (patches, bands) with 1.0 for the perfect diffuser and
    `wavelengths` (bands,) in nm, rising at one interval. `lab` and `xyz` are (patches, 3), XYZ with Y = 100 for the
    perfect diffuser. Each is None where the file has none; NaN is a missing value, never zero.
    """

    table: int
    chart: Chart
    condition: MeasurementCondition
    wavelengths: FloatArray | None
    reflectance: FloatArray | None
    lab: FloatArray | None
    xyz: FloatArray | None
    instrument: str | None
    serial: str | None
    created: Created | None
    keywords: Mapping[str, str]
    assumptions: tuple[Assumption, ...]
