"""Who is on duty when: shifts, their gaps and overlaps, and what is quiet for whoever is off. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple

from sentinel.core.conditions.calendar import Calendar

DAY_MINUTES = 24 * 60
WEEK_MINUTES = 7 * DAY_MINUTES
A_DAY = timedelta(days=1)
LONGEST_LOOK = 60
"""So many days ahead a shift is looked for."""


@dataclass(frozen=True, slots=True)
class WorkShift:
    """A shift by its name, and who is told during it. It begins on `days` of the week, Monday 0, None for the working
    days of the place, and with `days_off` on its days off too; it ends the next day where `ends` is not after `begins`.
    """

    name: str
    recipients: tuple[str, ...]
    begins: time = time.min
    ends: time = time.min
    days: frozenset[int] | None = None
    days_off: bool = False

    def begins_on(self, day: date, calendar: Calendar) -> bool:
        """Whether it begins on this day."""
        if not calendar.works(day) and self.days_off:
            return True
        if self.days is None:
            return calendar.works(day)
        return day.weekday() in self.days and day not in calendar.holidays

    def weekly(self, calendar: Calendar) -> Iterator[tuple[int, int]]:
        """From and until which minute of a week without holidays it lasts."""
        begins, ends = _minute(self.begins), _minute(self.ends)
        length = (ends - begins) % DAY_MINUTES or DAY_MINUTES
        for day in range(7):
            off = self.days_off and calendar.working and day not in calendar.working
            if off or day in (calendar.working if self.days is None else self.days):
                yield day * DAY_MINUTES + begins, day * DAY_MINUTES + begins + length


class ShiftTime(NamedTuple):
    """One time that a shift takes place, in UTC."""

    begins: datetime
    ends: datetime
    shift: WorkShift


@dataclass(frozen=True, slots=True)
class Duty:
    """All shifts of a place; whoever none of them names is told as if there were none."""

    shifts: tuple[WorkShift, ...] = ()
    calendar: Calendar = field(default_factory=Calendar)

    def names(self, recipient: str) -> bool:
        """Whether some shift names this recipient."""
        return any(recipient in each.recipients for each in self.shifts)

    def on(self, recipient: str, now: datetime) -> bool:
        """Whether this recipient is on duty."""
        return any(recipient in each.shift.recipients and each.begins <= now < each.ends for each in self.around(now))

    def next_on(self, recipient: str, now: datetime) -> datetime:
        """The first moment from `now` on at which this recipient is on duty; `now` where that never comes."""
        for each in self.around(now, LONGEST_LOOK):
            if recipient in each.shift.recipients and each.ends > now:
                return max(now, each.begins)
        return now

    def around(self, now: datetime, days: int = 1) -> Iterator[ShiftTime]:
        """Shifts in the order in which they begin, from those that may still last at `now` until some days ahead."""
        today = now.astimezone(self.calendar.zone).date()
        for number in range(-2, days + 1):
            day = today + number * A_DAY
            begun = (self._on(day, each) for each in self.shifts if each.begins_on(day, self.calendar))
            yield from sorted(begun, key=lambda each: each.begins)

    def changes(self, since: datetime, now: datetime) -> tuple[list[ShiftTime], list[ShiftTime]]:
        """Shifts that ended since then, and those that began since and last."""
        times = list(self.around(now))
        ended = [each for each in times if since < each.ends <= now]
        return ended, [each for each in times if since < each.begins <= now < each.ends]

    def _on(self, day: date, shift: WorkShift) -> ShiftTime:
        last = day if shift.ends > shift.begins else day + A_DAY
        return ShiftTime(self._at(day, shift.begins), self._at(last, shift.ends), shift)

    def _at(self, day: date, at: time) -> datetime:
        return datetime.combine(day, at, self.calendar.zone).astimezone(UTC)

    def overlaps(self) -> Iterator[tuple[WorkShift, WorkShift, int]]:
        """Each shift that begins while another lasts in a week without holidays, after that, with the first minute."""
        held: dict[int, WorkShift] = {}
        for each in self.shifts:
            minutes = _covered([each], self.calendar)
            first = min((minute for minute in minutes if minute in held), default=None)
            if first is not None:
                yield held[first], each, first
            held.update(dict.fromkeys(minutes, each))

    def gaps(self) -> Iterator[tuple[int, int]]:
        """From and until which minute of the week nobody is on duty; the one over Sunday night is one."""
        covered = _covered(self.shifts, self.calendar)
        begins = [each for each in range(WEEK_MINUTES) if each not in covered and (each - 1) % WEEK_MINUTES in covered]
        for begin in begins:
            end = begin
            while end % WEEK_MINUTES not in covered:
                end += 1
            yield begin, end % WEEK_MINUTES


def _covered(shifts: Sequence[WorkShift], calendar: Calendar) -> set[int]:
    spans = (span for each in shifts for span in each.weekly(calendar))
    return {minute % WEEK_MINUTES for begin, end in spans for minute in range(begin, end)}


def _minute(at: time) -> int:
    return at.hour * 60 + at.minute


@dataclass(frozen=True, slots=True)
class OffDuty:
    """When a recipient that shifts name is told only what is urgent: while it is off duty."""

    name: str
    duty: Duty

    def until(self, now: datetime) -> datetime:
        """The first moment from `now` on at which it may be told."""
        return self.duty.next_on(self.name, now)

    def away(self, now: datetime) -> bool:
        """Whether what happens now is told in one page, when it comes on duty."""
        return self.until(now) > now

    def returned(self, now: datetime) -> bool:  # noqa: ARG002
        """It is not days off that it comes back from."""
        return False
