"""Deriving states, and turning what changed into edges, incidents and notices, inside the caller's transaction."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sentinel.core.condition import ConditionName
from sentinel.core.incidents import (
    IncidentKind,
    NoticeKind,
    OpenIncident,
    Step,
    Transition,
    file_refused,
    file_settled,
    transitions,
)
from sentinel.core.reasons import Reason
from sentinel.core.records import Notice, UnscoredFile
from sentinel.core.state import StateReport
from sentinel.service.ports import Addressee, Unit
from sentinel.service.situations import Hashes, Records, needed_since, reports
from sentinel.service.urgency import urgency
from sentinel.settings.snapshot import Snapshot

Addressees = Sequence[Addressee]


@dataclass(frozen=True, slots=True)
class _Told:
    """A notice before it is addressed."""

    key: str
    kind: NoticeKind
    facts: Mapping[str, Any]


class Announcer:
    """Works inside one transaction and under one snapshot of the settings."""

    def __init__(
        self, unit: Unit, snapshot: Snapshot, addressees: Sequence[Addressee], hashes: Hashes, now: datetime
    ) -> None:
        self._unit = unit
        self._snapshot = snapshot
        self._addressees = addressees
        self._hashes = hashes
        self._now = now

    def conditions(self, names: Iterable[ConditionName]) -> None:
        """States of these conditions derived afresh; what is new about them written down and told."""
        names = list(names)
        found = reports(self._snapshot, names, self._records(names), self._hashes, self._now)
        announced, opened = self._unit.announced_states(), self._unit.open_incidents()
        told: list[_Told] = []
        for name, report in found.items():
            if announced.get(str(name)) != (report.state.value, [reason.code.value for reason in report.reasons]):
                self._unit.announce(str(name), report, self._now)
            for step in transitions(opened.get(str(name), {}), report):
                told += self._step(name, report, opened.get(str(name), {}).get(step.kind), step)
        self._tell(_grouped(told))

    def refused(self, record: UnscoredFile, seq: int, left: bool) -> None:
        """A file that could not be scored: told once each time it is dropped."""
        subject = _subject(record)
        opened = self._unit.open_incidents().get(subject, {}).get(IncidentKind.FILE_UNSCORED)
        step = file_refused(opened, seq)
        incident = self._unit.apply(subject, opened, step, self._now)
        self._tell([_Told(_key(incident, step), NoticeKind.FILE_UNSCORED, _facts_of_file(record, left))])

    def settled(self, records: Iterable[UnscoredFile]) -> None:
        """Files that could be scored after all: their incidents end without a word."""
        opened = self._unit.open_incidents()
        for record in records:
            incident = opened.get(_subject(record), {}).pop(IncidentKind.FILE_UNSCORED, None)
            if incident is not None:
                self._unit.apply(_subject(record), incident, file_settled(incident), self._now)

    def _records(self, names: Sequence[ConditionName]) -> Records:
        checks = self._unit.latest_checks([str(name) for name in names], self._snapshot.recent_checks)
        events = self._unit.events({name.printer for name in names}, needed_since(checks))
        return Records(checks, events, self._unit.target_versions)

    def _step(
        self, name: ConditionName, report: StateReport, opened: OpenIncident | None, step: Transition
    ) -> list[_Told]:
        incident = self._unit.apply(str(name), opened, step, self._now)
        if step.notice is None:
            return []
        facts = {**self._facts_of(name, report), "count": step.count}
        if step.cause is not None:
            check = dict(self._unit.check_facts(step.cause))
            due = self._snapshot.loaded.settings.due
            facts["urgency"] = urgency(check, step.count, due.confirm_first, due.gross_factor)
            facts["check"] = check
        return [_Told(_key(incident, step), step.notice, facts)]

    def _facts_of(self, name: ConditionName, report: StateReport) -> dict[str, Any]:
        settings = self._snapshot.loaded.settings
        printer, substrate = settings.printers[name.printer], settings.substrates[name.substrate]
        return {
            "condition": str(name),
            "printer": printer.label or name.printer,
            "substrate": substrate.label or name.substrate,
            "mode": name.mode,
            "technology": printer.technology,
            "drying_hours": substrate.drying_hours,
            "notes": substrate.notes,
            "state": report.state.value,
            "reasons": [reason.as_json() for reason in report.reasons],
            "due_at": report.due_at.isoformat() if report.due_at else None,
        }

    def _tell(self, told: Iterable[_Told]) -> None:
        zone = self._snapshot.loaded.settings.site.timezone
        notices = [
            Notice(each.key, each.kind, addressee.name, url_no, {**each.facts, "timezone": zone})
            for each in told
            for addressee in self._addressees
            if each.kind in addressee.kinds
            for url_no in range(addressee.urls)
        ]
        self._unit.enqueue(notices, self._now)


def _grouped(told: Sequence[_Told]) -> list[_Told]:
    """Checks that turned due at one moment make one notice."""
    due = [each for each in told if each.kind is NoticeKind.CHECK_DUE]
    others = [each for each in told if each.kind is not NoticeKind.CHECK_DUE]
    if not due:
        return others
    return [*others, _Told(due[0].key, NoticeKind.CHECK_DUE, {"conditions": [dict(each.facts) for each in due]})]


def _key(incident: int, step: Transition) -> str:
    """The same for the same step of the same incident, whenever it is made."""
    return f"incident-{incident}-{step.step.value}" + (f"-{step.count}" if step.step is Step.REPEATED else "")


def _subject(record: UnscoredFile) -> str:
    return f"file:{record.sha256 or record.origin}"


def _facts_of_file(record: UnscoredFile, left: bool) -> dict[str, Any]:
    return {
        "file_name": record.file_name,
        "folder": record.folder_clue,
        "set_aside_as": None if left else record.set_aside_as,
        "arrived_at": record.arrived_at.isoformat(),
        "reasons": _as_json(record.reasons),
    }


def _as_json(reasons: Iterable[Reason]) -> list[dict[str, str]]:
    return [reason.as_json() for reason in reasons]
