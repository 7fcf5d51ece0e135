"""Delivering what waits in the outbox: at least once, one recipient apart from the other; digests."""

from __future__ import annotations

import random
import threading
from collections.abc import Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import structlog

from sentinel.core.cases.kinds import CaseStep, NoticeKind, Severity
from sentinel.core.cases.payloads import Envelope, SummaryPayload
from sentinel.core.cases.records import Notice, Posting, Waiting
from sentinel.errors import PassingError
from sentinel.ports import Clock, Notifier, Store, WriteSession
from sentinel.render.notices import Letters

TOGETHER = 100
"""So many notices at most are told in one, so that a mail or a webhook still names each."""

PICTURED = ("trend", "worst")
"""Facts that only a picture is drawn from."""


def digest(members: Sequence[Waiting], key: str, zone: str, more: Sequence[Mapping[str, Any]] = ()) -> Posting:
    """One notice in place of `members`, all of one recipient's URL; `more` are entries that were no notices.

    Those of the most pressing case come first, those of one case in their order.
    """
    first = members[0].notice
    entries = [*map(_entry, _ordered(members)), *more]
    return posting(key, first.recipient, first.url_no, entries, zone, members)


def posting(
    key: str, recipient: str, url_no: int, entries: Iterable[Mapping[str, Any]], zone: str, members: Sequence[Waiting]
) -> Posting:
    """A summary of these entries."""
    severity = max((each.severity for each in members), key=lambda each: each.rank, default=Severity.ROUTINE)
    envelope = Envelope(timezone=zone, severity=severity.value)
    facts = {**SummaryPayload(notices=tuple(entries)).as_json(), **envelope.as_json()}
    tries = max((each.tries for each in members), default=0)
    return Posting(
        Notice(key, NoticeKind.SUMMARY, recipient, url_no, facts),
        step=CaseStep.REPEATED,
        severity=severity,
        tries=tries,
    )


def key_at(what: str, now: datetime, last: int) -> str:
    """The key of a notice that stands for others, the last of which has this number."""
    return f"{what}-{now:%Y%m%dT%H%M%S}-{last}"


def _ordered(members: Sequence[Waiting]) -> list[Waiting]:
    pressing: dict[object, int] = {}
    for each in members:
        pressing[_case(each)] = max(pressing.get(_case(each), 0), each.severity.rank)
    return sorted(members, key=lambda each: (-pressing[_case(each)], each.seq))


def _case(member: Waiting) -> object:
    cases = member.notice.facts.get("incidents")
    return str(cases) if cases else member.seq


def _entry(member: Waiting) -> dict[str, Any]:
    facts = dict(member.notice.facts)
    if isinstance(check := facts.get("check"), Mapping):
        facts["check"] = {name: value for name, value in check.items() if name not in PICTURED}
    return {"key": member.notice.key, "kind": member.notice.kind.value, "facts": facts}


log = structlog.get_logger()

IDLE_SECONDS = 30.0
STORE_SECONDS = 5.0
TOO_LATE = "not delivered in time"


@dataclass(frozen=True, slots=True)
class RetryPolicy:
    """How delivery is tried again: the first wait, the longest one, and when to give up."""

    first: timedelta
    ceiling: timedelta
    give_up: timedelta
    apart: int = 10
    """Where more notices than this wait for one URL they are sent as one."""

    def wait(self, tries: int, jitter: float) -> timedelta:
        """The wait after `tries` failures; `jitter` from 0 to 1 takes up to a quarter off."""
        doubled = self.first * (1 << min(tries - 1, 20))
        return min(doubled, self.ceiling) * (1 - jitter / 4)


class Deliverer:
    """One recipient's notices, in the order in which they may be tried."""

    def __init__(
        self,
        recipient: str,
        store: Store,
        notifier: Notifier,
        clock: Clock,
        retry_policy: RetryPolicy,
        letters: Letters | None = None,
    ) -> None:
        self.recipient = recipient
        self._store = store
        self._notifier = notifier
        self._clock = clock
        self._retry_policy = retry_policy
        self._letters = letters or Letters()
        self._accepted: Waiting | None = None
        self._random = random.Random()  # noqa: S311 - spreads retries, guards nothing

    def step(self) -> float:
        """Tries one notice; returns the seconds until there may be another, 0 to go on at once.

        Raises PassingError where the store would not answer.
        """
        if self._accepted is not None:
            return self._record_accepted(self._accepted)
        self._gather()
        with self._turn() as session:
            waiting = session.outbox.next_for(self.recipient, self._clock.now())
        if waiting is None:
            return self._until_next()
        answer = self._send(waiting)
        if answer is None:
            self._accepted = waiting
            return self._record_accepted(waiting)
        self._failed(waiting, answer)
        return 0.0

    def _gather(self) -> None:
        """Makes one notice of many that wait for one URL, so that nobody is showered after an outage."""
        now = self._clock.now()
        while crowd := self._crowd(now):
            old = [each for each in crowd if each.tries and now - each.created_at >= self._retry_policy.give_up]
            for each in old:
                log.error("notice given up", key=each.notice.key, recipient=self.recipient, answer=TOO_LATE)
                with self._turn() as session:
                    session.outbox.given_up(each, now, TOO_LATE)
            if not old:  # else look again: what was given up may have taken its end with it
                zones = (each.notice.facts.get("timezone") for each in crowd)
                zone = next((zone for zone in zones if isinstance(zone, str)), "UTC")
                summary = digest(crowd, key_at("summary", now, crowd[-1].seq), zone)
                with self._turn() as session:
                    session.outbox.gather(summary, [each.seq for each in crowd], now)

    def _crowd(self, now: datetime) -> list[Waiting]:
        with self._turn() as session:
            return session.outbox.backlog(self.recipient, self._retry_policy.apart, TOGETHER, now)

    def _record_accepted(self, waiting: Waiting) -> float:
        # kept until the store has it: a full disk must not make the same notice go out again and again
        with self._turn() as session:
            session.outbox.sent(waiting, self._clock.now())
        self._accepted = None
        log.info("notice delivered", key=waiting.notice.key, recipient=self.recipient)
        return 0.0

    def _send(self, waiting: Waiting) -> str | None:
        try:
            letter = self._letters.letter(waiting.notice)
            if letter.fault is not None:
                log.error("notice not read whole", key=letter.key, recipient=self.recipient, fault=letter.fault)
            return self._notifier.send(self.recipient, waiting.notice.url_no, letter)
        except Exception as fault:
            log.error("notice broke", key=waiting.notice.key, fault=type(fault).__name__)
            return f"broke with {type(fault).__name__}"

    def _failed(self, waiting: Waiting, answer: str) -> None:
        now, tries = self._clock.now(), waiting.tries + 1
        if now - waiting.created_at >= self._retry_policy.give_up:
            log.error("notice given up", key=waiting.notice.key, recipient=self.recipient, answer=answer)
            with self._turn() as session:
                session.outbox.given_up(waiting, now, answer)
            return
        wait = self._retry_policy.wait(tries, self._random.random())
        log.warning("notice not delivered", key=waiting.notice.key, recipient=self.recipient, answer=answer)
        with self._turn() as session:
            session.outbox.failed(waiting, now, answer, now + wait)

    def _until_next(self) -> float:
        with self._turn() as session:
            due = session.outbox.next_try_at(self.recipient)
        if due is None:
            return IDLE_SECONDS
        return min(IDLE_SECONDS, max(0.0, (due - self._clock.now()).total_seconds()))

    def _turn(self) -> AbstractContextManager[WriteSession]:
        """A short transaction; none spans the network. The reserve is for the news of a full disk, not for these."""
        return self._store.transaction(spends_reserve=False)


class DeliveryThread:
    """Turns a deliverer until stopped."""

    def __init__(self, deliverer: Deliverer, clock: Clock) -> None:
        self._deliverer = deliverer
        self._clock = clock
        self._wake = threading.Event()
        self._stopping = False
        self._turned = clock.elapsed()
        self._thread = threading.Thread(target=self._run, name=f"deliver-{deliverer.recipient}", daemon=True)
        self._thread.start()

    def wake(self) -> None:
        """Something may wait."""
        self._wake.set()

    def stop(self) -> None:
        """Asks it to end after the notice in hand."""
        self._stopping = True
        self._wake.set()

    def join(self, patience_seconds: float) -> None:
        """Waits for its end; a notice that is cut off here is tried again after the next start."""
        self._thread.join(patience_seconds)

    def turns(self, within_seconds: float) -> bool:
        """Whether it is alive and has come round lately."""
        return self._thread.is_alive() and self._clock.elapsed() - self._turned <= within_seconds

    @property
    def recipient(self) -> str:
        """Whose notices it delivers."""
        return self._deliverer.recipient

    def turned_at(self) -> datetime:
        """When it last came round."""
        return self._clock.now() - timedelta(seconds=self._clock.elapsed() - self._turned)

    def _run(self) -> None:
        while not self._stopping:
            self._wake.clear()
            self._turned = self._clock.elapsed()
            try:
                pause = self._deliverer.step()
            except PassingError as fault:
                log.warning("delivery waits for the store", fault=str(fault))
                pause = STORE_SECONDS
            except Exception:
                log.exception("delivery goes on after an unexpected fault")
                pause = STORE_SECONDS
            if pause and not self._stopping:
                self._wake.wait(pause)
