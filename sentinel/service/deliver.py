"""Delivering what waits in the outbox: at least once, one recipient apart from the other; digests; what
comes in hundreds at a pace that people can read."""

from __future__ import annotations

import random
import threading
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import structlog

from sentinel.core.cases.kinds import CaseStep, NoticeKind, Part, Severity, Trouble
from sentinel.core.cases.notice_policy import Quiet, QuietHours
from sentinel.core.cases.payloads import (
    Envelope,
    FileGroup,
    FilesTogether,
    PayloadError,
    ReasonFacts,
    SummaryPayload,
    UndeliveredTogether,
)
from sentinel.core.cases.records import UNDELIVERED, Notice, Posting, Queued, Waiting
from sentinel.core.conditions.name import folded
from sentinel.errors import ANY_FAULT, PassingError
from sentinel.ports import Clock, Notifier, Store, WriteSession
from sentinel.render.notices import Letters
from sentinel.service.health import TOLD_FOR_SECONDS, ServiceFault
from sentinel.service.parts import FaultLog, named, waits_after

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
    key: str,
    recipient: str,
    url_no: int,
    entries: Iterable[Mapping[str, Any]],
    zone: str,
    members: Sequence[Waiting],
    files: FilesTogether | None = None,
    undelivered: UndeliveredTogether | None = None,
) -> Posting:
    """A summary of these entries."""
    severity = max((each.severity for each in members), key=lambda each: each.rank, default=Severity.ROUTINE)
    envelope = Envelope(timezone=zone, severity=severity.value)
    payload = SummaryPayload(notices=tuple(entries), files=files, undelivered=undelivered)
    facts = {**payload.as_json(), **envelope.as_json()}
    tries = min((each.tries for each in members), default=0)  # it is given up no earlier than the youngest within
    return Posting(
        Notice(key, NoticeKind.SUMMARY, recipient, url_no, facts),
        step=CaseStep.REPEATED,
        severity=severity,
        tries=tries,
    )


MOST_GROUPS = 30
MOST_NAMES = 5
"""So many groups of files, and files of each, are named."""


def together(members: Sequence[Waiting], kind: NoticeKind, key: str) -> Posting:
    """One notice in place of many of files that were not taken; it is as long for thousands as for a hundred.

    Those of one folder, however it is spelled, and of one cause are one line of it.
    """
    groups: dict[object, list[Mapping[str, Any]]] = defaultdict(list)
    for each in members:
        folder = _folder(each.notice.facts)
        groups[folder and folded(folder), _code(each.notice.facts)].append(each.notice.facts)
    largest = sorted(groups.values(), key=len, reverse=True)[:MOST_GROUPS]
    files = FilesTogether(kind=kind.value, count=len(members), groups=tuple(_group(facts) for facts in largest))
    first = members[0].notice
    entries = map(_entry, members[:TOGETHER])
    return posting(key, first.recipient, first.url_no, entries, zone_of(members), members, files)


def _group(all_facts: Sequence[Mapping[str, Any]]) -> FileGroup:
    try:
        reason = ReasonFacts.from_json(all_facts[0]["reasons"][0])
    except (PayloadError, LookupError, TypeError):
        reason = None
    names = tuple(name for facts in all_facts if isinstance(name := facts.get("file_name"), str))
    return FileGroup(folder=_folder(all_facts[0]), reason=reason, count=len(all_facts), names=names[:MOST_NAMES])


def _folder(facts: Mapping[str, Any]) -> str | None:
    folder = facts.get("folder")
    return folder if isinstance(folder, str) and folder else None


def _code(facts: Mapping[str, Any]) -> str | None:
    reasons = facts.get("reasons")
    first = reasons[0] if isinstance(reasons, list | tuple) and reasons else None
    return str(first.get("code")) if isinstance(first, Mapping) else None


def entries_of(members: Sequence[Waiting]) -> list[Mapping[str, Any]]:
    """As entries of a page, the most pressing first; files that were not taken are one entry a kind."""
    found: list[Mapping[str, Any]] = []
    for kind in dict.fromkeys(each.notice.kind for each in _ordered(members)):
        own = [each for each in members if each.notice.kind is kind]
        if kind.paced and len(own) > 1:
            facts = together(own, kind, "").notice.facts
            found.append({"key": own[0].notice.key, "kind": NoticeKind.SUMMARY.value, "facts": dict(facts)})
        else:
            found += map(_entry, _ordered(own))
    return found


def zone_of(members: Iterable[Waiting]) -> str:
    """The zone that the first of them that knows one is told in."""
    zones = (each.notice.facts.get("timezone") for each in members)
    return next((zone for zone in zones if isinstance(zone, str)), "UTC")


def key_at(what: str, now: datetime, last: int) -> str:
    """The key of a notice that stands for others, the last of which has this number."""
    return f"{what}-{now:%Y%m%dT%H%M%S}-{last}"


def _ordered(members: Sequence[Waiting]) -> list[Waiting]:
    pressing: dict[object, int] = {}
    for each in members:
        pressing[_case(each)] = max(pressing.get(_case(each), 0), each.severity.rank)
    return sorted(members, key=lambda each: (-pressing[_case(each)], each.seq))


def _stream(queued: Queued) -> NoticeKind | None:
    """What it is paced with: those of its kind, and what stands for some of them; None where it is not paced."""
    if queued.kind is NoticeKind.SUMMARY:
        return next((kind for kind in NoticeKind if kind.paced and queued.key.startswith(f"{kind.value}-")), None)
    return queued.kind if queued.kind.paced else None


def _is_report(waiting: Waiting) -> bool:
    return waiting.notice.kind is NoticeKind.SUMMARY and waiting.notice.key.startswith(f"{UNDELIVERED}-")


def _case(member: Waiting) -> object:
    cases = member.notice.facts.get("cases") or member.notice.facts.get("incidents")
    return str(cases) if cases else member.seq


def _entry(member: Waiting) -> dict[str, Any]:
    facts = dict(member.notice.facts)
    if isinstance(check := facts.get("check"), Mapping):
        facts["check"] = {name: value for name, value in check.items() if name not in PICTURED}
    return {"key": member.notice.key, "kind": member.notice.kind.value, "facts": facts}


log = structlog.get_logger()

IDLE_SECONDS = 30.0
STORE_SECONDS = 5.0
STALL_SECONDS = 120.0
"""A delivery that has not come round for so long hangs."""

TOO_LATE = "not delivered in time"

LATE = timedelta(hours=1)
"""What came later than this after it was posted came late."""


@dataclass(frozen=True, slots=True)
class RetryPolicy:
    """How delivery is tried again: the first wait, the longest one, and when to give up."""

    first: timedelta
    ceiling: timedelta
    give_up: timedelta
    apart: int = 10
    """Where more notices than this wait for one URL they are sent as one."""
    window: timedelta = timedelta(minutes=3)
    longest_window: timedelta = timedelta(hours=1)
    """What may come in hundreds is gathered for so long after one of it was told; twice as long each time, while it
    goes on."""

    def free_at(self, told: Iterable[datetime]) -> datetime | None:
        """When the next of a kind may be told that was told at these moments; None where none was."""
        last, window = None, self.window
        for at in told:
            goes_on = last is not None and at < last + 2 * window
            last, window = at, min(2 * window, self.longest_window) if goes_on else self.window
        return None if last is None else last + window

    def over(self, tries: int, age: timedelta) -> bool:
        """Whether a notice of this age that failed so often is given up.

        It was tried for half that time at least: a clock that was set forward, or a machine that was off, gives up
        nothing that was hardly tried. What a clock that was set back makes young is as old as its tries at least.
        """
        least = self._waited(tries, 1.0)
        return max(age, least) >= self.give_up and self._waited(tries, 0.0) >= self.give_up / 2

    def outlived(self, tries: int, age: timedelta) -> bool:
        """The same of one within another that was tried so many times, by its own age alone."""
        return age >= self.give_up and self._waited(tries, 0.0) >= self.give_up / 2

    def _waited(self, tries: int, jitter: float) -> timedelta:
        """The time between the first of so many tries and the last."""
        waits = (self.wait(each, jitter) for each in range(1, min(tries, 50)))
        return sum(waits, timedelta()) + self.wait(50, jitter) * max(0, tries - 50)

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
        quiet: Quiet | None = None,
    ) -> None:
        self.recipient = recipient
        self._store = store
        self._notifier = notifier
        self._clock = clock
        self._retry_policy = retry_policy
        self._letters = letters or Letters()
        self._quiet: Quiet = quiet or QuietHours()
        self._broken: dict[object, str] = {}
        self._undrawn = ""
        self._log = FaultLog(clock)
        self._accepted: Waiting | None = None
        self._random = random.Random()  # noqa: S311 - spreads retries, guards nothing

    def step(self) -> float:
        """Tries one notice; returns the seconds until there may be another, 0 to go on at once.

        Raises PassingError where the store would not answer.
        """
        if self._accepted is not None:
            return self._record_accepted(self._accepted)
        self._fenced("gather", self._pace)
        self._fenced("gather", self._gather)
        with self._turn() as session:
            waiting = session.outbox.next_for(self.recipient, self._clock.now())
            if waiting is not None and _is_report(waiting) and not self._still_so(session, waiting):
                return 0.0
        if waiting is None:
            return self._until_next()
        answer = self._send(waiting)
        if answer is None:
            self._accepted = waiting
            return self._record_accepted(waiting)
        self._failed(waiting, answer)
        return 0.0

    def troubles(self) -> Iterator[ServiceFault]:
        """Faults that nobody foresaw, by their kinds alone: a notice waits because of one, or a picture is missing."""
        for fault in list(self._broken.values())[:1]:
            yield ServiceFault(Trouble.PART_FAILING, named(Part.DELIVERY, self.recipient), fault)
        if self._undrawn:
            yield ServiceFault(Trouble.PART_FAILING, Part.PICTURES.value, self._undrawn)

    def _fenced(self, what: str, work: Callable[[], None]) -> None:
        """What only makes fewer messages of many must not keep them all."""
        try:
            work()
        except PassingError:
            raise
        except ANY_FAULT as fault:
            self._log.tell(named(Part.DELIVERY, self.recipient), fault)
            self._broken[what] = type(fault).__name__
        else:
            self._broken.pop(what, None)

    def _pace(self) -> None:
        """Brings forward what would wait longer than it may, and lets what comes in hundreds go out a notice at a time:
        the first at once, those that follow together."""
        now = self._clock.now()
        with self._turn() as session:
            queued = session.outbox.queued(self.recipient)
            for each in queued:
                if each.next_try_at > (latest := self._latest(each, now)):
                    session.outbox.put([each.seq], latest)
            streams: dict[tuple[int, NoticeKind], list[Queued]] = defaultdict(list)
            for each in queued:
                kind = _stream(each)
                if kind is not None:
                    streams[each.url_no, kind].append(each)
            for (url_no, kind), members in streams.items():
                self._pace_one(session, url_no, kind, members, now)

    def _pace_one(
        self, session: WriteSession, url_no: int, kind: NoticeKind, members: Sequence[Queued], now: datetime
    ) -> None:
        due = [each for each in members if each.next_try_at <= now]
        if not due:
            return
        longest = self._retry_policy.longest_window
        told = session.outbox.arrivals(self.recipient, url_no, kind, now - 24 * longest)
        free_at = self._retry_policy.free_at(at for at in told if at <= now)
        if free_at is None or free_at <= now:  # one that failed is not overtaken by those behind it
            free_at = min((each.next_try_at for each in members if each.tries and each.next_try_at > now), default=None)
        if free_at is not None:
            session.outbox.put([each.seq for each in due], free_at)
        elif len(due) > 1:
            inside, tries = session.outbox.whole([each.seq for each in due]), max(each.tries for each in due)
            old = [each for each in inside if self._retry_policy.outlived(tries, now - each.created_at)]
            for each in old:
                self._give_up(session, each, now, TOO_LATE)
            if young := [each for each in inside if each not in old]:
                summary = together(young, kind, key_at(kind.value, now, young[-1].seq))
                session.outbox.gather(summary, [each.seq for each in young], now)

    def _latest(self, queued: Queued, now: datetime) -> datetime:
        """The latest moment at which a notice is tried, whatever the clock said when it was put off."""
        bounds = [now]
        if queued.tries:
            bounds.append(now + self._retry_policy.ceiling)
        if _stream(queued) is not None:
            bounds.append(now + self._retry_policy.longest_window)
        if queued.severity is not Severity.URGENT:
            bounds.append(self._quiet.until(now))
        return max(bounds)

    def _gather(self) -> None:
        """Makes one notice of many that wait for one URL, so that nobody is showered after an outage."""
        now = self._clock.now()
        while crowd := self._crowd(now):
            old = [each for each in crowd if self._retry_policy.over(each.tries, now - each.created_at)]
            for each in old:
                with self._turn() as session:
                    self._give_up(session, each, now, TOO_LATE)
            if not old:  # else look again: what was given up may have taken its end with it
                summary = digest(crowd, key_at("summary", now, crowd[-1].seq), zone_of(crowd))
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
        self._broken.pop(waiting.seq, None)
        log.info("notice delivered", key=waiting.notice.key, recipient=self.recipient)
        return 0.0

    def _send(self, waiting: Waiting) -> str | None:
        try:
            letter = self._letters.letter(waiting.notice)
            if letter.fault is not None:
                log.error("notice not read whole", key=letter.key, recipient=self.recipient, fault=letter.fault)
            answer = self._notifier.send(self.recipient, waiting.notice.url_no, letter)
        except ANY_FAULT as fault:  # its words, and its chain, may hold the URL
            log.error("notice broke", key=waiting.notice.key, fault=type(fault).__name__)
            self._broken[waiting.seq] = type(fault).__name__
            return f"broke with {type(fault).__name__}"
        self._broken.pop(waiting.seq, None)
        self._undrawn = letter.drawn[-1] if letter.drawn else self._undrawn
        return answer

    def _failed(self, waiting: Waiting, answer: str) -> None:
        now, tries = self._clock.now(), waiting.tries + 1
        if self._retry_policy.over(tries, now - waiting.created_at) and not _is_report(waiting):
            self._broken.pop(waiting.seq, None)
            with self._turn() as session:
                self._give_up(session, waiting, now, answer)
            return
        wait = self._retry_policy.wait(tries, self._random.random())
        log.warning("notice not delivered", key=waiting.notice.key, recipient=self.recipient, answer=answer)
        with self._turn() as session:
            session.outbox.failed(waiting, now, answer, now + wait)

    def _give_up(self, session: WriteSession, waiting: Waiting, now: datetime, answer: str) -> None:
        """It is not tried any more; from now on a report of that waits, however long, until the URL takes it."""
        log.error("notice given up", key=waiting.notice.key, recipient=self.recipient, answer=answer)
        session.outbox.given_up(waiting, now, answer)
        url_no = waiting.notice.url_no
        if not session.outbox.reports(self.recipient, url_no):
            at = max(now + self._retry_policy.first, self._quiet.until(now))
            if (report := self._report(session, url_no, now)) is not None:
                session.outbox.post([replace(report, not_before=at)], now)

    def _still_so(self, session: WriteSession, waiting: Waiting) -> bool:
        """Whether a report, that is to be tried now, says how it is; where it does not another takes its place."""
        report = self._report(session, waiting.notice.url_no, self._clock.now(), waiting.seq)
        if report is not None and report.notice.facts[UNDELIVERED] == waiting.notice.facts.get(UNDELIVERED):
            return True
        session.outbox.settle_report(waiting.seq)
        if report is not None:
            session.outbox.post([replace(report, tries=waiting.tries)], self._clock.now())
        return False

    def _report(self, session: WriteSession, url_no: int, now: datetime, before: int = 0) -> Posting | None:
        """What was given up for a URL, in one notice; None where nothing was that nobody there was told of.

        It takes the place of the one with the number `before`.
        """
        lost = session.outbox.undelivered(self.recipient, url_no, TOGETHER)
        if lost is None:
            return None
        late = session.outbox.late(self.recipient, url_no, lost.first, LATE)
        hours = max(late, default=timedelta()) / timedelta(hours=1)
        facts = UndeliveredTogether(
            count=lost.count, first=lost.first, last=lost.last, late=len(late), latest_hours=round(hours, 1)
        )
        key, zone = key_at(UNDELIVERED, now, max(lost.ended, before)), zone_of(lost.newest)
        made = posting(key, self.recipient, url_no, map(_entry, lost.newest), zone, (), undelivered=facts)
        return replace(made, severity=Severity.ALARM)

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
    """Turns a deliverer until stopped; where it ends before, `wake` begins it anew."""

    def __init__(self, deliverer: Deliverer, clock: Clock) -> None:
        self._deliverer = deliverer
        self._clock = clock
        self._wake = threading.Event()
        self._stopping = False
        self._log = FaultLog(clock)
        self._times = 0
        self._fault = ""
        self._ended: float | None = None
        self._refused: str | None = None
        self._begin()

    def _begin(self) -> None:
        self._turned = self._clock.elapsed()
        self._thread = threading.Thread(target=self._run, name=f"deliver-{self._deliverer.recipient}", daemon=True)
        self._thread.start()

    def wake(self) -> None:
        """Something may wait."""
        if not self._thread.is_alive() and not self._stopping:
            log.error("a delivery ended and begins anew", recipient=self.recipient)
            self._ended = self._clock.elapsed()
            self._begin()
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

    def troubles(self) -> Iterator[ServiceFault]:
        """What is wrong with it: faults by their kinds alone, a notice at which it hangs, an end before its time."""
        fault = self._fault
        if not fault and self._ended is not None and self._clock.elapsed() - self._ended < TOLD_FOR_SECONDS:
            fault = "its thread ended"
        if not fault and not self.turns(STALL_SECONDS):
            fault = "hangs"
        if fault:
            yield ServiceFault(Trouble.PART_FAILING, named(Part.DELIVERY, self.recipient), fault)
        else:
            yield from self._deliverer.troubles()

    def refused(self) -> str | None:
        """What the store said, where delivery waits for it."""
        return self._refused

    def turned_at(self) -> datetime:
        """When it last came round."""
        return self._clock.now() - timedelta(seconds=self._clock.elapsed() - self._turned)

    def _run(self) -> None:
        while not self._stopping:
            self._wake.clear()
            self._turned = self._clock.elapsed()
            pause = self._step()
            if pause and not self._stopping:
                self._wake.wait(pause)

    def _step(self) -> float:
        try:
            pause = self._deliverer.step()
        except PassingError as fault:
            log.warning("delivery waits for the store", fault=str(fault))
            self._refused = str(fault)
            return STORE_SECONDS
        except ANY_FAULT as fault:
            self._log.tell(named(Part.DELIVERY, self.recipient), fault)
            self._times, self._fault = self._times + 1, type(fault).__name__
            return max(STORE_SECONDS, waits_after(self._times))
        self._times, self._fault, self._refused = 0, "", None
        return pause
