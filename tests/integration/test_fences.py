"""A fault that nobody foresaw, in one part of the service after the other: the loop goes on, the other parts do their
work, people are told once, and once more when it is over; nothing is lost and nothing done twice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import cycle
from typing import Any

import pytest

from sentinel.adapters.files.notes import NoteFile
from sentinel.adapters.recipients import Addressee
from sentinel.application.service_health import health
from sentinel.bootstrap import Assembly
from sentinel.core.cases.kinds import NoticeKind
from sentinel.render.notices import Letter
from sentinel.service import deliver, supervisor
from sentinel.service.deliver import Deliverer, DeliveryThread, RetryPolicy
from sentinel.service.health import ServiceFault
from sentinel.service.supervisor import STOP, FileEvents, Runtime, Supervisor
from sentinel.settings.resolving import Snapshot
from tests.support import cgats
from tests.support.amount import LONG
from tests.support.clock import FakeClock
from tests.support.reading import ReaderHere
from tests.support.room import Room, Staff

TEAM = Addressee("team", tuple(NoticeKind), ("json://a.example",))
POLICY = RetryPolicy(timedelta(seconds=10), timedelta(seconds=60), timedelta(hours=72))
FAULTS: tuple[BaseException, ...] = (
    RecursionError("maximum recursion depth exceeded"), KeyError("lost"), MemoryError(),
    OSError(5, "Input/output error"), Exception("anything"), SystemExit(3),
)  # fmt: skip
BREAKS, MENDED, ENDS = 3, 7, 24
"""The turns in which it begins to break, works again, and is stopped; each takes half a minute."""


@dataclass
class Worked:
    """A delivery without its thread: it does all there is to do when it is woken."""

    deliverer: Deliverer
    clock: FakeClock
    recipient: str = "team"

    def wake(self) -> None:
        while self.deliverer.step() == 0.0:
            pass

    def turns(self, _within: float) -> bool:
        return True

    def turned_at(self) -> datetime:
        return self.clock.now()

    def troubles(self) -> Sequence[ServiceFault]:
        return list(self.deliverer.troubles())

    def refused(self) -> str | None:
        return None

    def stop(self) -> None:
        """Nothing to end."""

    def join(self, _patience: float) -> None:
        """Nothing to wait for."""


class Heart:
    def beat(self) -> None:
        """Somebody hears it."""

    def stop(self) -> None:
        """Nothing to end."""


class Hints(FileEvents):
    """A turn of the loop ends where it waits for them."""

    def __init__(self, turned: Callable[[], None]) -> None:
        self._turned = turned

    def get(self, block: bool = True, timeout: float | None = None) -> str | None:
        self._turned()
        return super().get(block, timeout)


@dataclass
class Loop:
    """The real loop over a real room; settings, manager, notifier and the passing of time are this object."""

    room: Room
    place: str
    fault: BaseException
    clock: FakeClock = field(default_factory=FakeClock)
    turn: int = 0
    alive_turns: int = 0
    reload: bool = False
    unwell: set[str] = field(default_factory=set)
    letters: list[Letter] = field(default_factory=list)

    def run(self) -> None:
        self.room.configure(extra='[recipients.team]\nurl_env = "URL"\n[notices]\ncalm_minutes = 1\n')
        self.staff = Staff(self.room, self.clock, told=(TEAM,))
        self.hints = Hints(self.turned)
        self.snapshot = self.staff.snapshot
        Supervisor(self, self.assemble, self.hints, self.clock, self).run(self.snapshot)

    def assemble(self, snapshot: Snapshot) -> Runtime:
        worker = Deliverer("team", self.staff.store, self, self.clock, POLICY)
        runtime = replace(
            Assembly(self.staff.store, self.room.store, self.clock, reader=ReaderHere()).runtime(snapshot, (TEAM,)),
            deliveries=[Worked(worker, self.clock)],  # type: ignore[list-item]
            heartbeat=Heart(),
        )
        owner: Any = runtime
        *path, name = self.place.split(".")
        for each in path:
            owner = getattr(owner, each) if each != "loop" else self
        working = getattr(owner, name)

        def breaking(*args: Any, **more: Any) -> Any:
            if BREAKS <= self.turn < MENDED:
                raise self.fault
            return working(*args, **more)

        object.__setattr__(owner, name, breaking)
        return runtime

    # settings
    def keep(self, snapshot: Snapshot) -> None:
        """Nothing is kept."""

    def turned(self) -> None:
        self.turn += 1
        self.clock.advance(30.0)
        self.hints.put(STOP if self.turn == ENDS else None)
        if self.turn in (2, 4, 9):
            self.room.put(
                f"north/satin-240/sheet-{self.turn}.txt",
                cgats.text(keywords={"FOR": str(self.turn)}),
                at=self.clock.now(),
            )
        if BREAKS < self.turn <= MENDED:
            kept = NoteFile(self.room.folder / "kept.json")
            self.unwell |= set(health(self.snapshot, self.room.records, kept, self.clock.now()).trouble)

    def changed(self) -> bool:
        return self.asked()

    def asked(self) -> bool:
        return False

    def load(self) -> Snapshot:
        return self.snapshot

    # the notifier
    def send(self, _recipient: str, _url_no: int, letter: Letter) -> str | None:
        self.taken(letter)
        return None

    def taken(self, letter: Letter) -> None:
        self.letters.append(letter)

    # the service manager
    def ready(self, _status: str) -> None:
        """Nobody listens."""

    def reloading(self) -> None:
        """Nobody listens."""

    def alive(self) -> None:
        self.alive_turns += 1

    def stopping(self) -> None:
        """Nobody listens."""


@pytest.fixture(autouse=True)
def _in_a_hurry(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supervisor, "IDLE_SECONDS", 0.001)
    monkeypatch.setattr(supervisor, "SETTLE_SECONDS", 0.001)


PLACES = {
    "intake._drop.found": "intake",
    "intake._left_before": "intake",
    "event_intake._drop.found": "events",
    "intake.waits": "intake",
    "intake.retry_unscored": "again",
    "watching.missing": "watching",
    "watching.refresh": "watching",
    "schedule.states": "states",
    "schedule.daily": "daily",
    "forecaster.refresh": "forecasts",
    "catching_up.step": "rules",
    "heartbeat.beat": "heartbeat",
    "loop.alive": "heartbeat service manager",
    "loop.asked": "settings",
}
FILES = ("intake._archive.keep", "intake._targets.target", "intake._committer.commit", "intake._drop.beginning")
"""Where a fault is one of the file in hand alone."""

ANY = [*zip((*PLACES, *FILES), cycle(FAULTS), strict=False)]
CASES = [*ANY, *zip((*PLACES, *FILES), cycle(FAULTS[2:] + FAULTS[:2]), strict=False)] if LONG else ANY[::4]
"""Each place with two of the faults; with little time every fourth place with one."""


def notices(loop: Loop, kind: str) -> list[str]:
    return [letter.message().title for letter in loop.letters if letter.kind == kind]


@pytest.mark.parametrize(
    ("place", "fault"), CASES, ids=lambda each: each if isinstance(each, str) else type(each).__name__
)
def test_what_breaks_in_one_part_stops_no_other(room: Room, place: str, fault: BaseException) -> None:
    loop = Loop(room, place, fault)
    loop.run()
    assert loop.turn == ENDS
    assert loop.alive_turns >= ENDS - (MENDED - BREAKS if place == "loop.alive" else 0)
    troubles, ended = notices(loop, "service-trouble"), notices(loop, "recovered")
    if place in PLACES:
        assert len(troubles) == len(ended) == 1, troubles
        assert loop.unwell == {f"service:part-failing:{PLACES[place]}"}
    else:
        assert len(troubles) == len(ended) <= 1
    taken, aside = room.checks(), [each for each in room.put_aside() if not each.endswith(".reason.txt")]
    refused = [letter for letter in loop.letters if letter.kind == "file-unscored"]
    assert len(taken) + len(aside) == 3
    assert len({each.sha256 for each in taken}) == len(taken)
    assert len(refused) == len(aside)
    assert not aside or place in FILES
    assert room.dropped() == []
    keys = [letter.key for letter in loop.letters]
    assert len(keys) == len(set(keys))
    assert set(room.statuses()) <= {"sent", "withdrawn"}


@pytest.mark.parametrize("fault", FAULTS if LONG else FAULTS[-1:], ids=lambda each: type(each).__name__)
def test_a_notifier_that_breaks_is_told_of_once_it_works(room: Room, fault: BaseException) -> None:
    loop = Loop(room, "loop.taken", fault)
    loop.run()
    keys = [letter.key for letter in loop.letters]
    assert len(keys) == len(set(keys))
    assert set(room.statuses()) <= {"sent", "withdrawn"}
    assert loop.turn == ENDS


@dataclass
class FakeDeliverer:
    act: Callable[[], float]
    recipient: str = "team"

    def step(self) -> float:
        return self.act()

    def troubles(self) -> Sequence[ServiceFault]:
        return ()


def test_a_delivery_that_dies_begins_anew_and_is_told(clock: FakeClock, monkeypatch: pytest.MonkeyPatch) -> None:
    class Killed(BaseException):
        pass

    monkeypatch.setattr("threading.excepthook", lambda _args: None)
    deaths = iter([Killed()])

    def act() -> float:
        for each in deaths:
            raise each
        return 60.0

    thread = DeliveryThread(FakeDeliverer(act), clock)  # type: ignore[arg-type]
    thread.join(10.0)
    assert not thread.turns(1e9)
    thread.wake()
    assert thread.turns(1e9)
    assert [each.about for each in thread.troubles()] == ["delivery team"]
    clock.advance(4000.0)
    thread.wake()
    for _ in range(1000):
        if not list(thread.troubles()):
            break
        thread.join(0.01)
    assert list(thread.troubles()) == []
    thread.stop()
    thread.join(10.0)


def test_a_delivery_that_hangs_is_told(clock: FakeClock) -> None:
    import threading

    goes_on = threading.Event()

    def act() -> float:
        goes_on.wait(10.0)
        return 60.0

    thread = DeliveryThread(FakeDeliverer(act), clock)  # type: ignore[arg-type]
    assert list(thread.troubles()) == []
    clock.advance(deliver.STALL_SECONDS + 1)
    assert [(each.about, each.detail) for each in thread.troubles()] == [("delivery team", "hangs")]
    goes_on.set()
    thread.stop()
    thread.join(10.0)
