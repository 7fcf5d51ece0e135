"""A start with broken settings or without a recipient's URL, and that the service stopped, as processes tell it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.support.command import sentinel
from tests.support.process import eventually, running
from tests.support.room import Room
from tests.support.servers import Webhook


def told(webhook: Webhook, text: str) -> Callable[[], bool]:
    return lambda: any(text in str(post["title"]) for post in webhook.posts)


@pytest.fixture(autouse=True)
def _soon_over(room: Room) -> None:
    text = room.config.read_text()
    assert "[notices]\n" in text
    room.config.write_text(text.replace("[notices]\n", "[notices]\ncalm_minutes = 0.02\n"))


def test_it_starts_on_the_last_good_settings_tells_it_and_takes_new_ones(room: Room, webhook: Webhook) -> None:
    with running(room, webhook.url()) as first:
        assert first.stop() == 0
    good = room.config.read_bytes()
    room.config.write_bytes(good + b"[due\n")
    with running(room, webhook.url()) as service:
        eventually("it is told", told(webhook, "settings refused at the start"), within=60.0)
        for words in (("run", "--once"), ("status",), ("config", "check")):
            assert sentinel("--config", room.config, *words, COLOUR_TEAM_URL=webhook.url()).code == 2
        room.config.write_bytes(good)
        eventually("the new ones are taken", lambda: service.logged("settings in force"), within=60.0)
        eventually("the end is told", told(webhook, "Over: settings refused at the start"), within=60.0)
        assert service.stop() == 0


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
        eventually("it is seen", lambda: service.logged("settings in force"), within=60.0)
        eventually("the end is told", told(webhook, "Over: a recipient has no URL"), within=60.0)
        assert service.stop() == 0


def test_that_the_watch_stopped_is_told_without_settings_or_store(
    room: Room, webhook: Webhook, monkeypatch: pytest.MonkeyPatch
) -> None:
    with running(room, webhook.url()) as service:
        assert service.stop() == 0
    room.config.write_bytes(b"[folders\n")
    room.store.write_bytes(b"scribble" * 500)
    for name, value in (("SERVICE_RESULT", "exit-code"), ("EXIT_CODE", "exited"), ("EXIT_STATUS", "5")):
        monkeypatch.setenv(f"MONITOR_{name}", value)
    for _ in range(2):
        assert sentinel("--config", room.config, "notify", "stopped", COLOUR_TEAM_URL=webhook.url()).code == 0
    (post,) = webhook.posts
    assert post["title"] == "Sentinel in trouble: the watch has stopped"
    assert "(exit-code, exited 5)" in post["message"]
