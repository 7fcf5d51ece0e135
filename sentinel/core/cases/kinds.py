"""Kinds of notices and of cases, each whole: what it is called, how pressing it is, what it tells, when it is told.

Their words are in `sentinel.render.notices.kinds`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Self

from sentinel.core.cases.payloads import (
    ArrivalsAgain,
    ArrivalsCase,
    CertificateCase,
    CheckCase,
    ConditionCases,
    DriftCase,
    FailedCheckCase,
    OpenWork,
    Payload,
    RefusedFileCase,
    RulesCase,
    SummaryPayload,
    TroubleCase,
)
from sentinel.core.verdict import Code


class Severity(StrEnum):
    """How pressing a notice is, the least first."""

    ROUTINE = "routine"
    CONFIRM = "confirm"
    ALARM = "alarm"
    URGENT = "urgent"

    @classmethod
    def kept(cls, code: str | None) -> Severity:
        """What a record names; an alarm where that is nothing this program knows."""
        return next((each for each in cls if each.value == code), cls.ALARM)

    @property
    def rank(self) -> int:
        """Its place, 0 for the least."""
        return list(Severity).index(self)


@dataclass(frozen=True, slots=True)
class _Notice:
    code: str
    severity: Severity
    payloads: tuple[type[Payload], ...]
    grouped: bool
    paced: bool = False


class NoticeKind(StrEnum):
    """What people are told."""

    severity: Severity
    """How pressing it is, where the case says nothing else."""
    payloads: tuple[type[Payload], ...]
    """What it tells: one of these."""
    grouped: bool
    """Whether printing conditions of which the same is told at one moment make one notice."""
    paced: bool
    """Whether those that follow one another are gathered for a while, since they may come in hundreds."""

    CONFIRM_FAILURE = _Notice("confirm-failure", Severity.CONFIRM, (FailedCheckCase,), grouped=False)
    CHECK_FAILED = _Notice("check-failed", Severity.ALARM, (FailedCheckCase,), grouped=False)
    WRONG_STOCK = _Notice("wrong-stock", Severity.URGENT, (FailedCheckCase,), grouped=False)
    PATCH_ORDER = _Notice("patch-order", Severity.URGENT, (CheckCase,), grouped=False)
    RECOVERED = _Notice("recovered", Severity.ROUTINE, (CheckCase, TroubleCase, ArrivalsAgain), grouped=False)
    CHECK_DUE = _Notice("check-due", Severity.ROUTINE, (ConditionCases,), grouped=True)
    WARNING_REPEATED = _Notice("warning-repeated", Severity.ROUTINE, (CheckCase,), grouped=False)
    DRIFT_CONFIRMED = _Notice("drift-confirmed", Severity.ROUTINE, (DriftCase,), grouped=False)
    DUE_SOON = _Notice("due-soon", Severity.ROUTINE, (ConditionCases,), grouped=False)
    NEVER_RUN = _Notice("never-run", Severity.ROUTINE, (ConditionCases,), grouped=True)
    FILE_UNSCORED = _Notice("file-unscored", Severity.CONFIRM, (RefusedFileCase,), grouped=False, paced=True)
    EVENTS_REFUSED = _Notice("events-refused", Severity.CONFIRM, (RefusedFileCase,), grouped=False, paced=True)
    CERTIFICATE_EXPIRED = _Notice("certificate-expired", Severity.ALARM, (CertificateCase,), grouped=False)
    NOTHING_ARRIVED = _Notice("nothing-arrived", Severity.ALARM, (ArrivalsCase,), grouped=False)
    SERVICE_TROUBLE = _Notice("service-trouble", Severity.ALARM, (TroubleCase,), grouped=False)
    RULES_CHANGED = _Notice("rules-changed", Severity.ROUTINE, (RulesCase,), grouped=False)
    ON_RETURN = _Notice("on-return", Severity.ROUTINE, (OpenWork,), grouped=False)
    HAND_OVER = _Notice("hand-over", Severity.ROUTINE, (OpenWork,), grouped=False)
    SUMMARY = _Notice("summary", Severity.ROUTINE, (SummaryPayload,), grouped=False)

    def __new__(cls, row: Any) -> Self:  # a _Notice; to callers a code
        member = str.__new__(cls, row.code)
        member._value_ = row.code
        member.severity, member.payloads = row.severity, row.payloads
        member.grouped, member.paced = row.grouped, row.paced
        return member

    @classmethod
    def kept(cls, code: str) -> NoticeKind:
        """The kind that a record names; one that this program does not know keeps its name, and is told plainly."""
        return next((kind for kind in cls if kind.value == code), None) or cls._stranger(code)

    @classmethod
    def _stranger(cls, code: str) -> NoticeKind:
        """Looping over the kinds does not find it, nor does asking for it by name."""
        member = str.__new__(cls, code)
        member._name_ = member._value_ = code
        member.severity, member.payloads, member.grouped, member.paced = Severity.ALARM, (Payload,), False, False
        return member

    def payload(self, facts: Any) -> Payload:
        """What a notice of this kind tells, from the JSON in which it is kept. Raises PayloadError."""
        found = (each for each in self.payloads if isinstance(facts, Mapping) and each.told_by in facts)
        return next(found, self.payloads[0]).from_json(facts)


DUE_CODES = frozenset(
    {
        Code.TOO_OLD,
        Code.DATED_AHEAD,
        Code.WARNED_REPEATEDLY,
        Code.EVENT_SINCE,
        Code.PRINTED_SINCE,
        Code.STOOD_STILL,
        Code.CLIMATE_OUT_OF_RANGE,
        Code.TARGET_CHANGED,
        Code.LIMITS_CHANGED,
        Code.FORECAST,
        Code.RISK,
        Code.PINNED,
        Code.DRIFT_SUSPECTED,
    }
)
"""Reasons that call for a check without any failure."""

NamingRule = Callable[[Severity, frozenset[str]], NoticeKind]
"""From how pressing a case is, and the codes of the reasons of its check or state, to what its notice is called."""


def _always(kind: NoticeKind) -> NamingRule:
    return lambda _severity, _codes: kind


def _failure(severity: Severity, codes: frozenset[str]) -> NoticeKind:
    if Code.RIVAL_FITS_BETTER.value in codes:
        return NoticeKind.WRONG_STOCK
    return NoticeKind.CONFIRM_FAILURE if severity is Severity.CONFIRM else NoticeKind.CHECK_FAILED


def _due(_severity: Severity, codes: frozenset[str]) -> NoticeKind:
    warned_alone = codes & {code.value for code in DUE_CODES} == {Code.WARNED_REPEATEDLY.value}
    return NoticeKind.WARNING_REPEATED if warned_alone else NoticeKind.CHECK_DUE


@dataclass(frozen=True, slots=True)
class _Case:
    code: str
    notices: tuple[NoticeKind, ...]
    told_as: NamingRule
    moot: bool
    reminds: bool
    flaps: bool


def _one(kind: NoticeKind, *, moot: bool = False, reminds: bool = True, flaps: bool = False) -> _Case:
    """A kind of case whose notices are all of the kind that has its name."""
    return _Case(kind.value, (kind,), _always(kind), moot, reminds, flaps)


class CaseKind(StrEnum):
    """What can be open. A failed check is one case, whatever its notices are called."""

    notices: tuple[NoticeKind, ...]
    """What its notices may be called, first where nothing else is known of it."""
    told_as: NamingRule
    """What a notice of it is called."""
    moot: bool
    """Whether it need not be told any more once it is over; a sheet that failed or was doubtful is told still."""
    reminds: bool
    """Whether people are reminded of it."""
    flaps: bool
    """Whether it may come and go by itself."""

    CHECK_FAILED = _Case(
        "check-failed",
        (NoticeKind.CHECK_FAILED, NoticeKind.CONFIRM_FAILURE, NoticeKind.WRONG_STOCK),
        _failure,
        moot=False,
        reminds=True,
        flaps=False,
    )
    WRONG_STOCK = _one(NoticeKind.WRONG_STOCK)
    PATCH_ORDER = _one(NoticeKind.PATCH_ORDER)
    CHECK_DUE = _Case(
        "check-due", (NoticeKind.CHECK_DUE, NoticeKind.WARNING_REPEATED), _due, moot=True, reminds=True, flaps=False
    )
    NEVER_RUN = _one(NoticeKind.NEVER_RUN, moot=True)
    DRIFT_CONFIRMED = _one(NoticeKind.DRIFT_CONFIRMED, moot=True, reminds=False)
    FILE_UNSCORED = _one(NoticeKind.FILE_UNSCORED, moot=True, reminds=False)
    EVENTS_REFUSED = _one(NoticeKind.EVENTS_REFUSED, reminds=False)
    CERTIFICATE_EXPIRED = _one(NoticeKind.CERTIFICATE_EXPIRED, moot=True)
    NOTHING_ARRIVED = _one(NoticeKind.NOTHING_ARRIVED, flaps=True)
    SERVICE_TROUBLE = _one(NoticeKind.SERVICE_TROUBLE, flaps=True)
    RULES_CHANGED = _one(NoticeKind.RULES_CHANGED, reminds=False)

    def __new__(cls, row: Any) -> Self:  # a _Case; to callers a code
        member = str.__new__(cls, row.code)
        member._value_ = row.code
        member.notices, member.told_as = row.notices, row.told_as
        member.moot, member.reminds, member.flaps = row.moot, row.reminds, row.flaps
        return member

    @classmethod
    def kept(cls, code: str) -> CaseKind:
        """The kind that a record names; one that this program does not know keeps its name, and nobody works on it."""
        return next((kind for kind in cls if kind.value == code), None) or cls._stranger(code)

    @classmethod
    def _stranger(cls, code: str) -> CaseKind:
        notice = NoticeKind.kept(code)
        member = str.__new__(cls, code)
        member._name_ = member._value_ = code
        member.notices, member.told_as = (notice,), _always(notice)
        member.moot, member.reminds, member.flaps = False, False, False
        return member

    @property
    def known(self) -> bool:
        """Whether this program works on cases of it."""
        return self.value in CaseKind.__members__.values()

    @property
    def notice(self) -> NoticeKind:
        """What its notices are called, where nothing else is known of it."""
        return self.notices[0]

    @property
    def severity(self) -> Severity:
        """How pressing it is, where nothing else is known of it."""
        return self.notice.severity


OVER_AT_ONCE = frozenset({CaseKind.EVENTS_REFUSED, CaseKind.RULES_CHANGED})
"""Cases that are told and over in the same moment: nobody can answer them."""


class CaseStep(StrEnum):
    """What happens to a case. `eased`, `returned` and `weighed` are told to nobody."""

    OPENED = "opened"
    REPEATED = "repeated"
    REMINDED = "reminded"
    ESCALATED = "escalated"
    EASED = "eased"
    RETURNED = "returned"
    WEIGHED = "weighed"
    CLOSED = "closed"


class Trouble(StrEnum):
    """What can be wrong with the service itself."""

    DROP_FOLDER_MISSING = "drop-folder-missing"
    STORE_REFUSES = "store-refuses"
    STORE_UNOPENED = "store-unopened"
    STORE_DAMAGED = "store-damaged"
    STORE_LOST = "store-lost"
    STORE_RESTORED = "store-restored"
    BACKUP_FAILS = "backup-fails"
    ARCHIVE_DAMAGED = "archive-damaged"
    ARCHIVE_REFUSES = "archive-refuses"
    ARCHIVE_REPLACED = "archive-replaced"
    PUT_ASIDE_REFUSES = "put-aside-refuses"
    FILE_STAYS = "file-stays"
    FILE_NOT_READ = "file-not-read"
    TARGET_NOT_READ = "target-not-read"
    FOLDER_NOT_LISTED = "folder-not-listed"
    NOT_WATCHED = "not-watched"
    SETTINGS_REFUSED = "settings-refused"
    STARTED_ON_KEPT = "started-on-kept-settings"
    RECIPIENT_DEAD = "recipient-dead"
    RECIPIENT_WITHOUT_URL = "recipient-without-url"
    CLOCK_JUMPED = "clock-jumped"
    PART_FAILING = "part-failing"
    SERVICE_STOPPED = "service-stopped"


class Part(StrEnum):
    """What the service is made of: what breaks in one of them stops no other."""

    INTAKE = "intake"
    EVENTS = "events"
    WATCHING = "watching"
    STATES = "states"
    DAILY = "daily"
    HEALTH = "health"
    AGAIN = "again"
    RULES = "rules"
    FORECASTS = "forecasts"
    SETTINGS = "settings"
    DELIVERY = "delivery"
    PICTURES = "pictures"
    HEARTBEAT = "heartbeat"
    STOREKEEPING = "storekeeping"
    LOOP = "loop"


ONCE = "run --once"
"""The name under which a single round notes when it ended, among the moments at which each part last worked."""
