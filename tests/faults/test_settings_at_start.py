"""A start with settings that are broken, half written or gone, or with recipients that have no URL."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.support.command import process, sentinel
from tests.support.process import eventually, running
from tests.support.room import Room
from tests.support.servers import Webhook

SPOILT: dict[str, Callable[[Path], object]] = {
    "cut in the middle": lambda path: path.write_bytes(path.read_bytes()[: path.stat().st_size // 2]),
    "empty": lambda path: path.write_bytes(b""),
    "zeros": lambda path: path.write_bytes(b"\0" * path.stat().st_size),
    "gone": lambda path: path.unlink(),
    "a bad edit": lambda path: path.write_text(path.read_text() + "[due]\nmax_age_days = inf\n"),
}


def kept() -> Path:
    return next(Path(os.environ["STATE_DIRECTORY"]).glob("settings-in-force-*.toml"))


def told(webhook: Webhook, text: str) -> Callable[[], bool]:
    return lambda: any(text in str(post["title"]) + str(post["message"]) for post in webhook.posts)


def test_it_starts_on_the_last_good_settings_tells_it_and_takes_new_ones(room: Room, webhook: Webhook) -> None:
    with running(room, webhook.url()) as first:
        assert first.stop() == 0
    good = room.config.read_bytes()
    assert kept().stat().st_mode & 0o777 == 0o600
    assert webhook.url() not in kept().read_text()
    for spoil in SPOILT.values():
        room.config.write_bytes(good)
        spoil(room.config)
        with running(room, webhook.url()) as service:
            assert service.process.poll() is None
            service.stop()
    with running(room, webhook.url()) as service:
        eventually("it is told", told(webhook, "settings refused at the start"), within=60.0)
        health = sentinel("--config", room.config, "health", COLOUR_TEAM_URL=webhook.url())
        assert health.code == 2
        room.config.write_bytes(good)
        eventually("the new ones are taken", lambda: service.logged("configuration loaded"), within=60.0)
        eventually("the end is told", told(webhook, "Over: settings refused at the start"), within=60.0)
        service.stop()
    assert sum("in trouble: settings refused" in str(post["title"]) for post in webhook.posts) == 1


@pytest.mark.parametrize("spoil", ["no copy", "damaged copy"])
def test_without_a_whole_copy_it_ends_with_2(room: Room, webhook: Webhook, spoil: str) -> None:
    with running(room, webhook.url()) as first:
        first.stop()
    copy = kept()
    if spoil == "no copy":
        copy.unlink()
    else:
        copy.write_bytes(copy.read_bytes()[:-10])
    room.config.write_bytes(b"[folders\n")
    done = process("--config", room.config, "run", COLOUR_TEAM_URL=webhook.url())
    assert done.code == 2
    assert done.err.startswith(f"sentinel: {room.config}:1:9: ")


def test_a_copy_that_is_refused_as_well_ends_with_2(room: Room, webhook: Webhook) -> None:
    from sentinel.adapters.files.kept_settings import KeptSettings
    from tests.support.clock import FakeClock

    KeptSettings(Path(os.environ["STATE_DIRECTORY"]), room.config).keep(b"[of_an_older_program]\n", FakeClock().now())
    room.config.write_bytes(b"[folders\n")
    done = process("--config", room.config, "run", COLOUR_TEAM_URL=webhook.url())
    assert done.code == 2
    assert ":1:9: " in done.err
    assert "are refused too" in done.err
    assert "of_an_older_program: unknown key" in done.err


def test_once_and_commands_refuse_broken_settings_as_ever(room: Room, webhook: Webhook) -> None:
    with running(room, webhook.url()) as first:
        first.stop()
    room.config.write_bytes(b"[folders\n")
    for words in (("run", "--once"), ("status",), ("config", "check")):
        assert sentinel("--config", room.config, *words, COLOUR_TEAM_URL=webhook.url()).code == 2


def test_a_recipient_without_a_url_is_told_to_the_others_and_reached_once_it_has_one(
    room: Room, webhook: Webhook
) -> None:
    url = room.folder / "second.url"
    room.config.write_text(room.config.read_text() + f'[recipients.second]\nurl_file = "{url}"\n')
    with running(room, webhook.url()) as service:
        eventually("it is told", told(webhook, "a recipient has no URL"), within=60.0)
        assert sentinel("--config", room.config, "config", "check", COLOUR_TEAM_URL=webhook.url()).code == 2
        url.touch(mode=0o600)
        url.write_text(webhook.url("second"))
        eventually("it is seen", lambda: service.logged("configuration loaded"), within=60.0)
        eventually("the end is told", told(webhook, "Over: a recipient has no URL"), within=60.0)
        assert service.stop() == 0


def test_what_worked_before_goes_on_though_nobody_can_be_told(room: Room, webhook: Webhook) -> None:
    with running(room, webhook.url()) as first:
        first.stop()
    with running(room, "") as service:
        assert service.stop() == 0
