"""The forecast of printing conditions: records to series, lots bridged, charted, foretold."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.conditions.checks import DriftReading
from sentinel.core.conditions.forecasts import ConditionForecast, FigureBounds, Leaving, Shift, Span
from sentinel.core.drift.assess import assess_many
from sentinel.core.drift.control_limits import limits_for
from sentinel.core.drift.figures import ANYWHERE, Figure, Levels, bounds_of
from sentinel.core.drift.report import ChartAlarm, Corridor, Crossing, Series, SeriesForecast, SeriesReport
from sentinel.core.drift.report import TrendOutlook as Says
from sentinel.core.drift.rules import DriftRules, DriftSettings
from sentinel.core.scoring.names import figure_words
from sentinel.core.scoring.policy import Limits


@dataclass(frozen=True, slots=True)
class Reading:
    """The watched figures of one check."""

    seq: int
    at: datetime
    figures: Mapping[Figure, float]


def watched_reading(reading: DriftReading, figures: Sequence[Figure]) -> Reading:
    """What the check of a record read, of those of these figures that it has."""
    known = ((figure, reading.metrics.get(figure.group, {}).get(figure.metric)) for figure in figures)
    return Reading(reading.seq, reading.measured_at, {figure: value for figure, value in known if value is not None})


@dataclass(frozen=True, slots=True)
class Course:
    """Readings in the order in which they were measured, made comparable.

    `reset` is the moment from which on readings count, None where all do.
    """

    readings: Sequence[Reading]
    reset: datetime | None


def course(
    readings: Sequence[Reading], resets: Sequence[datetime], lots: Sequence[datetime], bridge: timedelta
) -> Course:
    """What the readings (in order) are worth after `resets`, and after another lot was loaded at each of `lots`.

    A baseline belongs to a lot. Where the last reading of the old lot and the first of the new one are at most `bridge`
    apart, with no reset between them, the pair says what the lot changed: older readings are moved by that much, and
    that last one, which tells nothing else, is left out. Without such a pair the new lot is a reset.
    """
    kept = list(readings)
    ends = list(resets)
    for lot in sorted(lots):
        place = bisect_right(kept, lot, key=_at)
        bridged = _bridged(kept, place, bridge) if 0 < place < len(kept) else None
        if bridged is None or _between(ends, kept[place - 1].at, kept[place].at):
            ends.append(lot)
        else:
            kept = bridged
    return Course(kept, max(ends, default=None))


def _bridged(readings: list[Reading], place: int, bridge: timedelta) -> list[Reading] | None:
    old, new = readings[place - 1], readings[place]
    if new.at - old.at > bridge:
        return None
    moved = {figure: value - old.figures[figure] for figure, value in new.figures.items() if figure in old.figures}
    return [*(_moved(each, moved) for each in readings[: place - 1]), *readings[place:]]


def _moved(reading: Reading, by: Mapping[Figure, float]) -> Reading:
    return replace(
        reading, figures={figure: value + by[figure] for figure, value in reading.figures.items() if figure in by}
    )


def _between(times: Sequence[datetime], first: datetime, last: datetime) -> bool:
    return any(first < time <= last for time in times)


def _at(reading: Reading) -> datetime:
    return reading.at


MOST_SERIES = 2000
"""Limits for more series on one printer cannot be found by simulation in a second; those for so many hold then."""

_RECENT = 3
_DAY = timedelta(days=1)


@dataclass(frozen=True)
class WatchedCondition:
    """A printing condition with what is known of it.

    `figures` are those watched, `aims` the mean L*a*b* of the target's groups; `neighbours` is how many conditions are
    watched on the printer, this one included.
    """

    condition: str
    course: Course
    figures: Sequence[Figure]
    aims: Mapping[str, FloatArray]
    limits: Limits
    neighbours: int
    baseline_window: tuple[datetime, datetime] | None = None

    @cached_property
    def levels(self) -> Levels:
        """Where each figure stands: the median of its last readings."""
        recent = self.course.readings[-_RECENT:]
        found = {figure: [each.figures[figure] for each in recent if figure in each.figures] for figure in self.figures}
        return {figure: float(np.median(values)) for figure, values in found.items() if values}


def condition_forecasts(subjects: Sequence[WatchedCondition], rules: DriftRules) -> dict[str, ConditionForecast]:
    """The forecast of every subject that has a reading."""
    alike: dict[tuple[int, int], list[WatchedCondition]] = defaultdict(list)
    for subject in subjects:
        if subject.course.readings:
            alike[_of_printer(subject), len(subject.figures)].append(subject)
    found: dict[str, ConditionForecast] = {}
    for (series, figures), group in alike.items():
        longest = max(len(subject.course.readings) for subject in group)
        found |= _alike(group, _settings(rules, series, figures, longest > rules.drift.baseline_readings))
    return found


def _of_printer(subject: WatchedCondition) -> int:
    """How many series the printer has, rounded up so that few different numbers need limits."""
    charted = sum(figure.charted for figure in subject.figures)
    wanted = max(2, charted * subject.neighbours)
    return min(MOST_SERIES, math.ceil(2 ** (math.ceil(4 * math.log2(wanted)) / 4)))


def _settings(rules: DriftRules, series: int, figures: int, charted: bool) -> DriftSettings:
    """`charted` is False where no course is long enough for a chart, and no limits need be found."""
    drift = replace(rules.drift, trend_confidence=1 - (1 - rules.drift.trend_confidence) / max(figures, 1))
    if not charted:
        return drift
    watch = replace(rules.watch, series=max(series, math.ceil(2 * rules.watch.false_alarms)))
    return replace(drift, chart_limits=limits_for(watch, drift.ewma_weight, drift.cusum_slack))


def _alike(subjects: Sequence[WatchedCondition], settings: DriftSettings) -> dict[str, ConditionForecast]:
    places = [(subject, figure) for subject in subjects for figure in subject.figures]
    series = [_series(*place) for place in places]
    reports = _reports([figure for _, figure in places], series, settings)
    of_each: dict[str, list[_Watched]] = {subject.condition: [] for subject in subjects}
    for (subject, figure), one, report in zip(places, series, reports, strict=True):
        of_each[subject.condition].append(_Watched(figure, one.bounds, report))
    return {subject.condition: _outlook(subject, of_each[subject.condition]) for subject in subjects}


class _Watched(NamedTuple):
    figure: Figure
    bounds: Corridor
    report: SeriesReport


def _reports(figures: Sequence[Figure], series: Sequence[Series], settings: DriftSettings) -> list[SeriesReport]:
    """In the order of the series; the least scatter is that of each figure's kind."""
    found: dict[int, SeriesReport] = {}
    for scatter in {figure.scatter for figure in figures}:
        rows = [row for row, figure in enumerate(figures) if figure.scatter == scatter]
        own = replace(settings, least_sigma=settings.least_sigma * scatter)
        found.update(zip(rows, assess_many([series[row] for row in rows], own), strict=True))
    return [found[row] for row in range(len(figures))]


def _series(subject: WatchedCondition, figure: Figure) -> Series:
    known = [(each.at, each.figures[figure]) for each in subject.course.readings if figure in each.figures]
    window, reset = subject.baseline_window, subject.course.reset
    return Series(
        times=np.array([days_of(at) for at, _ in known], float),
        values=np.array([value for _, value in known], float),
        bounds=bounds_of(figure, subject.levels, subject.aims, subject.limits),
        reset=days_of(reset) if reset else None,
        baseline_window=(days_of(window[0]), days_of(window[1])) if window else None,
    )


def _outlook(subject: WatchedCondition, watched: Sequence[_Watched]) -> ConditionForecast:
    readings, reset = subject.course.readings, subject.course.reset
    counted = [each for each in readings if reset is None or each.at >= reset]
    says = [report.outlook for _, _, report in watched]
    leaving = [found for figure, _, report in watched for found in _leaving(figure, report)]
    last = readings[-1]
    return ConditionForecast(
        check_seq=last.seq,
        since=reset or readings[0].at,
        readings=len(counted),
        trends=says.count(Says.TREND),
        no_trends=says.count(Says.NO_TREND),
        no_forecasts=says.count(Says.NO_FORECAST),
        leaving=tuple(sorted(leaving, key=lambda each: each.check_by)),
        shifts=tuple(_shifts(watched, days_of(last.at))),
        signs=tuple(
            f"{figure_words(*figure)}: rule {sign.rule}, {sign.side}"
            for figure, _, report in watched
            for sign in report.signs
            if figure.charted
        ),
        bounds=tuple(_bounds(figure, bounds) for figure, bounds, _ in watched if bounds != ANYWHERE),
    )


def _bounds(figure: Figure, bounds: Corridor) -> FigureBounds:
    lower, upper = (value if math.isfinite(value) else None for value in (bounds.lower, bounds.upper))
    return FigureBounds(*figure, lower, upper)


def _leaving(figure: Figure, report: SeriesReport) -> Iterator[Leaving]:
    forecast = report.forecast
    crossing = _nearest(forecast) if forecast else None
    if forecast is None or crossing is None or forecast.check_by is None:
        return
    yield Leaving(
        group=figure.group,
        metric=figure.metric,
        trend=report.outlook is Says.TREND,
        readings=forecast.readings,
        level=forecast.level,
        slope=forecast.slope,
        limit=crossing.limit,
        expected=_moment(crossing.expected),
        likely=_span(crossing.likely),
        wide=_span(crossing.wide),
        check_by=_time(forecast.check_by),
        reading=forecast.interval(max(forecast.check_by, forecast.day), 0.9),
    )


def _nearest(forecast: SeriesForecast) -> Crossing | None:
    """The limit that may be reached first; None where neither can be within the horizon."""
    both = [crossing for crossing in (forecast.lower, forecast.upper) if crossing and crossing.wide[0] is not None]
    return min(both, key=lambda crossing: crossing.wide[0] or 0.0, default=None)


def _shifts(watched: Sequence[_Watched], last: float) -> Iterator[Shift]:
    """The first chart of each figure that stands beyond its limit at the last reading."""
    for figure, _, report in watched:
        standing = [alarm for alarm in report.alarms if alarm.standing]
        if figure.charted and standing:
            yield _shift(figure, min(standing, key=lambda alarm: alarm.reading), last)


def _shift(figure: Figure, alarm: ChartAlarm, last: float) -> Shift:
    return Shift(
        group=figure.group,
        metric=figure.metric,
        chart=alarm.chart.value,
        side=alarm.side,
        at=_time(alarm.day),
        value=alarm.value,
        limit=alarm.limit,
        fresh=alarm.day >= last,
    )


def days_of(time: datetime) -> float:
    """The count of days of this room: since the beginning of 1970."""
    return time.timestamp() / _DAY.total_seconds()


def _time(day: float) -> datetime:
    return datetime.fromtimestamp(round(day * _DAY.total_seconds()), UTC)


def _moment(day: float | None) -> datetime | None:
    return None if day is None else _time(day)


def _span(days: tuple[float | None, float | None]) -> Span:
    return _moment(days[0]), _moment(days[1])
