"""Cases and notices as they are written down and read back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import OpenCase


@dataclass(frozen=True, slots=True)
class Notice:
    """Facts for one recipient at one of its URLs. `key` is that of the case and its step, the same at a repeat."""

    key: str
    kind: NoticeKind
    recipient: str
    url_no: int
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Posting:
    """A notice on its way into the outbox, with the cases it tells of and the step they took.

    It is not tried before `not_before`; `held`, it waits for a summary or a page. `tries` is how often those it
    stands for were tried.
    """

    notice: Notice
    cases: tuple[int, ...] = ()
    step: CaseStep = CaseStep.OPENED
    severity: Severity = Severity.ALARM
    not_before: datetime | None = None
    held: bool = False
    tries: int = 0


@dataclass(frozen=True, slots=True)
class Waiting:
    """A notice in the outbox that is to be tried now. `tries` counts those before this one."""

    seq: int
    notice: Notice
    created_at: datetime
    tries: int
    severity: Severity = Severity.ALARM


@dataclass(frozen=True, slots=True)
class Queued:
    """A notice that waits, without what it tells: when it may be tried, and what that depends on."""

    seq: int
    key: str
    kind: NoticeKind
    url_no: int
    tries: int
    severity: Severity
    next_try_at: datetime


UNDELIVERED = "undelivered"
"""How the keys begin of notices that tell a URL what was given up for it."""

REMOVED = "the recipient was removed"
"""The answer with which what was for a former recipient is given up."""


@dataclass(frozen=True, slots=True)
class Undelivered:
    """What was given up for a URL and nobody there was told of: how many, posted between when, the newest of them.

    `ended` is the number of the last try of them all.
    """

    count: int
    first: datetime
    last: datetime
    ended: int
    newest: Sequence[Waiting]


@dataclass(frozen=True, slots=True)
class UrlLosses:
    """What did not come to a URL of a recipient: how many were given up, posted between when; how many came late after
    failed tries of late, and by how much at most."""

    recipient: str
    url_no: int
    given_up: int = 0
    first: datetime | None = None
    last: datetime | None = None
    late: int = 0
    latest: timedelta = timedelta()


@dataclass(frozen=True, slots=True)
class Silencing:
    """Who asked for silence about a case, until when, and whether by acknowledging it.

    `severity` is how pressing it was: what becomes more pressing is told all the same.
    """

    acknowledged: bool
    by: str
    note: str | None
    severity: Severity
    at: datetime
    until: datetime


@dataclass(frozen=True, slots=True)
class CaseRecord:
    """A case as it is listed; `closed_at` is None while it is open."""

    subject: str
    kind: CaseKind
    case: OpenCase
    closed_at: datetime | None
    silencing: Silencing | None


@dataclass(frozen=True, slots=True)
class NoticeRecord:
    """A notice as it is listed: what became of it, and each try with its time, whether it arrived, and the answer."""

    seq: int
    notice: Notice
    status: str
    severity: Severity
    created_at: datetime
    next_try_at: datetime
    tries: int
    within: str | None = None
    answers: tuple[tuple[datetime, bool, str], ...] = ()
