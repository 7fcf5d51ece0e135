"""The store takes nothing: people are told while that lasts, once, without it; and nothing twice when it is over."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import time
from pathlib import Path

import pytest

from sentinel.adapters.files.notes import NoteFile
from sentinel.adapters.store.connection import StoreBusyError
from sentinel.adapters.store.store import Store, WriteSession
from sentinel.bootstrap import Assembly, Composition, addressees_of, second_voice
from sentinel.core.cases.kinds import Trouble
from sentinel.core.cases.notice_policy import QuietHours
from sentinel.render.notices import Letters
from sentinel.service.health import ServiceFault
from sentinel.service.second_voice import GRACE_SECONDS, SecondVoice
from sentinel.service.supervisor import STOP, FileEvents, Runtime, Supervisor
from sentinel.settings.resolving import Snapshot
from tests.support import cgats
from tests.support.clock import FakeClock
from tests.support.command import sentinel
from tests.support.fakes import FakeNotifier
from tests.support.reading import ReaderHere
from tests.support.room import COLOUR_TEAM, SITE, Room, Staff, new_store
from tests.support.servers import Webhook

REFUSED = ServiceFault(Trouble.STORE_REFUSES, detail="disk I/O error")
SATIN = "north/satin-240"
TITLE = "Sentinel in trouble: the store takes no records"


class FailingStore(Store):
    """Takes nothing while it `says` something."""

    says: str | None = None

    @contextmanager
    def transaction(self, *, spends_reserve: bool = True) -> Iterator[WriteSession]:
        if self.says is not None:
            raise StoreBusyError(f"the store did not take a transaction: {self.says}")
        with super().transaction(spends_reserve=spends_reserve) as session:
            yield session


class Day:
    """The service's loop over a store that fails, a turn at a time; what goes out is kept by the notifier."""

    def __init__(self, room: Room, clock: FakeClock) -> None:
        self.room, self.clock = room, clock
        self.store, self.notifier = FailingStore(room.store, SITE), FakeNotifier()
        self.assembly = Assembly(self.store, room.store, clock, notifier=self.notifier, reader=ReaderHere())
        self.snapshot = room.snapshot()
        self.hints = FileEvents()
        self.turns = 0
        self.lives = 0
        self.begin()

    def keep(self, snapshot: Snapshot) -> None:
        """Nothing is kept."""

    def begin(self) -> None:
        """As after a restart."""
        self.runtime = self.assembly.runtime(self.snapshot, [COLOUR_TEAM])
        self.supervisor = Supervisor(self, lambda _: self.runtime, self.hints, self.clock, self)

    def passes(self, seconds: float, turns: int = 1) -> list[str]:
        """Turns after a pause each; the titles of what reached people in them."""
        before = len(self.notifier.sent)
        for _ in range(turns):
            self.clock.advance(seconds)
            self.supervisor._turn(self.runtime, {None})
            voice = self.runtime.second_voice
            assert voice is not None
            voice.wait(10)
            if self.store.says is None:
                [deliverer] = self.assembly.deliverers(self.snapshot, [COLOUR_TEAM])
                while deliverer.step() == 0.0:
                    pass
        return [title for _, _, title in self.notifier.sent[before:]]

    # settings file and manager
    def changed(self) -> bool:
        return False

    def load(self) -> Snapshot:
        return self.snapshot

    def ready(self, status: str) -> None: ...
    def reloading(self) -> None: ...
    def stopping(self) -> None: ...

    def alive(self) -> None:
        self.lives += 1


@pytest.fixture
def day(room: Room, clock: FakeClock) -> Iterator[Day]:
    own = Day(room, clock)
    yield own
    own.store.close()


def test_people_are_told_while_it_lasts_once_and_its_end_by_the_store(day: Day) -> None:
    assert day.passes(30) == []
    day.store.says = "disk I/O error"
    assert day.passes(30) == []
    assert day.passes(GRACE_SECONDS) == [TITLE]
    body = day.notifier.bodies[-1]
    assert "disk I/O error" in body
    assert "Since " in body
    assert "no check, no event and no state has been recorded" in body
    assert "Make room on its disk, or mend its permissions." in body
    assert day.passes(30, turns=20) == []
    day.store.says = None
    assert day.passes(2) == []
    assert day.passes(600, turns=3) == ["Over: the store takes no records"]
    assert day.passes(600, turns=3) == []
    assert day.room.statuses() == ["sent", "sent"]
    [opened, _] = day.room.notices()
    assert (opened.notice.facts["trouble"], opened.notice.facts["detail"]) == (
        "store-refuses",
        "the store did not take a transaction: disk I/O error",
    )


def test_a_moment_is_told_by_the_store_alone(day: Day) -> None:
    day.store.says = "database is locked"
    assert day.passes(8, turns=3) == []
    day.store.says = None
    assert day.passes(2) == [TITLE]
    assert day.passes(600, turns=3) == ["Over: the store takes no records"]


def test_what_the_store_told_of_is_not_told_past_it_as_well(day: Day) -> None:
    day.store.says = "database or disk is full"
    day.passes(2)
    day.store.says = None
    assert day.passes(2) == [TITLE]
    day.store.says = "database or disk is full"
    assert day.passes(30, turns=10) == []


def test_it_is_told_again_after_a_day_and_not_before(day: Day) -> None:
    day.store.says = "disk I/O error"
    assert day.passes(GRACE_SECONDS, turns=2) == [TITLE]
    assert day.passes(3600, turns=23) == []
    assert day.passes(3600, turns=3) == [TITLE]
    assert day.passes(3600, turns=20) == []


@pytest.mark.parametrize("noted", [True, False])
def test_a_restart_tells_nobody_again(day: Day, noted: bool, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    place = tmp_path / "noted" if noted else tmp_path / "file"
    monkeypatch.setenv("CACHE_DIRECTORY", str(place))
    day.begin()
    day.store.says = "disk I/O error"
    assert day.passes(GRACE_SECONDS, turns=2) == [TITLE]
    lives = day.lives
    assert day.passes(30, turns=4) == []
    assert day.lives > lives  # a store that refuses is no reason to be started anew
    if noted:
        day.begin()
        assert day.passes(GRACE_SECONDS, turns=4) == []
        day.begin()
    day.store.says = None
    assert day.passes(2) == []
    assert day.passes(600, turns=3) == ["Over: the store takes no records"]


def test_a_delivery_that_the_store_does_not_answer_is_told(day: Day, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Runtime, "undelivered", lambda _: "database disk image is malformed")
    assert day.passes(GRACE_SECONDS, turns=3) == [TITLE]
    assert day.passes(30, turns=10) == []


def test_files_that_waited_for_the_store_are_all_taken_at_once_when_it_is_back(day: Day) -> None:
    for number in range(12):
        day.room.put(f"{SATIN}/sheet-{number}.txt", cgats.text(cgats.GOOD) + f"# {number}\n", at=day.clock.now())
    day.clock.advance(60)
    day.store.says = "disk I/O error"
    day.passes(900, turns=8)
    assert len(day.room.dropped()) == 12
    day.store.says = None
    day.passes(15, turns=2)
    assert day.room.dropped() == []
    assert len(day.room.checks()) == 12


# --- whom it tells ----------------------------------------------------------------------------------------------------


def voice_of(clock: FakeClock, notifier: FakeNotifier, folder: Path) -> SecondVoice:
    return SecondVoice([COLOUR_TEAM], notifier, lambda _: Letters(), NoteFile(folder / "note.json"), clock)


def test_quiet_hours_are_kept_and_a_failed_try_is_repeated(room: Room, clock: FakeClock, tmp_path: Path) -> None:
    policy = room.snapshot().house.notices
    now = clock.now()
    quiet = QuietHours(time(now.hour), time(now.hour + 1))
    subscriber = replace(policy.subscriber("colour-team", COLOUR_TEAM.kinds), quiet=quiet)
    notifier = FakeNotifier("HTTP 500")
    voice = voice_of(clock, notifier, tmp_path)
    own = replace(policy, subscribers={"colour-team": subscriber})
    voice.tell(REFUSED, own)
    assert notifier.sent == []
    clock.advance(3600)
    voice.tell(REFUSED, own)
    voice.tell(REFUSED, own)  # too soon after a failure
    assert (len(notifier.sent), voice.spoken()) == (1, [])
    clock.advance(60)
    voice.tell(REFUSED, own)
    voice.tell(REFUSED, own)
    assert len(notifier.sent) == 2
    [spoken] = voice.spoken()
    assert (spoken.fault, list(spoken.urls)) == (REFUSED, [("colour-team", 0)])


def test_a_clock_set_back_and_a_torn_note_tell_no_flood(room: Room, clock: FakeClock, tmp_path: Path) -> None:
    policy, notifier = room.snapshot().house.notices, FakeNotifier()
    voice_of(clock, notifier, tmp_path).tell(REFUSED, policy)
    clock.turn_back(3650 * 86400.0)
    for _ in range(3):
        voice_of(clock, notifier, tmp_path).tell(REFUSED, policy)
    assert len(notifier.sent) == 1
    (tmp_path / "note.json").write_text('{"service:x:": {"trouble": "of a newer program"}}')
    assert voice_of(clock, notifier, tmp_path).spoken() == []
    (tmp_path / "note.json").write_text("[1")
    assert voice_of(clock, notifier, tmp_path).spoken() == []


# --- at the start -----------------------------------------------------------------------------------------------------


def test_a_store_that_cannot_be_opened_is_told_at_the_start_once(room: Room) -> None:
    server = Webhook()
    room.configure(extra='[recipients.team]\nurl_env = "TEAM_URL"\n')
    room.store.write_bytes(b"scribble" * 500)
    for _ in range(3):
        done = sentinel("--config", room.config, "run", "--once", TEAM_URL=server.url())
        assert (done.code, "expected a store that can be opened" in done.err) == (5, True)
    server.stop()
    assert [post["title"] for post in server.posts] == ["Sentinel in trouble: the store is damaged"]
    assert "sentinel store restore" in str(server.posts[0]["message"])


def test_where_nothing_can_be_noted_the_service_waits_for_its_store_in_place(
    room: Room, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A restart would tell everybody again."""
    (tmp_path / "file").touch()
    monkeypatch.setenv("CACHE_DIRECTORY", str(tmp_path / "file"))
    server, waited = Webhook(), list[float]()
    monkeypatch.setenv("TEAM_URL", server.url())
    room.configure(extra='[recipients.team]\nurl_env = "TEAM_URL"\n')
    room.store.write_bytes(b"scribble" * 500)

    def sleep(seconds: float) -> None:
        waited.append(seconds)
        if len(waited) == 3:
            room.store.write_bytes(new_store())

    monkeypatch.setattr("sentinel.bootstrap.time.sleep", sleep)
    service = Composition(room.config).service(stays=True)
    service.run_once()
    server.stop()
    assert len(waited) == 3
    assert [post["title"] for post in server.posts] == ["Sentinel in trouble: the store is damaged"]


def test_what_was_told_at_the_start_is_over_by_the_store(room: Room, clock: FakeClock) -> None:
    snapshot = room.configure(extra='[recipients.colour-team]\nurl_env = "TEAM_URL"\n')
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TEAM_URL", "json://127.0.0.1:9/never-called")
        voice = second_voice(snapshot, addressees_of(snapshot), clock, FakeNotifier())
    voice.tell(ServiceFault(Trouble.STORE_UNOPENED, detail="Permission denied"), snapshot.house.notices)
    day = Day(room, clock)
    assert day.passes(30, turns=2) == []
    assert day.passes(600, turns=3) == ["Over: the store cannot be opened"]
    day.store.close()


def test_staff_without_trouble_notes_nothing(staff: Staff, day: Day) -> None:
    day.passes(30, turns=3)
    assert day.runtime.second_voice is not None
    assert day.runtime.second_voice.spoken() == []
    assert day.hints.empty() or day.hints.get() == STOP
