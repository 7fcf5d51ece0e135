"""A store put together anew: what came since its backup is read again from the archive, and told in one notice."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import structlog

from sentinel.core.cases.kinds import Trouble
from sentinel.core.cases.payloads import TroubleCase
from sentinel.core.dropped_file import Came
from sentinel.ports import Archive, Clock, Store, WriteSession
from sentinel.service.deliver import TOGETHER, digest, key_at, zone_of
from sentinel.service.health import ServiceFault
from sentinel.service.parts import fault_text
from sentinel.service.schedule import PART as DAILY
from sentinel.service.supervisor import Runtime

log = structlog.get_logger()


class ReplayClock:
    """The time of day at which each file came, so that its records say what they would have said."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.at: datetime | None = None

    def now(self) -> datetime:
        """The moment that is played, else the time of day."""
        return self.at or self._clock.now()

    def elapsed(self) -> float:
        """Seconds that only rise."""
        return self._clock.elapsed()


@dataclass(frozen=True, slots=True)
class FilesReadAgain:
    """How many files were read again, and the names of those that could not be, each with why."""

    read: int
    unread: Sequence[tuple[str, str]]


def read_files_again(
    runtime: Runtime, archive: Archive, store: Store, clock: ReplayClock, since: datetime | None
) -> FilesReadAgain:
    """Every file that came `since`, and any that the store does not know, in their order. Raises OSError, PassingError.

    Nothing lies in the drop folder for that, and nothing is taken out of it. A record names its bytes and not where
    they came from, so where the same bytes came from several places each is read again.
    """
    with store.transaction() as session:
        known = session.files.named()
    read, unread, gone = 0, list[tuple[str, str]](), archive.gone()
    arrivals = archive.came()
    places = Counter(came.sha256 for came in arrivals)
    for came in arrivals:
        earlier = came.sha256 in known and (since is None or came.at < since)
        if came.sha256 in gone or (earlier and places[came.sha256] == 1):
            continue
        clock.at = came.at
        try:
            _again(runtime, came, earlier=earlier)
            read += 1
        except Exception as fault:  # one that cannot be read stops no other
            log.warning("file not read again", file=came.name, fault=fault_text(fault))
            unread.append((came.name, fault_text(fault)))
    clock.at = None
    return FilesReadAgain(read, tuple(unread))


def _again(runtime: Runtime, came: Came, *, earlier: bool) -> None:
    house = runtime.snapshot.house
    if not came.events:
        runtime.intake.again(came, house, earlier=earlier)
    elif runtime.event_intake is not None:
        runtime.event_intake.again(came, house)


def tell_together(
    runtime: Runtime, store: Store, clock: Clock, backup_at: datetime | None, found: FilesReadAgain
) -> int:
    """What waits, and what is known to be wrong by now, becomes one notice for each URL; returns how many are in them.

    So nothing that was told between the backup and its restoring is told again singly, and nothing is kept back.
    """
    house, now = runtime.snapshot.house, clock.now()
    runtime.schedule.states(house)
    while runtime.forecaster is not None and runtime.forecaster.refresh(house):
        pass
    about = "" if backup_at is None else f"{backup_at.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
    detail = f"{found.read} files that came since were read again, {len(found.unread)} of them were not."
    restored = ServiceFault(Trouble.STORE_RESTORED, about, detail)
    runtime.schedule.health(house, [restored], {DAILY: now})  # the summary of the day was made, or is part of this
    told = 0
    with store.transaction() as session:
        for recipient in {each.notice.recipient for each in session.outbox.listed(("waiting", "held"))}:
            told += _gather(session, recipient, restored, now)
    return told


def _gather(session: WriteSession, recipient: str, restored: ServiceFault, now: datetime) -> int:
    by_url: dict[int, list[int]] = defaultdict(list)
    for each in session.outbox.listed(("waiting", "held"), recipient):
        by_url[each.notice.url_no].append(each.seq)
    told = 0
    for seqs in by_url.values():
        members = session.outbox.whole(seqs)
        others = [each for each in members if each.notice.facts.get("trouble") != restored.trouble.value]
        if not others:
            continue  # the restoring is told by itself
        first = sorted(others, key=lambda each: (-each.severity.rank, -each.seq))[:TOGETHER]
        summary = digest(first, key_at("restored", now, max(seqs)), zone_of(others))
        case = TroubleCase(trouble=restored.trouble.value, about=restored.about, detail=restored.detail)
        notice = replace(summary.notice, facts={**summary.notice.facts, "restored": case.as_json()})
        session.outbox.gather(replace(summary, notice=notice, tries=0), [each.seq for each in members], now)
        told += len(others)
    return told
