"""Keeps what the checks foretell up to date: derived again where a record, a limit, a target or a rule changed."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

import numpy as np

from sentinel.application.situations import Hashes, scoring_now, touches
from sentinel.core.arrays import FloatArray
from sentinel.core.conditions.checks import DriftReading
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.conditions.name import ConditionName
from sentinel.core.drift.control_limits import ChartLimits, WatchDesign
from sentinel.core.drift.figures import Figure, group_aims, watched
from sentinel.core.drift.forecast import DriftRules, Reading, WatchedCondition, course, outlooks
from sentinel.core.drift.report import DriftSettings
from sentinel.core.scoring.policy import Limits
from sentinel.core.verdict import Unscored
from sentinel.ports import Clock, Store, Targets, WriteSession
from sentinel.service.dispatch import Addressees
from sentinel.service.state_recorder import StateRecorder
from sentinel.settings.due import DriftTable
from sentinel.settings.limit_sets import limits_for
from sentinel.settings.resolving import Snapshot

AT_A_TIME = 100
"""So many conditions are foretold in one go, between which files are looked at."""

DERIVATION = 1
"""Raised whenever the same records, limits and rules would foretell something else than before."""

Readings = Mapping[str, Sequence[DriftReading]]


class Forecaster:
    """Works beside the intake, never inside its transaction: a file is told of before what it foretells."""

    def __init__(self, store: Store, targets: Targets, clock: Clock, addressees: Addressees, hashes: Hashes) -> None:
        self._store = store
        self._targets = targets
        self._clock = clock
        self._addressees = addressees
        self._hashes = hashes

    def refresh(self, snapshot: Snapshot) -> bool:
        """Derives what is stale, a part at a time; tells whether there is more. Raises PassingError where the store
        would not take it."""
        with self._store.transaction() as session:
            stale = self._stale(session, snapshot)
            names = sorted(stale, key=str)[:AT_A_TIME]
            if not names:
                return False
            readings = session.checks.drift_readings(
                [str(name) for name in names], snapshot.loaded.settings.drift.most_readings
            )
            events = session.events.holding({name.printer for name in names})
        found = ForecastRun(snapshot, self._targets).outlooks(names, readings, events)
        with self._store.transaction() as session:
            for name in names:
                session.forecasts.keep(str(name), stale[name], found.get(str(name)))
            StateRecorder(session, snapshot, self._addressees, self._hashes, self._clock.now()).conditions(names)
        return len(stale) > len(names)

    def _stale(self, session: WriteSession, snapshot: Snapshot) -> dict[ConditionName, str]:
        """The conditions whose outlook is not that of their records, with the basis it is to have."""
        checks, events = session.forecasts.newest_records(_telling(snapshot.loaded.settings.drift))
        kept = session.forecasts.bases()
        bases = {
            name: f"{checks[str(name)]}-{events.get(name.printer, 0)}-{self._mark(session, snapshot, name)}"
            for name in snapshot.conditions
            if str(name) in checks
        }
        return {name: basis for name, basis in bases.items() if kept.get(str(name)) != basis}

    def _mark(self, session: WriteSession, snapshot: Snapshot, name: ConditionName) -> str:
        """What of settings and targets an outlook depends on."""
        marks = sorted(scoring_now(snapshot, name, session.targets.versions, self._hashes).marks)
        own, neighbours = snapshot.conditions[name], snapshot.neighbours[name.printer]
        text = repr((DERIVATION, snapshot.drift_mark, neighbours, own.baseline, marks))
        return hashlib.sha256(text.encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class ForecastRun:
    """What the records foretell under these settings."""

    snapshot: Snapshot
    targets: Targets

    def outlooks(
        self, names: Iterable[ConditionName], readings: Readings, events: Sequence[Event]
    ) -> dict[str, ConditionForecast]:
        """Of each of these conditions that has a reading that counts."""
        found = (self._subject(name, readings.get(str(name), ()), events) for name in names)
        return outlooks([subject for subject in found if subject], rules_of(self.snapshot.loaded.settings.drift))

    def _subject(
        self, name: ConditionName, readings: Sequence[DriftReading], events: Sequence[Event]
    ) -> WatchedCondition | None:
        """None where there is no reading. Readings against another target than the last one do not count."""
        known = [reading for reading in readings if not reading.stock_doubtful]
        if not known:
            return None
        last = known[-1]
        limits = _limits(self.snapshot, name).get(last.target, {})
        figures = list(watched(last.metrics, limits))
        own = [event for event in events if touches(event, name) and event.at <= readings[-1].measured_at]
        drift = self.snapshot.loaded.settings.drift
        return WatchedCondition(
            condition=str(name),
            course=course(
                [_reading(each, figures) for each in known if each.target_hash == last.target_hash],
                [event.at for event in own if event.kind in drift.reset_after],
                [event.at for event in own if event.kind is EventKind.STOCK_LOT],
                timedelta(days=drift.bridge_days),
            ),
            figures=figures,
            aims=self._aims(last, name.printer),
            limits=limits,
            neighbours=self.snapshot.neighbours[name.printer],
            baseline_window=_window(self.snapshot, name),
        )

    def _aims(self, last: DriftReading, printer: str) -> Mapping[str, FloatArray]:
        """None of them where the target is another one now, or cannot be read: then nothing has bounds."""
        file = self.snapshot.loaded.settings.targets.get(last.target)
        if file is None:
            return {}
        try:
            target = self.targets.target(last.target, file)
            if target.sha256 != last.target_hash:
                return {}
            return group_aims(target.measurement, self.snapshot.reckoning(last.target, printer))
        except Unscored:
            return {}


def rules_of(drift: DriftTable) -> DriftRules:
    """The settings' [drift] as the core takes them."""
    return DriftRules(
        DriftSettings(
            baseline_readings=drift.baseline_readings,
            least_sigma=drift.least_scatter,
            chart_limits=ChartLimits(np.inf, np.inf, np.inf),
            ewma_weight=drift.ewma_weight,
            cusum_slack=drift.cusum_slack,
            western_electric=drift.western_electric,
            least_readings=drift.least_readings,
            step_evidence=drift.step_evidence,
            trend_confidence=drift.trend_confidence,
            days_outside=drift.days_outside,
            horizon=drift.horizon_days,
        ),
        WatchDesign(
            series=2,
            checks_per_quarter=drift.checks_per_quarter,
            baseline_readings=drift.baseline_readings,
            sigma_known=False,
            autocorrelation=drift.autocorrelation,
            false_alarms=drift.false_alarms_per_quarter,
        ),
    )


def _telling(drift: DriftTable) -> Collection[EventKind]:
    return {*drift.reset_after, EventKind.STOCK_LOT}


def _limits(snapshot: Snapshot, name: ConditionName) -> dict[str, Limits]:
    """By target."""
    settings = snapshot.loaded.settings
    return {target: limits_for(settings, target, str(name)) for target in snapshot.conditions[name].targets}


def _reading(reading: DriftReading, figures: Sequence[Figure]) -> Reading:
    known = ((figure, reading.metrics.get(figure.group, {}).get(figure.metric)) for figure in figures)
    return Reading(reading.seq, reading.measured_at, {figure: value for figure, value in known if value is not None})


def _window(snapshot: Snapshot, name: ConditionName) -> tuple[datetime, datetime] | None:
    days = snapshot.conditions[name].baseline
    if days is None:
        return None
    zone = snapshot.loaded.settings.site.zone
    return datetime.combine(days[0], time.min, zone), datetime.combine(days[1], time.max, zone)
