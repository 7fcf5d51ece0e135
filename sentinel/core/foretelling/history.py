"""From records to series: which readings count, and how one lot of a stock is carried over to the next."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sentinel.core.foretelling.figures import Figure


@dataclass(frozen=True, slots=True)
class Reading:
    """The watched figures of one check."""

    seq: int
    at: datetime
    figures: Mapping[Figure, float]


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
