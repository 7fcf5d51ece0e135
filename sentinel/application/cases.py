"""What is open, and who sees to it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from sentinel.core.cases.kinds import CaseKind
from sentinel.core.cases.records import CaseRecord, Silencing
from sentinel.core.conditions.event_input import moment, one_line
from sentinel.errors import AdminError
from sentinel.ports import Opening, Reading, ReadSession

CLOSED_DAYS = 30
DEFAULT_SPAN = "24h"
_UNITS = {"m": "minutes", "h": "hours", "d": "days"}
_FILE = "file:"


class FilePlace(NamedTuple):
    """Folder, below the drop folder, and name of a file."""

    folder: str
    name: str


@dataclass(frozen=True, slots=True)
class CaseShown:
    """A case; `place` is that of the file it is about, where it is about one that is known."""

    record: CaseRecord
    place: FilePlace | None = None


@dataclass(frozen=True, slots=True)
class SilenceWanted:
    """What somebody says of open cases, as it was written: a span such as `8h`, or a time, or neither."""

    acknowledged: bool
    by: str
    note: str | None = None
    span: str | None = None
    until: str | None = None


def listed_cases(records: ReadSession, closed_too: bool, now: datetime) -> list[CaseShown]:
    """Every open case, and where they are wanted those that were closed lately."""
    return _shown(records, records.cases.listed(now - timedelta(days=CLOSED_DAYS) if closed_too else None))


def silence_cases(
    opening: Opening,
    reading: Reading,
    numbers: Iterable[int],
    silence: SilenceWanted,
    zone: ZoneInfo,
    now: datetime,
) -> tuple[datetime, list[CaseShown]]:
    """No reminder and no escalation of these cases; until when, and what became of them.

    The records are opened afterwards. Raises AdminError for a number that no open case has, and for bad words.
    """
    until, by = _until(silence, zone, now), one_line("--by", silence.by)
    note = None if silence.note is None else one_line("--note", silence.note)
    if not by:
        raise AdminError("expected a name after --by, got none")
    wanted = list(dict.fromkeys(numbers))
    with opening() as store, store.transaction() as session:
        known = {record.case.seq: record for record in session.cases.listed()}
        _refuse_missing(wanted, known)
        for number in wanted:
            severity = known[number].case.severity
            session.cases.silence(number, Silencing(silence.acknowledged, by, note, severity, now, until))
        changed = [record for record in session.cases.listed() if record.case.seq in wanted]
    return until, _shown(reading(), changed)


def _refuse_missing(wanted: Sequence[int], known: Mapping[int, CaseRecord]) -> None:
    if missing := [number for number in wanted if number not in known]:
        numbers = ", ".join(map(str, missing))
        raise AdminError(f"expected the number of an open case, got {numbers}: see `sentinel cases`")


def _shown(records: ReadSession, cases: Sequence[CaseRecord]) -> list[CaseShown]:
    places = records.files.places([each.subject.removeprefix(_FILE) for each in cases if _is_of_file(each)])
    return [CaseShown(each, _place(each, places)) for each in cases]


def _place(case: CaseRecord, places: Mapping[str, tuple[str, str]]) -> FilePlace | None:
    found = places.get(case.subject.removeprefix(_FILE)) if _is_of_file(case) else None
    return None if found is None else FilePlace(*found)


def _is_of_file(case: CaseRecord) -> bool:
    return case.kind is CaseKind.FILE_UNSCORED


def _until(silence: SilenceWanted, zone: ZoneInfo, now: datetime) -> datetime:
    until = now + _span(silence.span or DEFAULT_SPAN) if silence.until is None else moment(silence.until, zone)
    if until <= now:
        raise AdminError(f"expected a time to come, got {silence.until}")
    return until


def _span(text: str) -> timedelta:
    found = re.fullmatch(r"(\d{1,5})([mhd])", text)
    if found is None or int(found[1]) == 0:
        raise AdminError(f"expected a span such as 90m, 8h or 2d, got {text!r}")
    return timedelta(**{_UNITS[found[2]]: int(found[1])})
