"""The one loop: what it does with hints, with a changed configuration, and with whatever goes wrong."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from structlog.testing import capture_logs

from sentinel.core.policy import EffectiveSettings, HousePolicy
from sentinel.errors import AdminError, PassingError
from sentinel.service import supervisor
from sentinel.service.deliver import STALL_SECONDS
from sentinel.service.health import ServiceFault
from sentinel.service.supervisor import RELOAD, STOP, FileEvents, Runtime, Supervisor
from sentinel.settings.loading import Loaded, load
from sentinel.settings.resolving import Snapshot
from tests.support.clock import FakeClock
from tests.support.toml import LEAST, written

Act = Callable[["Play"], object]


class Play:
    """A supervisor among stand-ins. Each act is one look at the drop folders; after the last one comes STOP.

    Every turn takes `pace` seconds.
    """

    def __init__(self, folder: Path, clock: FakeClock, *acts: Act) -> None:
        self.clock, self.acts = clock, list(acts)
        self.loaded = load(written(folder, LEAST))
        self.hints: FileEvents = FileEvents()
        self.log: list[str] = []
        self.looks: list[set[str]] = []
        self.told: list[list[tuple[str, str]]] = []
        self.answers: list[Snapshot | Exception] = []
        self.has_changed = False
        self.pace = 0.0
        self.waiting = False
        self.turning = True
        self.absent: list[str] = []
        self.archive_said: str | None = None
        self.replaced = False
        self.faults: dict[str, list[Exception]] = {}
        self.kept: list[str] = []

    def run(self) -> Play:
        Supervisor(self, self.assemble, self.hints, self.clock, self).run(self.snapshot("first"))
        return self

    def snapshot(self, fingerprint: str) -> Snapshot:
        return Snapshot(Loaded(self.loaded.settings, self.loaded.path, fingerprint))

    def assemble(self, snapshot: Snapshot) -> Runtime:
        self.note(f"assemble {snapshot.loaded.fingerprint}")
        part: Any = self
        return Runtime(snapshot, part, part, part, [part], self.clock)

    def note(self, what: str) -> None:
        self.log.append(what)
        if self.faults.get(what):
            raise self.faults[what].pop(0)

    # intake
    def look(self, _house: HousePolicy, closed: Collection[str]) -> int:
        self.looks.append(set(closed))
        act = self.acts.pop(0) if self.acts else lambda play: play.hints.put(STOP)
        if self.acts or self.hints.empty():
            self.hints.put(None)
        taken = act(self)
        self.note("look")
        return taken if isinstance(taken, int) else 0

    def waits(self) -> bool:
        return self.waiting

    def untaken(self) -> bool:
        return self.waiting

    def unarchived(self) -> str | None:
        return self.archive_said

    def folder_faults(self) -> Iterator[ServiceFault]:
        return iter(())

    def retry_unscored(self, _house: HousePolicy) -> None:
        self.note("retry")

    def broken(self) -> dict[str, BaseException]:
        return {}

    # schedule
    def states(self, _house: HousePolicy, *, files_wait: bool = False, waited: bool = False) -> None:
        self.note("states")

    def daily(self, _house: HousePolicy) -> None:
        self.note("daily")

    def clock_jumped(self, jump: timedelta) -> None:
        self.note(f"jumped {jump.total_seconds():g}")

    def health(
        self,
        _house: HousePolicy,
        troubles: Iterable[ServiceFault],
        _moments: Mapping[str, datetime],
        _spoken: Iterable[object] = (),
    ) -> None:
        self.told.append([(each.trouble.value, each.about or each.detail) for each in troubles])
        self.note("tick")

    def in_force(self, settings: EffectiveSettings) -> None:
        self.note(f"in force {settings.fingerprint}")

    # settings file
    def changed(self) -> bool:
        self.clock.advance(self.pace)
        return self.has_changed

    def load(self) -> Snapshot:
        self.has_changed = False
        answer = self.answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer

    def keep(self, snapshot: Snapshot) -> None:
        self.kept.append(snapshot.loaded.fingerprint)

    # watching
    def refresh(self) -> bool:
        self.note("refresh")
        return self.replaced

    def missing(self) -> list[str]:
        return self.absent

    def fault(self) -> str | None:
        return None

    # watching, delivery
    def stop(self) -> None:
        self.note("stop")

    # delivery
    def join(self, _patience: float) -> None:
        self.note("join")

    def wake(self) -> None:
        self.note("wake")

    recipient = "team"

    def troubles(self) -> list[ServiceFault]:
        return []

    def turned_at(self) -> datetime:
        return self.clock.now()

    def turns(self, within: float) -> bool:
        assert within == STALL_SECONDS
        return self.turning

    # manager
    def ready(self, status: str) -> None:
        self.note(f"ready: {status}")

    def reloading(self) -> None:
        self.note("reloading")

    def alive(self) -> None:
        self.note("alive")

    def stopping(self) -> None:
        self.note("stopping")


@pytest.fixture(autouse=True)
def _no_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supervisor, "IDLE_SECONDS", 0.001)


READY = "ready: watching 1 folder for 0 printing conditions"


def put(*hints: str | None) -> Act:
    def act(play: Play) -> None:
        for hint in hints:
            play.hints.put(hint)

    return act


def reloaded(answer: str | Exception) -> Act:
    def act(play: Play) -> None:
        play.answers.append(play.snapshot(answer) if isinstance(answer, str) else answer)
        play.hints.put(RELOAD)

    return act


def test_it_says_ready_works_and_ends_when_told(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock).run()
    assert play.log == [
        "assemble first", "in force first", READY, "refresh", "look", "retry", "states", "daily", "tick", "wake",
        "alive", "stopping", "stop", "stop", "join",
    ]  # fmt: skip


def test_paths_that_were_closed_reach_the_intake(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, put("/drop/a.txt", None, "/drop/b.txt")).run()
    assert {"/drop/a.txt", "/drop/b.txt"} <= play.looks[1]
    assert None not in play.looks[1]


def test_between_scans_only_hints_are_followed(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, put(None), put(None)).run()
    assert play.log.count("look") == 3
    assert play.log.count("tick") == play.log.count("refresh") == play.log.count("wake") == 1


def test_the_clocks_work_comes_back_after_the_scan_time(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, *[put(None)] * 6)
    play.pace = 10.0
    assert play.run().log.count("tick") == 3


def test_what_was_taken_wakes_the_deliveries_at_once(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, put(None), lambda _play: 1).run()
    assert play.log.count("wake") == 2


def test_a_reload_puts_everything_together_anew(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, reloaded("second")).run()
    again = play.log.index("reloading")
    assert play.log[again : again + 9] == [
        "reloading", "stop", "stop", "join", "assemble second", "in force second", READY, "refresh", "look",
    ]  # fmt: skip


def test_a_changed_file_is_loaded_without_a_signal(tmp_path: Path, clock: FakeClock) -> None:
    def save(play: Play) -> None:
        play.answers.append(play.snapshot("second"))
        play.has_changed = True

    assert "assemble second" in Play(tmp_path, clock, save).run().log


def test_a_bad_configuration_keeps_the_last_good_one(tmp_path: Path, clock: FakeClock) -> None:
    with capture_logs() as logs:
        play = Play(tmp_path, clock, reloaded(AdminError("s.toml:3:1: broken"))).run()
    assert [line for line in play.log if line.startswith("assemble")] == ["assemble first"]
    assert f"{READY}; a changed configuration was refused" in play.log
    assert play.log.index("stopping") < play.log.index("stop")
    assert any(line.get("fault") == "s.toml:3:1: broken" for line in logs)


def test_a_bad_configuration_that_is_mended_is_taken(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, reloaded(AdminError("broken")), reloaded("second")).run()
    assert "assemble second" in play.log


@pytest.mark.parametrize(
    "fault", [PassingError("disk full"), OSError(5, "Input/output error"), ValueError("unexpected")]
)
@pytest.mark.parametrize("where", ["refresh", "look", "states", "daily", "tick"])
def test_a_fault_in_one_turn_does_not_end_the_loop(
    tmp_path: Path, clock: FakeClock, where: str, fault: Exception
) -> None:
    play = Play(tmp_path, clock, put(None))
    play.faults[where] = [fault]
    with capture_logs() as logs:
        play.run()
    assert play.log[-4:] == ["stopping", "stop", "stop", "join"]
    assert play.log.count("alive") == 2
    assert any(line["log_level"] in ("warning", "error") for line in logs)


def test_a_loop_that_broke_gives_no_sign_of_life(
    tmp_path: Path, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_: object) -> None:
        raise ValueError("unexpected")

    monkeypatch.setattr(Supervisor, "_tick", breaks)
    assert "alive" not in Play(tmp_path, clock).run().log


def test_a_delivery_that_hangs_takes_the_sign_of_life_away_once_the_service_is_an_hour_old(
    tmp_path: Path, clock: FakeClock
) -> None:
    def an_hour_later(play: Play) -> None:
        play.clock.advance(3600.0)
        play.hints.put(None)

    play = Play(tmp_path, clock, put(None), an_hour_later)
    play.turning = False
    assert play.run().log.count("alive") == 1


def test_the_clocks_work_that_broke_is_done_at_the_next_turn(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, put(None), put(None))
    play.faults["tick"] = [PassingError("disk full")]
    assert play.run().log.count("tick") == 2


class Heart:
    """Counts its beats."""

    def __init__(self) -> None:
        self.beats = 0

    def beat(self) -> None:
        self.beats += 1

    def stop(self) -> None:
        """Nothing to end."""


def with_heart(play: Play) -> Heart:
    heart, assemble = Heart(), play.assemble
    play.assemble = lambda snapshot: replace(assemble(snapshot), heartbeat=heart)  # type: ignore[method-assign]
    return heart


def test_the_heart_beats_at_every_tick_that_went_well(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, *[put(None)] * 6)
    play.pace = 10.0
    heart = with_heart(play)
    assert (play.run().log.count("tick"), heart.beats) == (3, 3)


def test_the_heart_does_not_beat_where_a_delivery_stalled_or_the_tick_broke(tmp_path: Path, clock: FakeClock) -> None:
    stalled = Play(tmp_path, clock)
    stalled.turning = False
    broken = Play(tmp_path, clock)
    broken.faults["tick"] = [PassingError("disk full")]
    hearts = [with_heart(stalled), with_heart(broken)]
    stalled.run()
    broken.run()
    assert [heart.beats for heart in hearts] == [0, 0]


def test_trouble_of_the_service_reaches_the_tick_as_long_as_it_lasts(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, reloaded(AdminError("s.toml:3:1: broken")), *[put(None)] * 4, reloaded("second"))
    play.pace = 10.0
    play.absent = ["/drop"]
    play.run()
    missing, refused = ("drop-folder-missing", "/drop"), ("settings-refused", "s.toml:3:1: broken")
    assert play.told[0] == [missing]
    assert [missing, refused] in play.told
    assert play.told[-1] == [missing]


def test_a_store_that_refused_is_trouble_at_the_next_tick_that_goes_through(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, put(None), put(None))
    play.faults["tick"] = [PassingError("disk full")]
    assert play.run().told == [[], [("store-refuses", "disk full")]]


def test_an_archive_that_takes_no_files_is_trouble_until_it_does(tmp_path: Path, clock: FakeClock) -> None:
    def says(what: str | None) -> Act:
        return lambda play: setattr(play, "archive_said", what)

    play = Play(tmp_path, clock, says("No space left on device"), put(None), says(None))
    play.pace = 30.0
    archive = str(play.loaded.settings.folders.archive)
    assert play.run().told == [[("archive-refuses", archive)]] * 2 + [[], []]


BEGINNINGS = ["in force first", "retry"]
"""What is done at the beginning; the second at every tick."""


@pytest.mark.parametrize("where", BEGINNINGS)
@pytest.mark.parametrize("fault", [PassingError("disk full"), ValueError("unexpected")])
def test_a_fault_at_the_beginning_does_not_end_the_service(
    tmp_path: Path, clock: FakeClock, where: str, fault: Exception
) -> None:
    play = Play(tmp_path, clock)
    play.faults[where] = [fault]
    assert play.run().log[-4:] == ["stopping", "stop", "stop", "join"]


@pytest.mark.parametrize(("where", "times"), [("in force first", 2), ("retry", 3)])
def test_what_the_store_would_not_take_at_the_beginning_is_done_later(
    tmp_path: Path, clock: FakeClock, where: str, times: int
) -> None:
    play = Play(tmp_path, clock, put(None), put(None))
    play.pace = 30.0
    play.faults[where] = [PassingError("disk full")]
    assert play.run().log.count(where) == times
    assert play.log.count("tick") == 3


def test_an_unexpected_fault_of_a_reload_keeps_the_last_good_one(tmp_path: Path, clock: FakeClock) -> None:
    play = Play(tmp_path, clock, reloaded(RecursionError("nested too deep"))).run()
    assert [line for line in play.log if line.startswith("assemble")] == ["assemble first"]


def test_a_missing_folder_is_told_once_until_it_is_back(tmp_path: Path, clock: FakeClock) -> None:
    def absent(*folders: str) -> Act:
        return lambda play: setattr(play, "absent", list(folders))

    play = Play(tmp_path, clock, absent("/drop"), put(None), absent(), absent("/drop"), put(None))
    play.pace = 30.0
    with capture_logs() as logs:
        play.run()
    assert [line["folders"] for line in logs if "missing" in line["event"]] == [["/drop"], ["/drop"]]


def test_it_looks_again_soon_while_a_file_is_waited_for(
    tmp_path: Path, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(supervisor, "SETTLE_SECONDS", 0.001)
    monkeypatch.setattr(supervisor, "IDLE_SECONDS", 3600.0)

    def wait(play: Play) -> None:
        play.waiting = True
        while not play.hints.empty():
            play.hints.get()

    play = Play(tmp_path, clock, wait).run()
    assert play.looks[1] == set()


class CatchingUp:
    """Has so many parts to do, or raises, and notes each."""

    def __init__(self, play: Play, *answers: bool | Exception) -> None:
        self.play, self.answers = play, list(answers)

    def step(self, _house: HousePolicy) -> bool:
        self.play.note("catch up")
        answer = self.answers.pop(0) if self.answers else False
        if isinstance(answer, Exception):
            raise answer
        return answer


class BehindPlay(Play):
    """One whose records have to catch up; it stops when that has been asked for so many times."""

    def __init__(self, folder: Path, clock: FakeClock, *answers: bool | Exception) -> None:
        super().__init__(folder, clock, lambda _: None)
        self.catching_up = CatchingUp(self, *answers)

    def assemble(self, snapshot: Snapshot) -> Runtime:
        return replace(super().assemble(snapshot), catching_up=self.catching_up)  # type: ignore[arg-type]


def test_files_go_before_what_is_to_be_caught_up(tmp_path: Path) -> None:
    log = BehindPlay(tmp_path, FakeClock(), True, True, True).run().log
    turns = [what for what in log if what in ("look", "catch up")]
    assert turns[:4] == ["look", "catch up"] * 2


@pytest.mark.parametrize("fault", [PassingError("the archive cannot be read"), RuntimeError("a fault of ours")])
def test_what_cannot_be_caught_up_now_stops_nothing_else(tmp_path: Path, fault: Exception) -> None:
    with capture_logs():
        log = BehindPlay(tmp_path, FakeClock(), fault).run().log
    assert log.index("catch up") < log.index("alive") < log.index("stopping")
