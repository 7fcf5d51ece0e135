"""Keeps what the checks foretell up to date: derived again where a record, a limit, a target or a rule changed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from sentinel.application.situations import Hashes, scoring_now
from sentinel.core.arrays import FloatArray
from sentinel.core.conditions.checks import DriftReading
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.conditions.name import ConditionName
from sentinel.core.drift.figures import group_aims, watched
from sentinel.core.drift.forecast import WatchedCondition, condition_forecasts, course, watched_reading
from sentinel.core.policy import ConditionPolicy, HousePolicy, short_hash
from sentinel.core.scoring.policy import TargetPolicy
from sentinel.core.scoring.score import RULES_VERSION, TargetAway
from sentinel.core.verdict import Unscored
from sentinel.ports import Clock, Store, Targets, WriteSession
from sentinel.service.dispatch import Addressees
from sentinel.service.printer_following import PrinterFollower, stale_printers
from sentinel.service.state_recorder import StateRecorder

AT_A_TIME = 100
"""So many conditions are foretold in one go, between which files are looked at."""

AWAY_SECONDS = 900.0
"""What was foretold while a target could not be read is foretold anew after so long."""

DERIVATION = 3
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
        self._printers = PrinterFollower(store, clock, addressees, hashes)
        self._away: dict[ConditionName, float] = {}
        """Conditions whose target could not be read, and when they are looked at again."""

    def refresh(self, house: HousePolicy) -> bool:
        """Derives what is stale, a part at a time; tells whether there is more. Raises PassingError where the store
        would not take it."""
        with self._store.transaction() as session:
            kept, now = session.forecasts.bases(), self._clock.elapsed()
            stale = self._stale(session, house, kept)
            stale = {name: basis for name, basis in stale.items() if self._away.get(name, now) <= now}
            names = sorted(stale, key=str)[:AT_A_TIME]
            printers = {} if names else stale_printers(session, house, kept)
            readings = session.checks.drift_readings([str(name) for name in names], house.drift.most_readings)
            events = session.events.holding({name.printer for name in names})
        if not names:
            return bool(printers) and self._printers.follow(house, printers)
        run = ForecastRun(house, self._targets)
        found = run.forecasts(names, readings, events)
        self._away |= {name: now + AWAY_SECONDS for name in names if str(name) in run.away}
        with self._store.transaction() as session:
            for name in names:
                basis = f"{stale[name]} without its target" if str(name) in run.away else stale[name]
                session.forecasts.keep(str(name), basis, found.get(str(name)))
            StateRecorder(session, house, self._addressees, self._hashes, self._clock.now()).conditions(names)
        return True

    def _stale(self, session: WriteSession, house: HousePolicy, kept: Mapping[str, str]) -> dict[ConditionName, str]:
        """The conditions whose forecast is not that of their records, with the basis it is to have, by the bases that
        are `kept`.

        One with checks that are yet to be scored again waits: half a series would step.
        """
        checks = session.forecasts.newest_checks()
        events = session.forecasts.newest_events({*house.drift.resets, EventKind.STOCK_LOT})
        bases = {
            name: f"{checks[str(name)]}-{events.get(name.printer, 0)}-{self._mark(session, house, name)}"
            for name in house.conditions
            if str(name) in checks
        }
        stale = {name: basis for name, basis in bases.items() if kept.get(str(name)) != basis}
        behind = session.checks.conditions_behind([str(name) for name in stale], RULES_VERSION) if stale else ()
        return {name: basis for name, basis in stale.items() if str(name) not in behind}

    def _mark(self, session: WriteSession, house: HousePolicy, name: ConditionName) -> str:
        """What of settings and targets a forecast depends on."""
        policy = house.conditions[name]
        marks = sorted(scoring_now(policy, session.targets.versions, self._hashes).marks)
        return short_hash((DERIVATION, house.drift.mark, policy.drift.neighbours, policy.drift.baseline, marks))


@dataclass(frozen=True, slots=True)
class ForecastRun:
    """What the records foretell by this policy."""

    house: HousePolicy
    targets: Targets
    away: set[str] = field(default_factory=set)
    """Conditions whose target could not be read just now: nothing of theirs has bounds."""

    def forecasts(
        self, names: Iterable[ConditionName], readings: Readings, events: Sequence[Event]
    ) -> dict[str, ConditionForecast]:
        """Of each of these conditions that has a reading that counts."""
        found = (self._subject(self.house.conditions[name], readings.get(str(name), ()), events) for name in names)
        return condition_forecasts([subject for subject in found if subject], self.house.drift.rules)

    def _subject(
        self, policy: ConditionPolicy, readings: Sequence[DriftReading], events: Sequence[Event]
    ) -> WatchedCondition | None:
        """None where there is no reading. Readings against another target than the last one do not count."""
        known = [reading for reading in readings if not reading.stock_doubtful]
        if not known:
            return None
        last, scoring = known[-1], policy.scoring
        limits = scoring.own_limits(last.target)
        figures = list(watched(last.metrics, limits))
        own = [event for event in events if event.concerns(policy.name) and event.at <= readings[-1].measured_at]
        drift = self.house.drift
        return WatchedCondition(
            condition=str(policy.name),
            course=course(
                [watched_reading(each, figures) for each in known if each.target_hash == last.target_hash],
                [event.at for event in own if event.kind in drift.resets],
                [event.at for event in own if event.kind is EventKind.STOCK_LOT],
                drift.bridge,
            ),
            figures=figures,
            aims=self._aims(policy.name, last, scoring.targets.get(last.target)),
            limits=limits,
            neighbours=policy.drift.neighbours,
            baseline_window=policy.drift.baseline_window,
        )

    def _aims(self, name: ConditionName, last: DriftReading, known: TargetPolicy | None) -> Mapping[str, FloatArray]:
        """None of them where the target is another one now, or cannot be read: then nothing has bounds."""
        if known is None:
            return {}
        try:
            target = self.targets.target(last.target, known.source)
            if target.sha256 != last.target_hash:
                return {}
            return group_aims(target.measurement, known.reckoning)
        except TargetAway:
            self.away.add(str(name))
            return {}
        except Unscored:
            return {}
