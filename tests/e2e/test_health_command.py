"""`health` of the installed command: light, and true of a service that really runs."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest

from tests.e2e.command import sentinel
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


def test_health_loads_neither_numpy_nor_apprise_nor_alembic(room: Room) -> None:
    done = sentinel("--config", room.config, "health", before=(sys.executable, "-X", "importtime"))
    found = {name.split(".")[0] for name in re.findall(r"^import time:.*\|\s*(\S+)$", done.err, re.MULTILINE)}
    assert done.code == 1
    assert "sentinel" in found
    assert found & {"numpy", "apprise", "alembic"} == set()
