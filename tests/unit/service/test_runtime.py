"""Both intakes under one look of the supervisor."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import Any

import pytest

from sentinel.core.policy import HousePolicy
from sentinel.service.parts import Fences
from sentinel.service.supervisor import Runtime
from sentinel.settings.loading import load
from sentinel.settings.resolving import Snapshot
from tests.support.clock import FakeClock
from tests.support.toml import LEAST, written


class Intake:
    """Takes so many files at every look, and notes whose turn it was."""

    def __init__(self, name: str, log: list[tuple[str, set[str]]], taken: int, waiting: bool = False) -> None:
        self.name, self.log, self.taken, self.waiting = name, log, taken, waiting

    def look(self, _house: HousePolicy, closed: Collection[str]) -> int:
        self.log.append((self.name, set(closed)))
        return self.taken

    def waits(self) -> bool:
        return self.waiting

    def broken(self) -> dict[str, Exception]:
        return {}


def works(folder: Path, intake: Any, event_intake: Any) -> Runtime:
    part: Any = None
    return Runtime(Snapshot(load(written(folder, LEAST))), intake, part, part, (), FakeClock(), event_intake)


def test_events_are_taken_before_the_checks_that_came_with_them(tmp_path: Path) -> None:
    log: list[tuple[str, set[str]]] = []
    both = works(tmp_path, Intake("checks", log, 2), Intake("events", log, 1))
    assert both.look({"/drop/sheet.txt"}, Fences(FakeClock())) == 3
    assert log == [("events", {"/drop/sheet.txt"}), ("checks", {"/drop/sheet.txt"})]


@pytest.mark.parametrize(("checks", "events"), [(False, False), (True, False), (False, True)])
def test_a_file_of_either_kind_is_waited_for(tmp_path: Path, checks: bool, events: bool) -> None:
    both = works(tmp_path, Intake("checks", [], 0, checks), Intake("events", [], 0, events))
    assert both.waits() is (checks or events)


def test_a_room_without_a_folder_of_events_has_its_checks_alone(tmp_path: Path) -> None:
    log: list[tuple[str, set[str]]] = []
    alone = works(tmp_path, Intake("checks", log, 2), None)
    assert (alone.look((), Fences(FakeClock())), alone.waits()) == (2, False)
    assert log == [("checks", set())]
