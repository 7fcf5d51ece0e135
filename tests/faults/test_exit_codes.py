"""How `sentinel run` ends where it cannot begin."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sentinel.adapters.store.store import Store
from tests.support import cgats
from tests.support.command import process, sentinel
from tests.support.process import running
from tests.support.room import SITE, Room
from tests.support.servers import Webhook

LATELY = datetime.now(UTC) - timedelta(minutes=10)
URL = "json://127.0.0.1:9/"


def test_a_second_instance_ends_with_4_and_the_first_goes_on(room: Room, webhook: Webhook) -> None:
    with running(room, webhook.url()) as first:
        second = process("--config", room.config, "run", COLOUR_TEAM_URL=webhook.url())
        assert second.code == 4
        assert f"got one running as process {first.process.pid}" in second.err
        once = sentinel("--config", room.config, "run", "--once", COLOUR_TEAM_URL=webhook.url())
        assert once.code == 4
        assert first.stop() == 0


@pytest.mark.parametrize("spoil", ["missing", "broken", "faulty"])
def test_a_configuration_that_is_refused_ends_with_2(room: Room, spoil: str) -> None:
    if spoil == "missing":
        room.config.unlink()
    else:
        faulty = room.config.read_text() + "[due]\nmax_age_days = inf\n"
        room.config.write_text("[folders\n" if spoil == "broken" else faulty)
    done = process("--config", room.config, "run", COLOUR_TEAM_URL=URL)
    assert done.code == 2
    assert done.err.startswith(f"sentinel: {room.config}:")
    assert "Traceback" not in done.err
    assert not room.store.exists()


def test_a_recipient_without_a_url_ends_with_2(room: Room) -> None:
    done = process("--config", room.config, "run")
    assert done.code == 2
    assert "recipients.colour-team: expected one URL a line in the environment variable COLOUR_TEAM_URL" in done.err


def _newer(store: Path) -> None:
    Store(store, SITE).close()
    with closing(sqlite3.connect(store)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()


UNOPENABLE: dict[str, Callable[[Path], object]] = {
    "other bytes": lambda store: store.write_bytes(b"scribble" * 500),
    "a folder": lambda store: store.mkdir(),
    "of a newer program": _newer,
}


@pytest.mark.parametrize("spoil", UNOPENABLE.values(), ids=UNOPENABLE)
def test_a_store_that_cannot_be_opened_ends_with_5(room: Room, spoil: Callable[[Path], object]) -> None:
    spoil(room.store)
    done = process("--config", room.config, "run", COLOUR_TEAM_URL=URL)
    assert done.code == 5
    assert done.err.splitlines()[-1].startswith("sentinel: expected a store")
    assert "Traceback" not in done.err


@pytest.mark.parametrize("command", ["status", "round", "cases", "checks", "store"])
def test_commands_that_only_look_end_with_5_as_well(room: Room, command: str) -> None:
    _newer(room.store)
    done = sentinel("--config", room.config, command, COLOUR_TEAM_URL=URL)
    assert done.code == 5
    assert "a newer program wrote it" in done.err


def test_once_takes_in_what_is_there_tells_it_and_ends_with_0(room: Room, webhook: Webhook) -> None:
    room.put("north/satin-240/good.txt", cgats.text(cgats.GOOD), at=LATELY)
    room.put("north/satin-240/bad.txt", cgats.text(cgats.FAILING), at=LATELY)
    done = sentinel("--config", room.config, "run", "--once", COLOUR_TEAM_URL=webhook.url())
    assert done.code == 0
    assert room.dropped() == []
    assert any(str(post["title"]).startswith("URGENT - Check failed: ") for post in webhook.posts)
