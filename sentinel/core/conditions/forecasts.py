"""What the readings up to a check say of the days to come, in plain values that are kept beside the records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from math import inf
from typing import Any, Literal, NamedTuple

from sentinel.core.message import Message, day_of, msg
from sentinel.core.scoring.names import figure_words, unit_of

Span = tuple[datetime | None, datetime | None]
"""Earliest and latest moment; None is not within the horizon, or never."""


@dataclass(frozen=True, slots=True)
class Leaving:
    """A figure that may reach a limit, with a sure `trend` or because none can be excluded yet.

    `level` is the line's at the check and `slope` its change a day, in the unit of the figure. The limit is reached at
    `expected`, within `likely` with 50 % and within `wide` with 90 % confidence; `check_by` is when to look again,
    and a reading then will lie within `reading` with 90 % confidence.
    """

    group: str
    metric: str
    trend: bool
    readings: int
    level: float
    slope: float
    limit: float
    expected: datetime | None
    likely: Span
    wide: Span
    check_by: datetime
    reading: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Shift:
    """A figure that has left its baseline: `value` of this chart beyond `limit`, both in sigmas, first at `at`.

    `fresh` says that the check is the first that shows it; what stood already at an earlier check is confirmed.
    """

    group: str
    metric: str
    chart: str
    side: Literal["above", "below"]
    at: datetime
    value: float
    limit: float
    fresh: bool


class FigureBounds(NamedTuple):
    """Between which values a watched figure of the print stays within tolerance; None where a side has no limit."""

    group: str
    metric: str
    lower: float | None
    upper: float | None

    @property
    def figure(self) -> tuple[str, str]:
        """By its name."""
        return self.group, self.metric

    @property
    def span(self) -> tuple[float, float]:
        """With infinity for a side without a limit."""
        return (-inf if self.lower is None else self.lower, inf if self.upper is None else self.upper)


@dataclass(frozen=True, slots=True)
class ConditionForecast:
    """All that is foretold of a printing condition by the check `check_seq`, the last one it knows.

    `since` is when the readings that count begin, of which the check has `readings` behind it. Of the figures watched
    so many have a trend, so many have none, and of so many nothing can be said. `leaving` begins with what must be
    looked at first. `signs` are Western Electric rules met at the check: 'solid C, mean ΔL*: rule 2'. `bounds` has
    every figure that has any.
    """

    check_seq: int
    since: datetime
    readings: int
    trends: int = 0
    no_trends: int = 0
    no_forecasts: int = 0
    leaving: tuple[Leaving, ...] = ()
    shifts: tuple[Shift, ...] = ()
    signs: tuple[str, ...] = ()
    bounds: tuple[FigureBounds, ...] = ()

    @property
    def foretells(self) -> bool:
        """Whether anything can be said of the days to come."""
        return self.trends + self.no_trends > 0

    def as_json(self) -> dict[str, Any]:
        """For the store and for programs."""
        plain: dict[str, Any] = _plain(asdict(self))
        return plain

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> ConditionForecast:
        """What `as_json` gave."""
        leaving = tuple(_leaving(each) for each in kept["leaving"])
        shifts = tuple(Shift(**_timed(each, "at")) for each in kept["shifts"])
        bounds = tuple(FigureBounds(*each) for each in kept.get("bounds", ()))  # earlier forecasts do not say
        lists = {"leaving": leaving, "shifts": shifts, "signs": tuple(kept["signs"]), "bounds": bounds}
        return cls(**{**_timed(kept, "since"), **lists})


def leaving_words(leaving: Leaving) -> Message:
    """The forecast as a sentence, with how sure it is."""
    figure, (earliest, latest) = figure_words(leaving.group, leaving.metric), leaving.wide
    from_day = day_of(earliest) if earliest else msg("the days of the forecast")
    if not leaving.trend:
        return MAY_LEAVE.format(figure=figure, readings=leaving.readings, day=from_day)
    return LEAVES.format(
        figure=figure,
        slope=leaving.slope,
        unit=unit_of(leaving.metric),
        expected=msg("about {day}", day=day_of(leaving.expected))
        if leaving.expected
        else msg("later than the forecast reaches"),
        day=from_day,
        latest=msg("not after {day}", day=day_of(latest)) if latest else msg("with no latest day"),
        readings=leaving.readings,
    )


MAY_LEAVE = msg(
    "the {figure} shows no sure trend, but {readings} readings cannot exclude that it reaches what the action limit "
    "allows from {day} on"
)
LEAVES = msg(
    "the {figure} moves by {slope:+.2g} {unit} a day and reaches what the action limit allows {expected} (with 90 % "
    "confidence not before {day} and {latest}); from {readings} readings"
)


def shift_words(shift: Shift) -> Message:
    """The alarm of a chart."""
    return SHIFTED[shift.side].format(
        figure=figure_words(shift.group, shift.metric),
        day=day_of(shift.at),
        chart=CHARTS.get(shift.chart, shift.chart),
        value=shift.value,
        limit=shift.limit,
    )


CHARTS: Mapping[str, Message] = {
    "individuals": msg("drift chart of single readings"),
    "ewma": msg("drift chart, EWMA"),
    "cusum": msg("drift chart, CUSUM"),
}

SHIFTED: Mapping[str, Message] = {
    "above": msg(
        "the {figure} is above its baseline since {day} ({chart}: {value:.1f} sigma, limit {limit:.1f} sigma)"
    ),
    "below": msg(
        "the {figure} is below its baseline since {day} ({chart}: {value:.1f} sigma, limit {limit:.1f} sigma)"
    ),
}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, dict):
        return {name: _plain(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return value


def _leaving(kept: Mapping[str, Any]) -> Leaving:
    """Earlier forecasts do not say where a reading will lie."""
    low, high = kept.get("reading") or (None, None)
    reading = None if low is None or high is None else (float(low), float(high))
    return Leaving(**{**_timed(kept, "expected", "check_by", "likely", "wide"), "reading": reading})


def _timed(kept: Mapping[str, Any], *times: str) -> dict[str, Any]:
    return {name: _time(value) if name in times else value for name, value in kept.items()}


def _time(value: Any) -> Any:
    if isinstance(value, list):
        return tuple(_time(each) for each in value)
    return None if value is None else datetime.fromisoformat(value)
