"""Each recipient has a thread of its own, and none holds up another."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator

import pytest
from structlog.testing import capture_logs

from sentinel.errors import PassingError
from sentinel.service import deliver
from sentinel.service.deliver import DeliveryThread
from sentinel.service.health import ServiceFault
from tests.support.clock import FakeClock
from tests.support.process import eventually

LONG = 10.0


class FakeDeliverer:
    """Calls `act` at every step."""

    def __init__(self, act: Callable[[], float], recipient: str = "colour-team") -> None:
        self.recipient = recipient
        self.step = act

    def troubles(self) -> Iterator[ServiceFault]:
        yield from ()


@pytest.fixture
def start(clock: FakeClock) -> Iterator[Callable[[Callable[[], float]], DeliveryThread]]:
    threads: list[DeliveryThread] = []

    def begin(act: Callable[[], float]) -> DeliveryThread:
        threads.append(DeliveryThread(FakeDeliverer(act), clock))  # type: ignore[arg-type]
        return threads[-1]

    yield begin
    for thread in threads:
        thread.stop()
        thread.join(LONG)


Start = Callable[[Callable[[], float]], DeliveryThread]


def test_a_hanging_recipient_holds_up_no_other(start: Start) -> None:
    answered, delivered = threading.Event(), threading.Event()

    def hang() -> float:
        answered.wait(LONG)
        return LONG

    def deliver() -> float:
        delivered.set()
        return LONG

    start(hang)
    start(deliver)
    assert delivered.wait(LONG)
    assert not answered.is_set()
    answered.set()


def test_it_goes_on_at_once_as_long_as_there_is_something(start: Start) -> None:
    turns, done = iter(range(5)), threading.Event()

    def act() -> float:
        if next(turns) < 4:
            return 0.0
        done.set()
        return LONG

    start(act)
    assert done.wait(LONG)


def test_waking_ends_its_pause(start: Start) -> None:
    turned = threading.Semaphore(0)

    def act() -> float:
        turned.release()
        return 1e6

    thread = start(act)
    assert turned.acquire(timeout=LONG)
    thread.wake()
    assert turned.acquire(timeout=LONG)


@pytest.mark.parametrize("fault", [PassingError("disk full"), ValueError("unexpected")])
def test_a_fault_does_not_end_it(start: Start, monkeypatch: pytest.MonkeyPatch, fault: Exception) -> None:
    monkeypatch.setattr(deliver, "STORE_SECONDS", 0.001)
    turned, faults = threading.Event(), iter([fault])

    def act() -> float:
        for due in faults:
            raise due
        turned.set()
        return LONG

    with capture_logs() as logs:
        start(act)
        assert turned.wait(LONG)
    assert [line["log_level"] for line in logs] == ["warning" if isinstance(fault, PassingError) else "error"]


def test_stopping_waits_for_the_notice_in_hand(start: Start) -> None:
    sending, go_on, sent = threading.Event(), threading.Event(), threading.Event()

    def act() -> float:
        sending.set()
        go_on.wait(LONG)
        sent.set()
        return 0.0

    thread = start(act)
    assert sending.wait(LONG)
    thread.stop()
    go_on.set()
    thread.join(LONG)
    assert sent.is_set()
    assert not thread.turns(LONG)


def test_a_thread_that_has_not_come_round_for_long_is_told_as_stalled(start: Start, clock: FakeClock) -> None:
    sending, go_on = threading.Event(), threading.Event()

    def act() -> float:
        sending.set()
        go_on.wait(LONG)
        return LONG

    thread = start(act)
    assert sending.wait(LONG)
    clock.advance(120.0)
    assert thread.turns(120.0)
    clock.advance(0.5)
    assert not thread.turns(120.0)
    go_on.set()


def test_a_thread_that_lives_is_woken_and_not_begun_anew(start: Start) -> None:
    stepped = threading.Semaphore(0)

    def step() -> float:
        stepped.release()
        return LONG

    with capture_logs() as logs:
        thread = start(step)
        assert stepped.acquire(timeout=LONG)
        thread.wake()
        assert stepped.acquire(timeout=LONG)
    assert list(thread.troubles()) == []
    assert logs == []


def test_a_wake_up_is_good_for_one_look_and_it_rests_again(start: Start) -> None:
    looked: list[int] = []
    twice = threading.Event()

    def act() -> float:
        looked.append(1)
        if len(looked) == 2:
            twice.set()
        return LONG

    thread = start(act)
    eventually("the first look", lambda: looked)
    thread.wake()
    assert twice.wait(LONG)
    time.sleep(0.05)
    assert len(looked) == 2, "it would look all the time"


def test_its_thread_holds_no_process_up_that_is_to_end(start: Start) -> None:
    start(lambda: LONG)
    [own] = [each for each in threading.enumerate() if each.name == "deliver-colour-team"]
    assert own.daemon
