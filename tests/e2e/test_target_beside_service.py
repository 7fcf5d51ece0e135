"""A new version is taken up by a service that runs, without a restart."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.command import sentinel
from tests.support.process import IN_A_HURRY, URGENT, drop, eventually, running
from tests.support.room import Room, rows
from tests.support.servers import Webhook

SATIN = "north/satin-240"


@pytest.fixture
def room(tmp_path: Path) -> Room:
    place = Room(tmp_path / "room")
    place.configure(IN_A_HURRY, ('file = "targets/house.txt"\n', ""), extra=URGENT)
    return place


def keep(room: Room, shift: float) -> None:
    (room.folder / "aim.txt").write_text(cgats.text(shift))
    done = sentinel("--config", room.config, "target", "add", "house", room.folder / "aim.txt", "--by", "Ana")
    assert (done.code, done.err) == (0, "")


def verdicts(room: Room) -> list[str]:
    return [check.verdict.value for check in room.checks()]


def test_a_running_service_scores_the_next_file_against_a_new_version(room: Room, webhook: Webhook) -> None:
    keep(room, 0.0)
    with running(room, webhook.url()) as service:
        drop(room, f"{SATIN}/one.txt", cgats.text(cgats.GOOD))
        eventually("the first version passes it", lambda: verdicts(room) == ["pass"])
        keep(room, cgats.FAILING)
        drop(room, f"{SATIN}/two.txt", cgats.text(cgats.GOOD + 0.01))
        eventually("the second version fails it", lambda: verdicts(room) == ["pass", "fail"])
        retired = sentinel("--config", room.config, "target", "retire", "house", "--by", "Ben", "--why", "too light")
        assert retired.code == 0
        drop(room, f"{SATIN}/three.txt", cgats.text(cgats.GOOD + 0.02))
        eventually("the first version passes again", lambda: verdicts(room) == ["pass", "fail", "pass"])
        assert service.stop() == 0


def test_a_file_that_came_before_its_target_is_scored_once_the_target_is_added(room: Room, webhook: Webhook) -> None:
    with running(room, webhook.url()) as service:
        drop(room, f"{SATIN}/early.txt", cgats.text(cgats.GOOD))
        eventually("it is refused", lambda: rows(room.store, "SELECT count(*) FROM unscored_file") == [(1,)])
        assert verdicts(room) == []
        keep(room, 0.0)
        eventually("it is scored", lambda: verdicts(room) == ["pass"])
        assert service.stop() == 0
    assert rows(room.store, "SELECT settled_at IS NULL FROM unscored_file") == [(0,)]
