"""Catches records up with the rules of today: checks of earlier rules are scored again beside their verdicts, and one
notice tells which limits bite that did not, and which checks are not taken any more."""

from __future__ import annotations

from collections.abc import Sequence

import structlog

from sentinel.application.rescoring import not_rescored, under_present_rules
from sentinel.core.cases.findings import rules_changed
from sentinel.core.cases.payloads import BitingLimit, ConditionBitten, RulesCase
from sentinel.core.conditions.checks import RecordedCheck, RescoredPair, RescoredRecord
from sentinel.core.policy import HousePolicy
from sentinel.core.scoring.biting import Bite, bites
from sentinel.core.scoring.score import RULES_VERSION
from sentinel.core.verdict import Unscored
from sentinel.errors import ANY_FAULT, PassingError
from sentinel.ports import Archive, Clock, Reader, Store, WriteSession
from sentinel.service.attempts import Attempts
from sentinel.service.dispatch import Addressees, Dispatcher, PendingNotice
from sentinel.service.polling import LOOK_SECONDS

log = structlog.get_logger()

AT_A_TIME = 20
"""So many checks are scored again in one go, between which files are looked at."""

CAUGHT_UP = f"caught up with rules {RULES_VERSION}"
"""The name under which the store keeps when every check had been scored again, and people had been told."""


class CatchingUp:
    """Works beside the intake. What is on record is not changed; no state, case or alarm looks at what it writes."""

    def __init__(
        self,
        store: Store,
        archive: Archive,
        clock: Clock,
        addressees: Addressees,
        reader: Reader,
        attempts: Attempts,
    ) -> None:
        self._store = store
        self._archive = archive
        self._clock = clock
        self._reader = reader
        self._attempts = attempts
        self._addressees = addressees
        self._done = False

    def step(self, house: HousePolicy) -> bool:
        """Scores some checks again, the newest first; tells whether there are more.

        Raises PassingError where the store or the archive would not.
        """
        if self._done:
            return False
        with self._store.transaction() as session:
            self._done = CAUGHT_UP in session.service.moments()
            behind = [] if self._done else session.checks.behind(RULES_VERSION, AT_A_TIME)
            if not self._done and not behind:
                self._finish(session, house)
        if behind:
            self._keep(self._all_scored(behind))
        self._done = not behind
        return not self._done

    def _all_scored(self, behind: Sequence[RecordedCheck]) -> list[RescoredRecord]:
        """As many as time allows, one at least."""
        began, scored = self._clock.elapsed(), []
        self._attempts.announce([_work(record.seq) for record in behind])
        for record in behind:
            scored.append(self._scored(record))
            if self._clock.elapsed() - began > LOOK_SECONDS:
                break
        return scored

    def _scored(self, record: RecordedCheck) -> RescoredRecord:
        try:
            with self._attempts.at(_work(record.seq)):
                return under_present_rules(self._archive, record, self._clock.now(), self._reader.measurements)
        except PassingError:
            raise
        except Unscored as outcome:
            return not_rescored(record, outcome.reason.message, self._clock.now())
        except ANY_FAULT as fault:  # one check must not keep all others waiting for good
            log.exception("a check could not be scored again", check=record.seq)
            return not_rescored(record, repr(fault), self._clock.now())

    def _keep(self, records: list[RescoredRecord]) -> None:
        with self._store.transaction() as session:
            for record in records:
                session.checks.keep_rescored(record)
        for record in records:
            self._attempts.settle(_work(record.check))

    def _finish(self, session: WriteSession, house: HousePolicy) -> None:
        """Told and noted in one transaction, so that nobody is told twice or not at all."""
        now = self._clock.now()
        session.service.note_moments({CAUGHT_UP: now})
        newest = session.checks.newest_rescored(RULES_VERSION)
        bitten = [each for pair in newest if (each := _bitten(pair, house))]
        refused = [each for pair in newest if (each := _refused(pair, house))]
        if not (bitten or refused):
            return
        dispatcher, subject = Dispatcher(session, house.notices, self._addressees, now), f"rules:{RULES_VERSION}"
        told, over = rules_changed()
        applied, kind = dispatcher.apply(subject, told), told.kind
        payload = RulesCase(rules_version=RULES_VERSION, conditions=tuple(bitten), refused=tuple(refused) or None)
        dispatcher.post([PendingNotice(applied, kind.notice, payload)])
        dispatcher.apply(subject, over)


def _work(check: int) -> str:
    """The work at a recorded check, in the journal."""
    return f"check:{check}"


def _bitten(pair: RescoredPair, house: HousePolicy) -> ConditionBitten | None:
    """None where no other limit bites, or the settings do not have the condition any more."""
    found = bites(pair.recorded, pair.now, pair.limits)
    return _of_condition(pair, house, found) if found else None


def _refused(pair: RescoredPair, house: HousePolicy) -> ConditionBitten | None:
    """A check that had figures and has none by the rules of today."""
    return _of_condition(pair, house, ()) if pair.recorded and not pair.now else None


def _of_condition(pair: RescoredPair, house: HousePolicy, found: Sequence[Bite]) -> ConditionBitten | None:
    facts = next((policy.facts for name, policy in house.conditions.items() if str(name) == pair.condition), None)
    if facts is None:
        return None
    return ConditionBitten(
        condition=pair.condition,
        printer=facts.printer,
        substrate=facts.substrate,
        mode=facts.mode,
        check=pair.seq,
        measured_at=pair.measured_at,
        limits=tuple(BitingLimit(**bite._asdict()) for bite in found),
    )
