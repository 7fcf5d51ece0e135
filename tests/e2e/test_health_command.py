"""`health` of the installed command: light, and true of a service that really runs."""

from __future__ import annotations

import json
import re
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import cast

import pytest

from tests.support import cgats
from tests.support.command import process, sentinel
from tests.support.process import IN_A_HURRY, URGENT, eventually, running
from tests.support.room import Room
from tests.support.servers import Webhook


def health(room: Room) -> tuple[int, dict[str, object]]:
    done = sentinel("--config", room.config, "health", "--json")
    return done.code, json.loads(done.out)


def test_a_running_service_is_well_and_calls_its_watcher(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    server = Webhook()
    monkeypatch.setenv("HEARTBEAT_URL", f"http://127.0.0.1:{server.port}/alive")
    room = Room(tmp_path / "room")
    room.configure(IN_A_HURRY, extra=URGENT + '[heartbeat]\nurl_env = "HEARTBEAT_URL"\n')
    assert health(room)[0] == 1
    with running(room, server.url()):
        eventually("it is well", lambda: health(room)[0] == 0)
        eventually("the watcher was called", lambda: server.calls)
        (room.folder / "drop").rename(room.folder / "elsewhere")
        eventually("trouble is told", lambda: server.posts)
        code, found = health(room)
        assert (code, found["trouble"]) == (1, [f"service:drop-folder-missing:{room.drop}"])
    server.stop()
    assert set(server.calls) == {"/alive"}
    assert "drop folder missing" in str(server.posts[0])


def test_health_tells_when_one_run_was_the_last_that_worked(room: Room) -> None:
    server = Webhook()
    (room.folder / "team.urls").write_text(server.url() + "\n")
    (room.folder / "team.urls").chmod(0o600)
    room.configure(extra='[recipients.team]\nurl_file = "team.urls"\n')
    before = datetime.now(UTC)
    assert sentinel("--config", room.config, "run", "--once").code == 0
    server.stop()
    code, found = health(room)
    parts = cast("dict[str, dict[str, str]]", found["parts"])
    assert (code, found["healthy"], set(parts)) == (0, True, {"intake", "clock", "delivery team"})
    assert all(before <= datetime.fromisoformat(part["at"]) <= datetime.now(UTC) for part in parts.values())
    text = sentinel("--config", room.config, "health").out
    assert "never" not in text
    assert re.search(r"^service: none has worked since `sentinel run --once` ended, \d{4}-", text, re.MULTILINE)


def test_one_run_tells_of_an_archive_that_takes_no_files(room: Room) -> None:
    server = Webhook()
    (room.folder / "team.urls").write_text(server.url() + "\n")
    (room.folder / "team.urls").chmod(0o600)
    room.configure(extra='[recipients.team]\nurl_file = "team.urls"\n')
    room.archive.write_text("a file where the folder belongs")
    room.put("north/satin-240/monday.txt", cgats.text(cgats.GOOD), at=datetime.now(UTC) - timedelta(minutes=10))
    done = sentinel("--config", room.config, "run", "--once")
    assert done.code == 1
    assert "the archive did not take it" in done.err
    server.stop()
    assert [post["title"][:45] for post in server.posts] == ["Sentinel in trouble: the archive takes no fil"]
    assert room.dropped() == ["north/satin-240/monday.txt"]
    assert health(room)[1]["trouble"] == [f"service:archive-refuses:{room.archive}"]


def test_health_loads_neither_numpy_nor_apprise_nor_alembic(room: Room) -> None:
    done = process("--config", room.config, "health", before=(sys.executable, "-X", "importtime"))
    found = {name.split(".")[0] for name in re.findall(r"^import time:.*\|\s*(\S+)$", done.err, re.MULTILINE)}
    assert done.code == 1
    assert "sentinel" in found
    assert found & {"numpy", "apprise", "alembic"} == set()
