"""When a chart was measured: from the file's header where that is believable, else from the file's own time."""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo
from typing import NamedTuple

from sentinel.core.cgats.measurement import Created
from sentinel.core.reasons import Code, Reason

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
        return _assumed("the header has no time of measurement", file_time, arrived)
    if created.at is None:
        return _assumed(f"the header's time {created.text!r} is not a full and unambiguous one", file_time, arrived)
    at = created.at if created.at.tzinfo else created.at.replace(tzinfo=zone)
    if at.utcoffset() != at.replace(fold=1).utcoffset():
        return _assumed(f"the header's time {created.text!r} falls where the clocks change", file_time, arrived)
    if at > arrived + CLOCKS_APART:
        return _assumed(f"the header's time {created.text!r} lies in the future", file_time, arrived)
    if at < arrived - trusted:
        return _assumed(
            f"the header's time {created.text!r} is over {trusted.days} days old, as of a template", file_time, arrived
        )
    return MeasuredAt(at, None)


def _assumed(why: str, file_time: datetime, arrived: datetime) -> MeasuredAt:
    return MeasuredAt(
        min(file_time, arrived),
        Reason(Code.MEASURED_TIME_ASSUMED, f"{why}: the file's own time is taken for the time of measurement"),
    )
