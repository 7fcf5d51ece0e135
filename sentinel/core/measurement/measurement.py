"""What a table means: which patches were read, under which measurement condition, when, and with which values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import TYPE_CHECKING, Literal, NamedTuple

from sentinel.core.measurement.instruments import InstrumentName
from sentinel.core.measurement.interpretation import Interpretation
from sentinel.core.message import Message, Quantity, UnitOfMeasure, msg
from sentinel.core.verdict import Code, Reason

if TYPE_CHECKING:
    from sentinel.core.arrays import FloatArray

MCondition = Literal["M0", "M1", "M2", "M3"]
Backing = Literal["black", "white"]
Bandpass = Literal["corrected", "uncorrected"]


@dataclass(frozen=True, slots=True)
class MeasurementCondition:
    """How the patches were read; None is 'the file does not say'.

    `m` is M0 to M3; `backing` black or white; `illuminant` such as D50; `observer` in degrees, 2 or 10;
    `bandpass` whether spectra are corrected for the instrument's band-pass.
    """

    m: MCondition | None = None
    backing: Backing | None = None
    filter: str | None = None
    illuminant: str | None = None
    observer: Literal[2, 10] | None = None
    geometry: str | None = None
    bandpass: Bandpass | None = None


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


UNINTERPRETED = Interpretation()
"""Of readings that were never in a file."""


@dataclass(frozen=True, slots=True, eq=False)
class Measurement:
    """One reading of one chart.

    `table` counts the file's tables from 1. `reflectance` is (patches, bands) with 1.0 for the perfect diffuser and
    `wavelengths` (bands,) in nm, rising at one interval. `lab` and `xyz` are (patches, 3), XYZ with Y = 100 for the
    perfect diffuser. Each is None where the file has none; NaN is a missing value, never zero. `interpretation` says
    what each column and header line was taken for, and what no figure may stand on.
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
    interpretation: Interpretation = UNINTERPRETED

    @property
    def read_with(self) -> InstrumentName:
        """What is told of the instrument."""
        return InstrumentName(self.serial, self.instrument)


CLOCKS_APART = timedelta(days=1)
"""An instrument's clock may run ahead of ours by a wrong zone at most."""


class MeasuredAt(NamedTuple):
    """An aware time, and a remark where it had to be assumed."""

    at: datetime
    remark: Reason | None


def measured_at(
    created: Created | None, file_time: datetime, arrived: datetime, zone: tzinfo, trusted: timedelta
) -> MeasuredAt:
    """The time of measurement; `file_time` and `arrived` are aware, `zone` is that of times without one."""
    if created is None:
        return _assumed(msg("the header has no time of measurement"), file_time, arrived)
    if created.at is None:
        why = msg("the header's time {text!r} is not a full and unambiguous one", text=created.text)
        return _assumed(why, file_time, arrived)
    at = created.at if created.at.tzinfo else created.at.replace(tzinfo=zone)
    if at.utcoffset() != at.replace(fold=1).utcoffset():
        why = msg("the header's time {text!r} falls where the clocks change", text=created.text)
        return _assumed(why, file_time, arrived)
    if at > arrived + CLOCKS_APART:
        why = msg("the header's time {text!r} lies in the future", text=created.text)
        return _assumed(why, file_time, arrived)
    if at < arrived - trusted:
        age = Quantity(trusted.days, UnitOfMeasure.DAY)
        why = msg("the header's time {text!r} is over {age} old, as of a template", text=created.text, age=age)
        return _assumed(why, file_time, arrived)
    return MeasuredAt(at, None)


def _assumed(why: Message, file_time: datetime, arrived: datetime) -> MeasuredAt:
    message = msg("{why}: the file's own time is taken for the time of measurement", why=why)
    return MeasuredAt(min(file_time, arrived), Reason(Code.MEASURED_TIME_ASSUMED, message))
