"""What is asked about a series and what is answered. Days are the caller's count of days, of any beginning."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from sentinel.core.arrays import FloatArray
from sentinel.core.drift.charts import Baseline, Side, Sign
from sentinel.core.drift.trend import Fits


@dataclass(frozen=True, slots=True)
class Corridor:
    """The values a series should keep between; -inf or inf where there is no such limit."""

    lower: float
    upper: float


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Accepted readings of one signed component: `times` in days, not falling, and `values`, both (n,) and finite.

    `reset` is the day of the last reset (a recalibration, new heads); readings on it or after it count. The baseline is
    from the first of those, or from all readings within `baseline_window` (first and last day), whenever that was; the
    charts go on behind it. `sigma`, where known, takes the place of the baseline's own.
    """

    times: FloatArray
    values: FloatArray
    bounds: Corridor
    reset: float | None = None
    baseline_window: tuple[float, float] | None = None
    sigma: float | None = None


class ControlChart(StrEnum):
    """Which chart alarms."""

    INDIVIDUALS = "individuals"
    EWMA = "ewma"
    CUSUM = "cusum"


@dataclass(frozen=True, slots=True)
class ChartAlarm:
    """A chart beyond its limit since the baseline: first at `reading`, counted from 0.

    `value` is the chart's there and `limit` its limit, both in sigmas. `standing` says that it is so at the last
    reading too, on the same side.
    """

    chart: ControlChart
    side: Side
    reading: int
    day: float
    value: float
    limit: float
    standing: bool


class TrendOutlook(StrEnum):
    """What can be said of the days to come."""

    TREND = "trend"
    NO_TREND = "no trend"
    NO_FORECAST = "no forecast"


@dataclass(frozen=True, slots=True)
class Crossing:
    """On which day the level reaches a limit; the last reading's day where it is beyond already.

    `likely` are the earliest and latest day with 50 %, `wide` with 90 % confidence. None: not within the horizon, or
    never. Without a trend there is an earliest day at most: the day from which on a crossing cannot be excluded.
    """

    limit: float
    expected: float | None
    likely: tuple[float | None, float | None]
    wide: tuple[float | None, float | None]


@dataclass(frozen=True, slots=True, eq=False)
class SeriesForecast:
    """The line through the readings since the reset or the last step, and how sure it is.

    `level` is the line at the last reading's `day`, `slope` per day. `check_by` is the day by which to look again, None
    where it is not within the horizon.
    """

    readings: int
    day: float
    level: float
    slope: float
    lower: Crossing | None
    upper: Crossing | None
    check_by: float | None
    fits: Fits
    row: int

    def interval(self, day: float, confidence: float) -> tuple[float, float]:
        """Where a reading on that day, not before the last one, will lie with this confidence."""
        low, high = self.fits.only(self.row).interval(day - self.day, confidence)
        return float(low[0]), float(high[0])


@dataclass(frozen=True, slots=True, eq=False)
class SeriesReport:
    """What is to be told of a series.

    No baseline: too few readings for the charts. `signs` are the Western Electric rules met at the last reading, never
    alarms. There is a forecast unless the outlook is 'no forecast': too few readings since the reset, or since the last
    step behind it.
    """

    baseline: Baseline | None
    alarms: tuple[ChartAlarm, ...]
    signs: tuple[Sign, ...]
    outlook: TrendOutlook
    forecast: SeriesForecast | None
