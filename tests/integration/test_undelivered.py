"""What was given up for a recipient is told there once it works again, exactly once, and to whoever asks for health."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta

import pytest

from sentinel.application.service_health import LATE, LATE_FOR
from sentinel.core.cases.kinds import NoticeKind, Severity
from sentinel.core.cases.records import Notice, Posting, UrlLosses
from sentinel.render.notices import Letter
from sentinel.service import deliver
from sentinel.service.deliver import Deliverer, RetryPolicy
from tests.support.clock import NOON, step_for
from tests.support.room import COLOUR_TEAM, Staff

POLICY = RetryPolicy(timedelta(minutes=1), timedelta(minutes=15), timedelta(hours=4))


@dataclass
class Inbox:
    """A recipient that takes everything while it is `there`, but for titles with what it `refuses`."""

    there: bool = True
    refuses: str | None = None
    titles: list[str] = field(default_factory=list)
    bodies: list[str] = field(default_factory=list)

    def send(self, _recipient: str, _url_no: int, letter: Letter) -> str | None:
        text = letter.message()
        if not self.there or (self.refuses is not None and self.refuses in text.title):
            return "out of reach"
        self.titles.append(text.title)
        self.bodies.append(text.body)
        return None


class Desk:
    """Who delivers, and who posts."""

    def __init__(self, staff: Staff) -> None:
        self.staff, self.inbox = staff, Inbox()
        self.begin_anew()

    def begin_anew(self) -> None:
        self.worker = Deliverer(COLOUR_TEAM.name, self.staff.store, self.inbox, self.staff.clock, POLICY)

    def post(self, number: int) -> None:
        facts = {"printer": f"printer-{number}", "substrate": "satin-240"}
        notice = Notice(f"case-{number}-opened", NoticeKind.CHECK_FAILED, COLOUR_TEAM.name, 0, facts)
        with self.staff.store.transaction() as session:
            session.outbox.post([Posting(notice, severity=Severity.ALARM)], self.staff.clock.now())

    def deliver(self, hours: float = 0.0) -> None:
        """Everything that comes due within so many hours."""
        step_for(hours * 3600, self.worker.step, self.staff.clock)

    def reports(self) -> list[str]:
        return [title for title in self.inbox.titles if "not delivered" in title]

    def losses(self) -> list[UrlLosses]:
        with self.staff.store.transaction() as session:
            return session.outbox.losses(self.staff.clock.now() - LATE_FOR, LATE)


@pytest.fixture(autouse=True)
def _looks_now_and_then(monkeypatch: pytest.MonkeyPatch) -> None:
    """Days go by here, in which nothing waits."""
    monkeypatch.setattr(deliver, "IDLE_SECONDS", 300.0)


@pytest.fixture
def desk(staff: Staff) -> Desk:
    return Desk(staff)


def test_what_was_given_up_is_told_once_the_recipient_works_again_and_never_again(desk: Desk) -> None:
    desk.inbox.there = False
    for number in (1, 2, 3):
        desk.post(number)
        desk.deliver(1)
    desk.deliver(6)
    assert desk.inbox.titles == []
    assert [each.status for each in desk.staff.room.notices()] == ["given-up"] * 3
    desk.inbox.there = True
    desk.deliver(1)  # nothing else waits: it is tried by itself
    assert desk.inbox.titles == ["3 notices were not delivered"]
    assert all(f"case-{number}-opened" in desk.inbox.bodies[0] for number in (1, 2, 3))
    desk.post(4)
    desk.begin_anew()
    desk.deliver(24)
    assert len(desk.inbox.titles) == 2
    assert len(desk.reports()) == 1


def test_an_outage_longer_than_that_of_the_report_itself_is_told_whole_and_once(desk: Desk) -> None:
    desk.inbox.there = False
    for number in (1, 2):
        desk.post(number)
        desk.deliver(15)
    desk.inbox.there = True
    desk.deliver(1)
    assert desk.inbox.titles == ["2 notices were not delivered"]
    desk.deliver(24)
    assert len(desk.inbox.titles) == 1


def test_a_second_outage_is_told_by_itself(desk: Desk) -> None:
    for number in (1, 2):
        desk.inbox.there = False
        desk.post(number)
        desk.deliver(8)
        desk.inbox.there = True
        desk.deliver(1)
    assert desk.reports() == ["1 notice was not delivered"] * 2
    assert "case-1-opened" in desk.inbox.bodies[0]
    assert "case-1-opened" not in desk.inbox.bodies[1]


def test_what_somebody_had_sent_again_meanwhile_is_not_told_as_lost(desk: Desk) -> None:
    desk.inbox.there = False
    desk.post(1)
    desk.deliver(8)
    with desk.staff.store.transaction() as session:
        session.outbox.retry(["case-1-opened"], desk.staff.clock.now())
    desk.inbox.there = True
    desk.deliver(2)
    assert len(desk.inbox.titles) == 1
    assert desk.reports() == []


def test_a_crowd_that_was_given_up_is_counted_notice_by_notice(desk: Desk) -> None:
    desk.inbox.there = False
    for number in range(20):
        desk.post(number)
    desk.deliver(10)
    desk.inbox.there = True
    desk.deliver(1)
    assert desk.inbox.titles == ["20 notices were not delivered"]


def test_what_was_for_a_former_recipient_is_no_loss(desk: Desk) -> None:
    desk.post(1)
    with desk.staff.store.transaction() as session:
        session.outbox.give_up_for_absent([], desk.staff.clock.now())
    desk.inbox.there = False
    desk.post(2)
    desk.deliver(8)
    desk.inbox.there = True
    desk.deliver(1)
    assert desk.inbox.titles == ["1 notice was not delivered"]
    assert "case-1-opened" not in desk.inbox.bodies[0]


def test_the_report_and_health_tell_how_late_others_came(desk: Desk) -> None:
    desk.inbox.there = False
    desk.post(1)
    desk.deliver(3)
    desk.post(2)
    desk.deliver(2)
    desk.inbox.there, desk.inbox.refuses = True, "not delivered"  # so that the other comes first
    desk.deliver(1)
    desk.inbox.refuses = None
    desk.deliver(1)
    assert desk.inbox.titles[-1] == "1 notice was not delivered"
    assert len(desk.inbox.titles) == 2
    assert "1 notice came after all" in desk.inbox.bodies[-1]
    [found] = desk.losses()
    assert (found.recipient, found.url_no, found.given_up, found.late) == (COLOUR_TEAM.name, 0, 1, 1)
    assert (found.first, found.last) == (NOON, NOON)
    assert timedelta(hours=2) <= found.latest <= timedelta(hours=2.3)
    read = desk.staff.room.records.outbox.losses(desk.staff.clock.now() - LATE_FOR, LATE)
    assert read == [found]
