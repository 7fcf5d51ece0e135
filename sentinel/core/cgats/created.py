"""The time a file says it was made, where it can be understood in one way only."""

from __future__ import annotations

import re
from datetime import datetime, timedelta, timezone

from sentinel.core.cgats.measurement import Created

_MONTHS = {
    name: number
    for number, name in enumerate("jan feb mar apr may jun jul aug sep oct nov dec".split(), start=1)  # noqa: SIM905
}
_CLOCK = re.compile(
    r"(?:T|\b)(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,]\d+)?)?\s*(?P<half>[ap]\.?m\.?)?"
    r"\s*(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2})?(?=$|[\s,)])",
    re.I,
)
_DATES = (
    re.compile(r"(?P<year>\d{4})(?P<mark>[-/.])(?P<month>\d{1,2})(?P=mark)(?P<day>\d{1,2})"),
    re.compile(r"(?P<day>\d{1,2})\.\s?(?P<month>\d{1,2})\.\s?(?P<year>\d{4})"),
    re.compile(r"(?P<one>\d{1,2})(?P<mark>[-/])(?P<two>\d{1,2})(?P=mark)(?P<year>\d{4})"),
    re.compile(r"(?P<day>\d{1,2})(?:st|nd|rd|th|\.)?[\s-]+(?P<name>[a-z]{3})[a-z]*\.?,?[\s-]+(?P<year>\d{4})", re.I),
    re.compile(r"(?P<name>[a-z]{3})[a-z]*\.?\s+(?P<day>\d{1,2})(?:st|nd|rd|th)?(?:,|\s).*?(?P<year>\d{4})", re.I),
)
_WEEKDAY = re.compile(r"(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?", re.I)


def created(text: str) -> Created:
    """`at` is None without a full date and time of day, where day and month can be swapped, or for an unknown zone."""
    if len(text) > 100:
        return Created(text, None)
    clock = _CLOCK.search(text)
    if clock is None:
        return Created(text, None)
    rest = _WEEKDAY.sub("", text[: clock.start()] + " " + text[clock.end() :]).strip(" ,")
    date = next((match for pattern in _DATES if (match := pattern.fullmatch(rest))), None)
    day = _date(date) if date else None
    if day is None:
        return Created(text, None)
    try:
        return Created(text, datetime(*day, *_time_of_day(clock), tzinfo=_zone(clock["zone"])))
    except ValueError:
        return Created(text, None)


def _date(match: re.Match[str]) -> tuple[int, int, int] | None:
    parts = match.groupdict()
    year = int(parts["year"])
    if "one" in parts:
        one, two = int(parts["one"]), int(parts["two"])
        if one <= 12 and two <= 12 and one != two:
            return None
        return (year, two, one) if one > 12 else (year, one, two)
    month = _MONTHS.get(parts["name"].lower()) if "name" in parts else int(parts["month"])
    return (year, month, int(parts["day"])) if month else None


def _time_of_day(match: re.Match[str]) -> tuple[int, int, int]:
    hour = int(match["hour"])
    half = (match["half"] or "")[:1].lower()
    if half:
        if not 1 <= hour <= 12:
            raise ValueError
        hour = hour % 12 + (12 if half == "p" else 0)
    return hour, int(match["minute"]), int(match["second"] or 0)


def _zone(text: str | None) -> timezone | None:
    if text is None:
        return None
    if text[0] not in "+-":
        return timezone.utc  # noqa: UP017
    minutes = int(text[1:3]) * 60 + int(text[-2:])
    return timezone(timedelta(minutes=minutes if text[0] == "+" else -minutes))
