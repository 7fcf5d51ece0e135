"""Deriving states, and turning what changed into edges, cases and notices, inside the caller's transaction."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from dataclasses import asdict, replace
from datetime import datetime
from enum import Enum, auto

from sentinel.application.second_readings import ReadAgain, read_again
from sentinel.application.situations import ConditionRecords, Hashes, needed_since, reports
from sentinel.core.cases.findings import (
    ABOUT_A_SHEET,
    ASKING,
    file_refused,
    file_settled,
    findings,
    held,
    holding,
    led,
    urgency,
    withheld_findings,
)
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import CaseFinding, OpenCase
from sentinel.core.cases.payloads import (
    Act,
    AgainFacts,
    CheckBefore,
    CheckFacts,
    ConditionCase,
    DriftingFigure,
    ReasonFacts,
    RefusedFileCase,
    StandingFacts,
    VoidedFacts,
)
from sentinel.core.cases.standing import standing
from sentinel.core.conditions.checks import UnscoredFile, Voiding, Withheld
from sentinel.core.conditions.events import EventKind
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.state import StateReport
from sentinel.core.policy import ConditionPolicy, HousePolicy
from sentinel.core.scoring.matching import Match
from sentinel.core.scoring.score import worst_patches
from sentinel.core.verdict import Reason
from sentinel.ports import WriteSession
from sentinel.service.dispatch import Addressees, AppliedTransition, Dispatcher, PendingNotice, Scope


class Asking(Enum):
    """Whether checks are asked for that the clock alone made due, and people reminded of them."""

    NOTHING = auto()
    """A file was taken in, or what it foretells was worked out: the clock has not looked yet."""
    NOW = auto()
    ONCE_FILES_ARE_IN = auto()
    """Files that may yet be taken in lie in the drop folder: what is due has to wait for them, though not for ever."""
    AFTER_ALL = auto()
    """They have lain there for long: of what is due already people are reminded all the same."""

    def keeps_back(self, seen: datetime, now: datetime) -> frozenset[CaseStep]:
        """The steps that are not taken now, of a condition that is in its state since it was `seen` so."""
        waits = self in (Asking.ONCE_FILES_ARE_IN, Asking.AFTER_ALL) and held(seen, now)
        opening = {CaseStep.OPENED} if self is Asking.NOTHING or waits else set()
        reminding = {CaseStep.REMINDED} if self in (Asking.NOTHING, Asking.ONCE_FILES_ARE_IN) else set()
        return frozenset(opening | reminding)


SHOWN_CHECKS = 30
SHOWN_PATCHES = 8
"""How much of the past, and how many patches, the picture of a notice shows."""


class StateRecorder:
    """Works inside one transaction and by one policy."""

    def __init__(
        self, session: WriteSession, house: HousePolicy, addressees: Addressees, hashes: Hashes, now: datetime
    ) -> None:
        self._session = session
        self._house = house
        self.dispatcher = Dispatcher(session, house.notices, addressees, now)
        self._hashes = hashes
        self._now = now
        self._matches: dict[tuple[str, int], Match] = {}

    def compared(self, sha256: str, table: int, match: Match) -> None:
        """The patches of a measurement of this transaction, for the pictures of its notices."""
        self._matches[sha256, table] = match

    def conditions(
        self, names: Iterable[ConditionName], asking: Asking = Asking.NOTHING
    ) -> dict[ConditionName, StateReport]:
        """States of these conditions derived afresh; what is new about them written down and told.

        A check is asked for by the clock alone (`asking`): a file that is taken in may be followed by the one that
        answers.
        """
        names = list(names)
        policies = [self._house.conditions[name] for name in names]
        found = reports(policies, self._records(names), self._hashes, self._now)
        announced = self._session.service.announced()
        seen = {} if asking is Asking.NOTHING else self._session.service.announced_at()
        withheld = self._session.checks.withheld([str(name) for name in names])
        notices: list[PendingNotice] = []
        for policy in policies:
            name, report = policy.name, found[policy.name]
            if announced.get(str(name)) != (report.state.value, [reason.code.value for reason in report.reasons]):
                self._session.service.announce(str(name), report, self._now)
                seen[str(name)] = self._now
            kept_back = asking.keeps_back(seen.get(str(name), self._now), self._now)
            notices += self._steps(policy, report, withheld.get(str(name)), kept_back)
        self.dispatcher.post(notices)
        return found

    def refused(self, record: UnscoredFile, seq: int, left: bool) -> None:
        """A file that could not be scored: told once each time it is dropped."""
        subject, kind = _subject(record), CaseKind.FILE_UNSCORED
        applied = self.dispatcher.apply(subject, file_refused(self.dispatcher.case(subject, kind), seq))
        self.dispatcher.post([PendingNotice(applied, kind.notice, _file_case(record, left))])

    def settled(self, records: Iterable[UnscoredFile]) -> None:
        """Files that could be scored after all: their cases end without a word."""
        for record in records:
            case = self.dispatcher.case(_subject(record), CaseKind.FILE_UNSCORED)
            if case is not None:
                self.dispatcher.apply(_subject(record), file_settled(case))

    def _records(self, names: Sequence[ConditionName]) -> ConditionRecords:
        called = [str(name) for name in names]
        checks = self._session.checks.latest(called, self._house.recent_checks)
        events = self._session.events.holding({name.printer for name in names}, needed_since(checks))
        return ConditionRecords(
            checks,
            events,
            self._session.targets.versions,
            self._session.forecasts.latest(called),
            self._session.risks.latest(called),
        )

    def _steps(
        self, policy: ConditionPolicy, report: StateReport, withheld: Withheld | None, kept_back: frozenset[CaseStep]
    ) -> list[PendingNotice]:
        """The step of each concern of a condition, and then what is told of it: all of them with the same standing."""
        subject, scope = str(policy.name), Scope(policy.name.printer, policy.name.substrate)
        found = findings(report) | withheld_findings(withheld)
        found[CaseKind.CHECK_FAILED] = self._weighed(policy, report, found[CaseKind.CHECK_FAILED])
        taken = []
        for kind, finding in found.items():
            before = self.dispatcher.case(subject, kind)
            voiding = None if finding.holds else self._ended_by_voiding(kind, before, report)
            if voiding is not None:
                finding = replace(finding, ended_by=VOIDED)  # noqa: PLW2901 - the same finding, ended otherwise
            if (
                kind in ASKING
                and finding.holds
                and (CaseStep.OPENED if before is None else CaseStep.REMINDED) in kept_back
            ):
                continue
            others = led(kind, holding(found))
            applied = self.dispatcher.advance(subject, kind, finding, scope, led=others)
            if applied is not None and applied.step.notice is not None:
                taken.append((applied, before, finding, voiding))
        return [self._notice(policy, report, *each, scope) for each in taken]

    def _ended_by_voiding(self, kind: CaseKind, case: OpenCase | None, report: StateReport) -> Voiding | None:
        """Who took back the sheet that this was about, where that is what ended it, and no later sheet."""
        if kind not in ABOUT_A_SHEET or case is None or case.cause is None:
            return None
        later = report.last is not None and report.last.seq > case.cause
        return None if later else self._session.checks.voided(case.cause)

    def _before(self, case: OpenCase | None) -> CheckBefore | None:
        """What the failed sheet pointed to: a later reading may confirm it. One that was taken back says nothing."""
        if case is None or case.cause is None or self._session.checks.voided(case.cause):
            return None
        return CheckBefore.from_json(self._session.checks.facts(case.cause))

    def _weighed(self, policy: ConditionPolicy, report: StateReport, finding: CaseFinding) -> CaseFinding:
        """How pressing a failed check is, as the records stand now: a sheet before it may have been taken back, or may
        have come late, which makes it the second one that failed."""
        if not finding.holds or finding.cause is None:
            return finding
        case, rules = self.dispatcher.case(str(policy.name), CaseKind.CHECK_FAILED), policy.urgency
        count = 2 if report.failed_again else 1
        found = urgency(self._session.checks.facts(finding.cause), count, rules.confirm_first, rules.gross_factor)
        severity = Severity(found)
        first = case is not None and case.count == 1 and case.severity is Severity.CONFIRM
        worse = first and report.failed_again and severity.rank > Severity.CONFIRM.rank
        return replace(finding, severity=severity, worse=worse)

    def _notice(
        self,
        policy: ConditionPolicy,
        report: StateReport,
        applied: AppliedTransition,
        before: OpenCase | None,
        finding: CaseFinding,
        voiding: Voiding | None,
        scope: Scope,
    ) -> PendingNotice:
        step = applied.step
        cause = finding.cause if finding.holds else step.cause
        if voiding is not None and before is not None:
            cause = before.cause
        check = None if cause is None else self._check(cause, pictured=step.kind is not CaseKind.CHECK_DUE)
        about_a_sheet = step.kind in ABOUT_A_SHEET and voiding is None
        read = read_again(self._session, self._house, cause, self._now) if cause and about_a_sheet else None
        if check is not None and read is not None and read.of_second:
            check = replace(check, diagnosis=read.weighed.findings)
        codes = frozenset(reason.code.value for reason in report.reasons)
        if check is not None and step.kind is CaseKind.CHECK_FAILED:
            codes = check.codes
        over = step.step is CaseStep.CLOSED
        kind = NoticeKind.RECOVERED if over else step.kind.told_as(step.severity, codes)
        own = self.case_of(policy.name, report)
        if over and before is not None and own.standing is not None:
            own = replace(own, standing=replace(own.standing, done=self._done(policy.name, before.opened_at)))
        count = policy.due.warned_times if kind is NoticeKind.WARNING_REPEATED else step.count
        case = replace(
            own,
            check=check,
            count=count,
            urgency=step.severity.value,
            before=self._before(before) if over or step.step is CaseStep.REPEATED else None,
            again=None if read is None else _again(read),
            voided=None if voiding is None else VoidedFacts(by=voiding.by, why=voiding.why),
            drift=_drifting(report) if kind is NoticeKind.DRIFT_CONFIRMED else None,
        )
        return PendingNotice(applied, kind, case, scope)

    def _check(self, seq: int, *, pictured: bool) -> CheckFacts:
        """With what its picture is drawn from, where it has one: its patches if its file came in this transaction."""
        facts = {**self._session.checks.facts(seq), "seq": seq}
        if pictured:
            match = self._matches.get((facts["sha256"], facts["table_no"]))
            facts["trend"] = self._session.checks.trend(seq, SHOWN_CHECKS)
            facts["worst"] = worst_patches(match, SHOWN_PATCHES) if match is not None else []
        return CheckFacts.from_json(facts)

    def case_of(self, name: ConditionName, report: StateReport) -> ConditionCase:
        """What a notice says of a condition."""
        return ConditionCase(
            **asdict(self._house.conditions[name].facts),
            state=report.state.value,
            reasons=_as_facts(report.reasons),
            due_at=report.due_at,
            standing=self._standing(name, report),
        )

    def _standing(self, name: ConditionName, report: StateReport) -> StandingFacts:
        found = standing(self.dispatcher.opened.get(str(name), {}), report, self._now)
        return StandingFacts(
            case=found.number,
            since=found.since,
            production=found.production.value,
            next_step=found.next_step.value,
            turn=found.turn.value,
            leading=found.leading.value if found.leading else None,
            severity=found.severity.value if found.severity else None,
            seen_by=found.seen_by,
            done=self._done(name, found.since),
        )

    def _done(self, name: ConditionName, since: datetime | None) -> tuple[Act, ...]:
        """What people did about it since the case was opened, as far as they told."""
        if since is None:
            return ()
        events = self._session.events.holding({name.printer}, since)
        told = [each for each in events if each.kind in DEEDS and each.at >= since and each.concerns(name)]
        return tuple(Act(kind=each.kind.value, at=each.at, by=each.told_by) for each in told)


VOIDED = sys.maxsize
"""In place of the record that ended a case: the one it was about was taken back, which is told."""

DEEDS = frozenset({EventKind.RECALIBRATION, EventKind.SERVICE, EventKind.NOZZLE_CHECK, EventKind.HEADS})
"""Events that are somebody's answer to a case."""


def _again(read: ReadAgain) -> AgainFacts:
    weighed = read.weighed
    return AgainFacts(
        first=read.first,
        outcome=weighed.second.outcome.value,
        hours=weighed.second.hours,
        same_sheet=weighed.second.same_sheet,
        was_wet=weighed.was_wet,
        misread=weighed.was_misread,
        excluded=weighed.excluded,
        sentence=weighed.sentence.as_json(),
        diagnosis=None if read.of_second else weighed.findings,
    )


def _drifting(report: StateReport) -> tuple[DriftingFigure, ...]:
    return tuple(
        DriftingFigure(group=each.group, metric=each.metric, side=each.side, since=each.at)
        for each in report.drift or ()
    )


def _subject(record: UnscoredFile) -> str:
    return f"file:{record.sha256 or record.origin}"


def _file_case(record: UnscoredFile, left: bool) -> RefusedFileCase:
    return RefusedFileCase(
        file_name=record.file_name,
        folder=record.folder_clue,
        set_aside_as=None if left else record.set_aside_as,
        arrived_at=record.arrived_at,
        reasons=_as_facts(record.reasons),
    )


def _as_facts(reasons: Iterable[Reason]) -> tuple[ReasonFacts, ...]:
    return tuple(ReasonFacts(code=reason.code.value, message=reason.message) for reason in reasons)
