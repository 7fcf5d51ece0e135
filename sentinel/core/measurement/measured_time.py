"""When a chart was measured: from the file's header where that is believable, else from the file's own time."""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo
from typing import NamedTuple

from sentinel.core.measurement.measurement import Created
from sentinel.core.message import Message, Quantity, UnitOfMeasure, msg
from sentinel.core.verdict import Code, Reason

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
