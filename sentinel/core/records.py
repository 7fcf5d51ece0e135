"""What is written down and read back: values that the service decides on and a store keeps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sentinel.core.kinds import IncidentKind, NoticeKind, Severity, Step
from sentinel.core.lifecycle import OpenIncident
from sentinel.core.reasons import Reason
from sentinel.core.scoring.limits import Limits
from sentinel.core.scoring.reckoning import Reckoning
from sentinel.core.verdict import Verdict


@dataclass(frozen=True, slots=True)
class ChartRecord:
    """The patches that were compared, kept once by their hash. `device` is compressed, see scoring.values."""

    hash: str
    inks: tuple[str, ...]
    labels: tuple[str, ...]
    device: bytes


@dataclass(frozen=True, slots=True)
class CheckRecord:
    """A judged check with everything needed to judge it again. Times are aware."""

    sha256: str
    table: int
    condition: str
    file_name: str
    verdict: Verdict
    reasons: tuple[Reason, ...]
    metrics: Mapping[str, Mapping[str, float]]
    measured_at: datetime
    arrived_at: datetime
    target: str
    target_hash: str
    limits: Limits
    rules_version: int
    instrument: str | None
    m_condition: str | None
    backing: str | None
    illuminant: str | None
    observer: int | None
    patches: int
    matched: int
    chart: ChartRecord
    patch_values: bytes
    target_table: int = 1
    reckoning: Reckoning = field(default_factory=Reckoning)
    recovered: bool = True
    diagnosis: Sequence[Mapping[str, Any]] = ()


@dataclass(frozen=True, slots=True)
class RecordedCheck:
    """What of a check is needed to list it, to score it again, or to compare it. `seq` is its number."""

    seq: int
    sha256: str
    table: int
    condition: str
    file_name: str
    verdict: Verdict
    metrics: Mapping[str, Mapping[str, float]]
    limits: Limits
    measured_at: datetime
    target: str
    target_hash: str
    target_table: int
    reckoning: Reckoning
    rules_version: int
    m_condition: str | None
    backing: str | None
    diagnosis: Sequence[Mapping[str, Any]] = ()


@dataclass(frozen=True, slots=True)
class DriftReading:
    """What of a check is needed to foretell. `stock_doubtful`: another stock's target fitted it better."""

    seq: int
    measured_at: datetime
    target: str
    target_hash: str
    metrics: Mapping[str, Mapping[str, float]]
    stock_doubtful: bool


@dataclass(frozen=True, slots=True)
class KeptTarget:
    """A target that the sentinel keeps itself, in the archive by its hash.

    `source` says in a line where it is from, `facts` in full how it came about. `approved_by` is the second person who
    answers for an aim that was taken from checks.
    """

    name: str
    sha256: str
    source: str
    added_by: str
    approved_by: str | None
    added_at: datetime
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Retirement:
    """Who took a version of a target out of use, and why."""

    by: str
    why: str
    at: datetime


@dataclass(frozen=True, slots=True)
class TargetVersion:
    """One version of a kept target, counted from 1 under its name; never edited, at most retired."""

    version: int
    target: KeptTarget
    retirement: Retirement | None = None


@dataclass(frozen=True, slots=True)
class UnscoredFile:
    """A file that could not be scored.

    `sha256` is None where it could not even be read. `origin` tells this very file, at this place, from another one
    of the same bytes; `set_aside_as` is the name it has in the put-aside folder.
    """

    sha256: str | None
    file_name: str
    origin: str
    folder_clue: str
    reasons: tuple[Reason, ...]
    file_time: datetime
    arrived_at: datetime
    set_aside_as: str


@dataclass(frozen=True, slots=True)
class Notice:
    """Facts for one recipient at one of its URLs. `key` is that of the incident and its step, the same at a repeat."""

    key: str
    kind: NoticeKind
    recipient: str
    url_no: int
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Posting:
    """A notice on its way into the outbox, with the incidents it tells of and the step they took.

    It is not tried before `not_before`; with `daily` it waits for the daily summary. `tries` is how often those it
    stands for were tried.
    """

    notice: Notice
    incidents: tuple[int, ...] = ()
    step: Step = Step.OPENED
    severity: Severity = Severity.ALARM
    not_before: datetime | None = None
    daily: bool = False
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
class Silencing:
    """Who asked for silence about an incident, until when, and whether by acknowledging it.

    `severity` is how pressing it was: what becomes more pressing is told all the same.
    """

    acknowledged: bool
    by: str
    note: str | None
    severity: Severity
    at: datetime
    until: datetime


@dataclass(frozen=True, slots=True)
class IncidentRecord:
    """An incident as it is listed; `closed_at` is None while it is open."""

    subject: str
    kind: IncidentKind
    incident: OpenIncident
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
