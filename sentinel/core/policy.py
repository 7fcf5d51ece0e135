"""What the settings decide, as the work takes it: once for a printing condition, once for the house."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from sentinel.core.cases.notice_policy import NoticePolicy, UrgencyRules
from sentinel.core.cases.payloads import ConditionFacts
from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.due import DueRules
from sentinel.core.conditions.measurability import InstrumentRules, certificate_remark
from sentinel.core.conditions.name import Catalogue, ConditionName, RouteRule
from sentinel.core.drift.rules import DriftPolicy, DriftWatch
from sentinel.core.dropped_file import FolderRules
from sentinel.core.inks.ordinary import OrdinaryMovement
from sentinel.core.measurement import MeasurementCondition, ReaderBounds
from sentinel.core.planning.room import ChartMinutes, RoundRules
from sentinel.core.recalibration.terms import Terms
from sentinel.core.scoring.policy import ScoringPolicy, ScoringRules, TargetSource
from sentinel.core.verdict import Reason


@dataclass(frozen=True, slots=True)
class DiagnosisRules:
    """`weights` is how often each cause is expected beforehand, `unscored_for` the findings that, where nearly certain,
    withhold the verdict; `terms` are those of a recalibration, which is foretold where it helps."""

    weights: Mapping[str, float]
    unscored_for: tuple[str, ...]
    terms: Terms


@dataclass(frozen=True, slots=True)
class ConditionPolicy:
    """Everything that is decided of one printing condition; `obstacles` are why it cannot be measured, if it cannot."""

    name: ConditionName
    obstacles: tuple[Reason, ...]
    scoring: ScoringPolicy
    diagnosis: DiagnosisRules
    movement: OrdinaryMovement
    """How far its sheets are expected to move from one to the next, before the house has shown it."""
    light_inks: tuple[str, ...] | None
    """The inks that the printer's driver splits into a light and a full one; None where nobody said."""
    due: DueRules
    drift: DriftWatch
    urgency: UrgencyRules
    facts: ConditionFacts
    chart: ChartMinutes | None
    """Of its first target, for a round; None where it has none."""


def short_hash(value: object) -> str:
    """A short name of a plain value; equal ones have the same."""
    return hashlib.sha256(repr(value).encode()).hexdigest()[:16]


Policies = Mapping[ConditionName, ConditionPolicy]


@dataclass(frozen=True, slots=True)
class EffectiveSettings:
    """What the service works with, for the record: the file, the SHA-256 of its text, every value with its default."""

    path: Path
    fingerprint: str
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class HousePolicy:
    """What is decided for the house as a whole, and for each of its printing conditions.

    Equal settings have the same `fingerprint`. A time of measurement is `trusted` if it is no older. `recent_checks` is
    how many of the last checks the rules look at.
    """

    fingerprint: str
    conditions: Policies
    targets: Mapping[str, TargetSource]
    routes: tuple[RouteRule, ...]
    catalogue: Catalogue
    instruments: Mapping[str, InstrumentRules]
    calendar: Calendar
    folders: FolderRules
    reader: ReaderBounds
    scoring: ScoringRules
    trusted: timedelta
    drift: DriftPolicy
    notices: NoticePolicy
    round: RoundRules
    recent_checks: int

    def declared(self, said: MeasurementCondition, serial: str | None, rule: RouteRule | None) -> MeasurementCondition:
        """What a file says of its measurement condition, filled up with what its instrument or route declares."""
        sources = [source for source in (self.instruments.get(serial or ""), rule) if source is not None]
        m = said.m or next((source.m_condition for source in sources if source.m_condition), None)
        backing = said.backing or next((source.backing for source in sources if source.backing), None)
        return replace(said, m=m, backing=backing)

    def certificate_remark(self, serial: str | None, day: date) -> Reason | None:
        """What is to be said of a reading of this instrument on this day."""
        instrument = self.instruments.get(serial or "")
        return certificate_remark(serial, instrument.certificate_until, day) if instrument else None
