"""Files that were not taken, in hundreds: how many messages come of them, that none is lost, that no alarm waits."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import pytest

from sentinel.core.cases.findings import file_settled
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import CaseTransition
from sentinel.core.cases.payloads import ReasonFacts, RefusedFileCase
from sentinel.core.cases.records import Notice, Posting
from sentinel.core.message import msg
from sentinel.render.notices import Letter, Letters
from sentinel.service import deliver
from sentinel.service.deliver import MOST_NAMES, Deliverer, RetryPolicy, together
from sentinel.service.dispatch import Dispatcher, PendingNotice
from tests.support.amount import amount
from tests.support.clock import step_for
from tests.support.room import COLOUR_TEAM, Room, Staff

POLICY = RetryPolicy(timedelta(seconds=10), timedelta(seconds=900), timedelta(hours=72))
MANY = amount(120, 500)
TRICKLING = amount(60, 120)
"""So many files come at once, and so many in an hour."""


@dataclass
class Inbox:
    """A recipient that takes everything while it is `there`."""

    staff: Staff
    there: bool = True
    letters: list[tuple[datetime, Letter]] = field(default_factory=list)

    def send(self, _recipient: str, _url_no: int, letter: Letter) -> str | None:
        if not self.there:
            return "out of reach"
        self.letters.append((self.staff.clock.now(), letter))
        return None

    @property
    def titles(self) -> list[str]:
        return [letter.message().title for _, letter in self.letters]


@dataclass
class Flood:
    """Refused files, and the deliverer that tells of them."""

    staff: Staff
    inbox: Inbox = field(init=False)
    refused: int = 0

    def __post_init__(self) -> None:
        self.inbox = Inbox(self.staff)
        self.begin_anew()

    def begin_anew(self) -> None:
        self.worker = Deliverer(COLOUR_TEAM.name, self.staff.store, self.inbox, self.staff.clock, POLICY)

    def refuse(self, count: int, *, reasons: int = 1, kind: CaseKind = CaseKind.FILE_UNSCORED) -> None:
        now = self.staff.clock.now()
        with self.staff.store.transaction() as session:
            dispatcher = Dispatcher(session, self.staff.house.notices, self.staff.told, now)
            for _ in range(count):
                self.refused += 1
                told = RefusedFileCase(
                    file_name=f"scan-{self.refused}.txt",
                    folder="north",
                    set_aside_as=f"scan-{self.refused}.txt",
                    arrived_at=now,
                    reasons=(
                        ReasonFacts(code=f"code-{self.refused % reasons}", message=msg("expected a text, got none")),
                    ),
                )
                opened = CaseTransition(kind, CaseStep.OPENED, kind.notice, None, 1, kind.severity)
                applied = dispatcher.apply(f"file:{self.refused}", opened)
                dispatcher.post([PendingNotice(applied, kind.notice, told)])

    def raise_alarm(self, key: str = "case-9999-opened") -> None:
        facts = {"severity": "urgent", "printer": "north", "substrate": "satin-240"}
        notice = Notice(key, NoticeKind.CHECK_FAILED, COLOUR_TEAM.name, 0, facts)
        with self.staff.store.transaction() as session:
            session.outbox.post([Posting(notice, severity=Severity.URGENT)], self.staff.clock.now())

    def deliver(self, seconds: float = 0.0) -> None:
        """Everything that comes due within so many seconds."""
        step_for(seconds, self.worker.step, self.staff.clock)

    def told(self) -> int:
        """Of how many files somebody was told, none twice."""
        counts = [letter for _, letter in self.inbox.letters]
        return sum(_files_in(letter) for letter in counts)


def _files_in(letter: Letter) -> int:
    files = letter.facts.get("files")
    return int(files["count"]) if isinstance(files, dict) else int(letter.kind == "file-unscored")


@pytest.fixture
def flood(staff: Staff) -> Flood:
    return Flood(staff)


@pytest.fixture(autouse=True)
def _facts_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(deliver, "IDLE_SECONDS", 7200.0)  # nobody else posts anything meanwhile
    plain = Letters.letter

    def with_facts(self: Letters, notice: Notice) -> Letter:
        return replace(plain(self, notice), facts=notice.facts)

    monkeypatch.setattr(Letters, "letter", with_facts)


def statuses(room: Room) -> set[str]:
    return {each.status for each in room.notices()}


@pytest.mark.parametrize("reasons", [1, 20])
def test_hundreds_at_once_make_three_messages_at_most(flood: Flood, reasons: int) -> None:
    """As fast as files are taken in, the delivery beside it."""
    for _ in range(MANY // 4):
        flood.refuse(4, reasons=reasons)
        flood.deliver(1.0)
    flood.deliver(7200)
    assert len(flood.inbox.letters) <= 3
    assert flood.told() == MANY
    assert statuses(flood.staff.room) == {"sent"}


def test_those_that_wait_at_a_start_make_one_message(flood: Flood) -> None:
    flood.refuse(MANY)
    flood.deliver(7200)
    assert flood.inbox.titles == [f"{MANY} files not scored"]


def test_a_trickle_of_an_hour_makes_eight_messages_at_most_the_first_at_once(flood: Flood) -> None:
    began = flood.staff.clock.now()
    for _ in range(TRICKLING):
        flood.refuse(1)
        flood.deliver(3600 / TRICKLING)
    assert len(flood.inbox.letters) <= 8
    assert flood.inbox.letters[0][0] == began
    flood.deliver(7200)
    assert flood.told() == TRICKLING
    assert statuses(flood.staff.room) == {"sent"}


def test_a_second_file_waits_some_minutes_and_one_of_another_day_not_at_all(flood: Flood) -> None:
    for wait in (60.0, 86400.0, 0.0):
        flood.refuse(1)
        flood.deliver(wait)
    told = [at for at, _ in flood.inbox.letters]
    assert [later - told[0] for later in told] == [
        timedelta(0), timedelta(minutes=3), timedelta(days=1, minutes=1),
    ]  # fmt: skip


@pytest.mark.parametrize("how", ["starts anew", "one round a minute"])
def test_a_start_does_not_begin_the_flood_anew(flood: Flood, how: str) -> None:
    for minute in range(60):
        flood.refuse(6)
        if how == "one round a minute" or minute % 10 == 0:
            flood.begin_anew()
        flood.deliver(0.0 if how == "one round a minute" else 60.0)
        if how == "one round a minute":
            flood.staff.clock.advance(60.0)
    assert len(flood.inbox.letters) <= 8


def test_an_alarm_is_not_held_by_the_flood(flood: Flood) -> None:
    for number in range(20):
        flood.refuse(5)
        if number == 10:
            flood.raise_alarm()
        flood.deliver(0.0)
        if number == 10:
            assert "case-9999-opened" in {letter.key for _, letter in flood.inbox.letters}
        flood.staff.clock.advance(5.0)


@pytest.mark.parametrize("waiting", [8, 60])
def test_alarms_stay_single_up_to_a_bound_and_beyond_it_are_named_one_by_one(flood: Flood, waiting: int) -> None:
    for number in range(waiting):
        flood.raise_alarm(f"case-{9000 + number}-opened")
    began = flood.staff.clock.now()
    flood.deliver(60.0)
    assert len(flood.inbox.letters) == (8 if waiting == 8 else 1)
    said = " ".join(f"{letter.key} {letter.message().body}" for _, letter in flood.inbox.letters)
    assert all(f"case-{9000 + number}-opened" in said for number in range(waiting))
    assert {at for at, _ in flood.inbox.letters} == {began}


def test_an_outage_during_the_flood_loses_none_and_tells_none_twice(flood: Flood) -> None:
    for number in range(TRICKLING):
        flood.inbox.there = not TRICKLING / 6 < number < TRICKLING * 5 / 6
        flood.refuse(1)
        flood.deliver(3600 / TRICKLING)
    flood.deliver(7200)
    assert flood.told() == TRICKLING
    assert len(flood.inbox.letters) <= 8
    assert statuses(flood.staff.room) == {"sent"}


def test_what_was_scored_after_all_before_it_was_told_is_not_told(flood: Flood) -> None:
    flood.refuse(1)
    flood.deliver()
    flood.refuse(3)
    flood.deliver()
    with flood.staff.store.transaction() as session:
        dispatcher = Dispatcher(session, flood.staff.house.notices, flood.staff.told, flood.staff.clock.now())
        for case in session.cases.listed():
            dispatcher.apply(case.subject, file_settled(case.case))
    flood.deliver(7200)
    assert flood.told() == 1


def test_the_message_names_the_first_of_each_group_and_where_the_rest_is(flood: Flood) -> None:
    flood.refuse(MANY, reasons=2)
    flood.deliver()
    [(_, letter)] = flood.inbox.letters
    body = letter.message().body
    assert f"… and {MANY // 2 - MOST_NAMES} more" in body
    assert "sentinel notify list" in body
    assert {"scan-1.txt", "scan-2.txt"} <= {each.strip("(,)") for each in body.split()}
    assert all(each.within == letter.key for each in flood.staff.room.notices("file-unscored"))


def test_the_message_of_thousands_is_no_longer_than_that_of_hundreds(flood: Flood) -> None:
    flood.refuse(150)
    with flood.staff.store.transaction() as session:
        members = session.outbox.whole([each.seq for each in session.outbox.queued(COLOUR_TEAM.name)])
    sizes = [len(str(_of(kept).facts)) for kept in (members, members * 20)]
    assert sizes[1] - sizes[0] < 10


def _of(members: Iterable[object]) -> Notice:
    return together(list(members), NoticeKind.FILE_UNSCORED, "key").notice  # type: ignore[arg-type]


def test_files_of_events_have_a_flood_of_their_own(flood: Flood) -> None:
    flood.refuse(30)
    flood.refuse(30, kind=CaseKind.EVENTS_REFUSED)
    flood.deliver()
    assert sorted(flood.inbox.titles) == ["30 files not scored", "30 files of events not taken"]
