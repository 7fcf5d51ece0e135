"""Working days of a place: which days count, and when so many of them are over."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum

EVERY_DAY = frozenset(range(7))


class Weekday(StrEnum):
    """The days of the week, in their order."""

    MONDAY = "monday"
    TUESDAY = "tuesday"
    WEDNESDAY = "wednesday"
    THURSDAY = "thursday"
    FRIDAY = "friday"
    SATURDAY = "saturday"
    SUNDAY = "sunday"

    @property
    def number(self) -> int:
        """Monday 0, as `date.weekday` counts."""
        return list(Weekday).index(self)


@dataclass(frozen=True, slots=True)
class Calendar:
    """`working` are days of the week, Monday 0; `holidays` are days off whatever the week says."""

    zone: tzinfo = UTC
    working: frozenset[int] = EVERY_DAY
    holidays: frozenset[date] = field(default_factory=frozenset)

    def works(self, day: date) -> bool:
        """Whether people work on this day."""
        return day.weekday() in self.working and day not in self.holidays

    def begins(self, day: date) -> datetime:
        """When this day begins here, in UTC."""
        return datetime.combine(day, time.min, self.zone).astimezone(UTC)

    def day(self, moment: datetime) -> date:
        """Which day it is here at that moment, which is aware."""
        return moment.astimezone(self.zone).date()

    def working_from(self, day: date) -> date:
        """This day where people work on it, else the next one on which they do; the day itself where they never do."""
        later = (day + timedelta(days=ahead) for ahead in range(366))
        return next((each for each in later if self.works(each)), day)

    def after(self, start: datetime, span: timedelta) -> datetime:
        """When `span` of working time has passed since `start`, in UTC; only hours of working days count.

        A week without a working day cannot be waited for: the span then counts every day.
        """
        start = start.astimezone(UTC)
        if (self.working == EVERY_DAY and not self.holidays) or not self.working:
            return start + span
        moment, left = start, span
        for _ in range(10 * 366):
            midnight = self._next_midnight(moment)
            if self.works(moment.astimezone(self.zone).date()):
                if left < midnight - moment:
                    return moment + left
                left -= midnight - moment
            moment = midnight
        return start + span

    def _next_midnight(self, moment: datetime) -> datetime:
        tomorrow = moment.astimezone(self.zone).date() + timedelta(days=1)
        return datetime.combine(tomorrow, time.min, self.zone).astimezone(UTC)
