"""How likely a print is out of tolerance in the days to come, in plain values that are kept beside the records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sentinel.core.message import Message, day_of, msg
from sentinel.core.scoring.names import figure_words, unit_of

VERSION = 1
"""Of the form in which it is kept."""
SHARES: Mapping[str, float] = {"careful": 1 / 16, "normal": 1 / 8, "lean": 1 / 5}
"""At which probability of being out of tolerance a check is due."""
CLEARS = 0.5
"""What was called for stays so until the probability is below this share of what calls."""
DAY, WEEK_DAYS = timedelta(days=1), 7
SURE = 2.0
"""A change is told where it is so many times its own error."""


@dataclass(frozen=True, slots=True)
class FigureChange:
    """How a figure changes a day on all stocks of the printer, with the standard deviation of that, in its unit."""

    group: str
    metric: str
    a_day: float
    error: float

    @property
    def sure(self) -> bool:
        """Whether it is beyond chance."""
        return abs(self.a_day) > SURE * self.error


@dataclass(frozen=True, slots=True)
class RiskOutlook:
    """What all checks of the printer up to `at` say of one of its conditions, whose own last one is `check_seq`.

    `outside` is the probability that the print is out of tolerance at `at` and so many whole days later, never less
    than the day before; `leading` the figure most likely to be, when it first may well be. `called` says at which
    probability a check was called for since the condition's own last one, and that it was not cleared since. `since` is
    the first of the printer's readings, of which there are `readings`.
    """

    check_seq: int
    at: datetime
    outside: tuple[float, ...]
    leading: FigureChange | None
    since: datetime
    readings: int
    called: float | None = None

    def reaches(self, share: float) -> datetime:
        """When this probability is reached; the last of the days where it is not within them."""
        if self.called is not None and self.called >= share:
            return self.at
        days = next((day for day, one in enumerate(self.outside) if one >= share), None)
        if days is None:
            return self.at + (len(self.outside) - 1) * DAY
        if days == 0:
            return self.at
        before, after = self.outside[days - 1], self.outside[days]
        return self.at + (days - 1 + (share - before) / (after - before)) * DAY

    def on(self, moment: datetime) -> float:
        """The probability at this moment, not before `at`."""
        days = max((moment - self.at) / DAY, 0.0)
        whole = min(int(days), len(self.outside) - 1)
        after = self.outside[min(whole + 1, len(self.outside) - 1)]
        return self.outside[whole] + min(days - whole, 1.0) * (after - self.outside[whole])

    def after(self, earlier: RiskOutlook | None, share: float) -> RiskOutlook:
        """With what the `earlier` one called for at this share, unless the condition was checked or it is cleared."""
        if earlier is None or earlier.check_seq != self.check_seq:
            return self
        called = earlier.reaches(share) <= self.at and self.outside[0] >= CLEARS * share
        return replace(self, called=share) if called else self

    def as_json(self) -> dict[str, Any]:
        """For the store and for programs."""
        leading = self.leading
        return {
            "version": VERSION,
            "check_seq": self.check_seq,
            "at": self.at.isoformat(),
            "outside": [round(one, 5) for one in self.outside],
            "leading": None
            if leading is None
            else {
                "group": leading.group,
                "metric": leading.metric,
                "a_day": leading.a_day,
                "error": leading.error,
            },
            "since": self.since.isoformat(),
            "readings": self.readings,
            "called": self.called,
        }

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> RiskOutlook:
        """What `as_json` gave."""
        return cls(
            check_seq=kept["check_seq"],
            at=datetime.fromisoformat(kept["at"]),
            outside=tuple(kept["outside"]),
            leading=None if kept["leading"] is None else FigureChange(**kept["leading"]),
            since=datetime.fromisoformat(kept["since"]),
            readings=kept["readings"],
            called=kept["called"],
        )


def risk_words(outlook: RiskOutlook, share: float) -> Message:
    """Why a check is called for where the probability reaches this share: how likely what is, and by when."""
    odds, day = round(1 / share), day_of(outlook.reaches(share))
    leading = outlook.leading
    if leading is None:
        return OUTSIDE_SOMEHOW.format(odds=odds, day=day)
    figure = figure_words(leading.group, leading.metric)
    if not leading.sure:
        return OUTSIDE.format(odds=odds, day=day, figure=figure)
    change = leading.a_day * WEEK_DAYS
    return OUTSIDE_BY_WEAR.format(odds=odds, day=day, figure=figure, change=change, unit=unit_of(leading.metric))


OUTSIDE = msg("about 1 in {odds} that it is out of tolerance by {day}, most likely by the {figure}")
OUTSIDE_SOMEHOW = msg("about 1 in {odds} that it is out of tolerance by {day}")
OUTSIDE_BY_WEAR = msg(
    "about 1 in {odds} that it is out of tolerance by {day}: the {figure} moves by {change:+.2g} {unit} a week on all "
    "stocks of the printer"
)
