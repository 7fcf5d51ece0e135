"""What `rejudge` says of edited settings against a service that really worked under them for two weeks."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from pathlib import Path

import pytest

from sentinel.adapters.files.stamps import TargetHashes
from sentinel.adapters.store.read_session import ReadSession
from sentinel.application.rejudging import rejudged
from sentinel.application.situations import ConditionRecords, reports
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.history import Both, Rejudged
from tests.support import cgats, records
from tests.support.clock import NOON, FakeClock
from tests.support.room import SITE, Room, Staff, recorded_history

HOURS = 24 * 14
SHIFTS = {0: 0.3, 24: 2.4, 48: 3.4, 50: 9.0, 72: 2.2, 96: 0.4, 264: 2.6}
"""L* of every patch moved by so much, by the hour of the reading."""
EVENTS = {30: EventKind.SERVICE, 120: EventKind.RECALIBRATION, 150: EventKind.HEADS}
EDITED = """
[limits.house]
all.de00_mean = { warn = 1.0, act = 1.6, recover = 1.2 }
[due]
max_age_days = 2.0
warned_times = 2
after = ["recalibration"]
"""


def replayed(staff: Staff) -> list[str]:
    """The kinds of the notices that wait, by what rejudge calls them; none of what it says it does not go through."""
    names = {"confirm-failure": "check-failed", "warning-repeated": "check-due"}
    waiting = [each.notice for each in staff.outbox() if each.notice.facts.get("step") != "reminded"]
    return [names.get(notice.kind, notice.kind.value) for notice in waiting if notice.kind is not NoticeKind.NEVER_RUN]


class Worked:
    """Two weeks of a service under some settings: verdicts by reading, notices by kind."""

    def __init__(self, folder: Path, extra: str) -> None:
        self.room = Room(folder)
        self.room.configure(extra=extra)
        clock = FakeClock()
        staff = Staff(self.room, clock)
        self.told: Counter[str] = Counter()
        for hour in range(0, HOURS, 2):
            if hour in EVENTS:
                with staff.store.transaction() as session:
                    session.events.add(Event(EVENTS[hour], clock.now(), "north"), None, clock.now())
            if hour in SHIFTS:
                staff.take(f"north/satin-240/{hour}.txt", cgats.text(SHIFTS[hour]))
            staff.schedule.tick(staff.house)
            self.told.update(replayed(staff))
            clock.advance(2 * 3600)
        self.verdicts = Counter(verdict for _, verdict in staff.checks())
        staff.store.close()


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Worked:
    return Worked(tmp_path_factory.mktemp("running") / "room", "")


@pytest.fixture(scope="module")
def other(tmp_path_factory: pytest.TempPathFactory) -> Worked:
    return Worked(tmp_path_factory.mktemp("edited") / "room", EDITED)


@pytest.fixture(scope="module")
def found(running: Worked, other: Worked) -> Rejudged:
    """The running room's history, rejudged under the edited settings, at the end of the two weeks."""
    snapshots = Both(running.room.snapshot(), other.room.snapshot())
    return rejudged(
        Both(*(each.house for each in snapshots)),
        recorded_history(snapshots),
        TargetHashes(),
        None,
        NOON + timedelta(hours=HOURS),
    )


def test_verdicts_are_those_the_service_gave_under_each_of_the_settings(
    found: Rejudged, running: Worked, other: Worked
) -> None:
    for counts, worked in zip(found.verdict_counts, (running, other), strict=True):
        assert {verdict.value: count for verdict, count in counts.items()} == worked.verdicts
    assert running.verdicts != other.verdicts


def test_alarms_are_the_notices_the_service_sent_under_each_of_the_settings(
    found: Rejudged, running: Worked, other: Worked
) -> None:
    for counts, worked in zip(found.alarm_counts, (running, other), strict=True):
        assert {kind.value: count for kind, count in counts.items()} == worked.told
    assert running.told != other.told
    assert set(running.told | other.told) == {"check-failed", "check-due", "recovered"}


def test_todays_states_are_what_status_shows_in_each_room(found: Rejudged, running: Worked, other: Worked) -> None:
    for place, worked in enumerate((running, other)):
        snapshot = worked.room.snapshot()
        kept = recorded_history(Both(snapshot, snapshot))
        on_record = ConditionRecords(kept.standing, kept.events, kept.versions)
        shown = reports(snapshot.conditions.values(), on_record, TargetHashes(), NOON + timedelta(hours=HOURS))
        assert {str(name): (report.state, report.due_at) for name, report in shown.items()} == {
            name: (both[place].state, both[place].due_at) for name, both in found.due.items()
        }


def test_nothing_is_written(running: Worked, found: Rejudged) -> None:
    assert found.checks
    before = running.room.store.read_bytes()
    snapshots = Both(running.room.snapshot(), running.room.snapshot())
    rejudged(Both(*(each.house for each in snapshots)), recorded_history(snapshots), TargetHashes(), None, NOON)
    assert running.room.store.read_bytes() == before


def test_scores_come_in_the_order_of_measuring_without_those_that_no_longer_count(tmp_path: Path) -> None:
    room = Room(tmp_path / "room")
    staff = Staff(room)
    late, early = NOON, NOON - timedelta(days=1)
    with staff.store.transaction() as session:
        session.checks.add(records.check("sheet", measured_at=late))
        session.checks.add(records.check("older", measured_at=early))
        session.checks.add(records.check("sheet", "south/satin-240", measured_at=late))
    staff.store.close()
    scores = ReadSession(room.store, SITE).checks.past_scores({("all", "de00_max")})
    assert [(each.condition, each.measured_at) for each in scores] == [
        ("north/satin-240", early),
        ("south/satin-240", late),
    ]
    assert [each.metrics for each in scores] == [{"all": {"de00_max": 2.0}}] * 2
    assert scores[0].inks == ("C", "M", "Y", "K")


def test_a_store_that_is_not_there_yet_has_no_scores(tmp_path: Path) -> None:
    assert ReadSession(tmp_path / "none.sqlite", SITE).checks.past_scores(set()) == []
