"""What is open, and who sees to it."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import NamedTuple

from sentinel.application.conditions import standings, states_now
from sentinel.application.second_readings import ReadAgain, read_again
from sentinel.application.situations import Hashes
from sentinel.core.cases.findings import ABOUT_A_SHEET, PRESSING, WITHHELD
from sentinel.core.cases.kinds import CaseKind
from sentinel.core.cases.records import CaseRecord, Silencing
from sentinel.core.cases.standing import Standing, apart
from sentinel.core.conditions.event_input import moment, one_line
from sentinel.core.conditions.state import StateReport
from sentinel.core.policy import HousePolicy
from sentinel.errors import AdminError
from sentinel.ports import Opening, Reading, ReadSession

CLOSED_DAYS = 30
DEFAULT_SPAN = "24h"
LONGEST_SPAN = timedelta(days=92)
"""What is silent for longer than a quarter is not seen to by anybody."""
_UNITS = {"m": "minutes", "h": "hours", "d": "days"}
_FILE = "file:"


class FilePlace(NamedTuple):
    """Folder, below the drop folder, and name of a file."""

    folder: str
    name: str


@dataclass(frozen=True, slots=True)
class CaseShown:
    """A case by its number; `concerns` are what it is about, the most pressing first.

    `standing` is where it stands, which is where its printing condition does; None once it is over. `place` is that
    of the file it is about, if any; `again` what the sheet it is about tells as a second reading.
    """

    number: int
    concerns: tuple[CaseRecord, ...]
    standing: Standing | None = None
    place: FilePlace | None = None
    again: ReadAgain | None = None

    @property
    def record(self) -> CaseRecord:
        """The concern that speaks for the case."""
        return self.concerns[0]

    @property
    def opened_at(self) -> datetime | None:
        """When the first of its concerns was opened."""
        return min((each.case.opened_at for each in self.concerns if each.case.opened_at), default=None)

    @property
    def closed_at(self) -> datetime | None:
        """When the last of its concerns was closed; None while one is open."""
        closed = [each.closed_at for each in self.concerns]
        return None if None in closed else max(each for each in closed if each)


@dataclass(frozen=True, slots=True)
class SilenceWanted:
    """What somebody says of open cases, as it was written: a span such as `8h`, or a time, or neither."""

    acknowledged: bool
    by: str
    note: str | None = None
    span: str | None = None
    until: str | None = None


def listed_cases(
    house: HousePolicy, records: ReadSession, hashes: Hashes, closed_too: bool, now: datetime
) -> list[CaseShown]:
    """Every open case, and where they are wanted those that were closed lately."""
    listed = records.cases.listed(now - timedelta(days=CLOSED_DAYS) if closed_too else None)
    return _shown(house, records, hashes, listed, now)


def silence_cases(
    house: HousePolicy,
    opening: Opening,
    reading: Reading,
    hashes: Hashes,
    numbers: Iterable[int],
    silence: SilenceWanted,
    now: datetime,
) -> tuple[datetime, list[CaseShown]]:
    """No reminder and no escalation of these cases; until when, and what became of them.

    The number of a concern, as older notices told it, stands for its case. The records are opened afterwards. Raises
    AdminError for a number that no open case has, and for bad words.
    """
    until, by = _until(silence, house.calendar.zone, now), one_line("--by", silence.by)
    note = None if silence.note is None else one_line("--note", silence.note)
    if not by:
        raise AdminError("expected a name after --by, got none")
    asked = list(dict.fromkeys(numbers))
    with opening() as store, store.transaction() as session:
        opened = session.cases.listed()
        known = {record.case.seq: record.case.number for record in opened} | {
            each.case.number: each.case.number for each in opened
        }
        _refuse_missing(asked, known)
        wanted = list(dict.fromkeys(known[number] for number in asked))
        for number in wanted:
            severity = max((each.case.severity for each in opened if each.case.number == number), key=lambda s: s.rank)
            session.cases.silence(number, Silencing(silence.acknowledged, by, note, severity, now, until))
        changed = [record for record in session.cases.listed() if record.case.number in wanted]
    return until, _shown(house, reading(), hashes, changed, now)


def _refuse_missing(wanted: Sequence[int], known: Collection[int]) -> None:
    if missing := [number for number in wanted if number not in known]:
        numbers = ", ".join(map(str, missing))
        raise AdminError(f"expected the number of an open case, got {numbers}: see `sentinel cases`")


def _shown(
    house: HousePolicy, records: ReadSession, hashes: Hashes, listed: Sequence[CaseRecord], now: datetime
) -> list[CaseShown]:
    """The concerns brought together, in the order in which their cases were opened."""
    cases: dict[int, list[CaseRecord]] = {}
    for record in listed:
        cases.setdefault(record.case.number, []).append(record)
    of_files = [each.subject.removeprefix(_FILE) for each in listed if _is_of_file(each)]
    places = records.files.places(of_files)
    called = {each.subject for each in listed}
    names = sorted((name for name in house.conditions if str(name) in called), key=str)
    found = states_now(house, records, hashes, names, now) if names else {}
    reports = {str(name): report for name, report in found.items()}
    stand = standings(records, reports, now)
    return [
        CaseShown(
            number,
            tuple(sorted(concerns, key=_first)),
            _standing(concerns, stand, now),
            _place(concerns[0], places),
            _again(house, records, concerns, reports, now),
        )
        for number, concerns in sorted(cases.items())
    ]


def _standing(concerns: Sequence[CaseRecord], stand: Mapping[str, Standing], now: datetime) -> Standing | None:
    """That of its printing condition, where it is about one, or else its own; a case that is over stands nowhere."""
    if all(each.closed_at for each in concerns):
        return None
    first = min(concerns, key=_first)
    return stand.get(first.subject) or apart(first.kind, first.case, now)


def _again(
    house: HousePolicy,
    records: ReadSession,
    concerns: Sequence[CaseRecord],
    reports: Mapping[str, StateReport],
    now: datetime,
) -> ReadAgain | None:
    """What the sheet that was measured last tells about an open case of a sheet: one that is withheld, or else the last
    with a verdict."""
    about = [each for each in concerns if each.kind in ABOUT_A_SHEET and each.closed_at is None]
    report = reports.get(about[0].subject) if about else None
    if report is None:
        return None
    newest = None if report.last is None else report.last.seq
    last = next((each.case.cause for each in about if each.kind in WITHHELD), newest)
    return None if last is None else read_again(records, house, last, now)


def _first(record: CaseRecord) -> tuple[bool, int, int]:
    kind = record.kind
    return record.closed_at is not None, PRESSING.index(kind) if kind in PRESSING else 0, record.case.seq


def _place(case: CaseRecord, places: Mapping[str, tuple[str, str]]) -> FilePlace | None:
    found = places.get(case.subject.removeprefix(_FILE)) if _is_of_file(case) else None
    return None if found is None else FilePlace(*found)


def _is_of_file(case: CaseRecord) -> bool:
    return case.kind is CaseKind.FILE_UNSCORED


def _until(silence: SilenceWanted, zone: tzinfo, now: datetime) -> datetime:
    until = now + _span(silence.span or DEFAULT_SPAN) if silence.until is None else moment(silence.until, zone)
    if until <= now:
        raise AdminError(f"expected a time to come, got {silence.until}")
    if until > now + LONGEST_SPAN:
        said = silence.span if silence.until is None else silence.until
        raise AdminError(f"expected at most {LONGEST_SPAN.days} days of silence, got {said}")
    return until


def _span(text: str) -> timedelta:
    found = re.fullmatch(r"(\d{1,5})([mhd])", text)
    if found is None or int(found[1]) == 0:
        raise AdminError(f"expected a span such as 90m, 8h or 2d, got {text!r}")
    return timedelta(**{_UNITS[found[2]]: int(found[1])})
