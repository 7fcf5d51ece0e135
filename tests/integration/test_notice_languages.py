"""A notice goes out in the language and the units of whoever gets it, through the real service."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from sentinel.adapters.catalogues import localizer
from sentinel.settings.models import Settings
from tests.support import cgats
from tests.support.command import sentinel
from tests.support.room import Room
from tests.support.servers import Webhook
from tests.support.toml import settings

TWO = """
[notices]
language = "de"
[recipients.halle]
url_env = "HALLE_URL"
[recipients.service]
url_env = "SERVICE_URL"
language = "en"
units = "imperial"
[recipients.atelier]
url_env = "ATELIER_URL"
language = "fr"
"""
TITLES = {
    "halle": "Bitte nachprüfen - nicht bestanden",
    "service": "Please confirm - check failed",
    "atelier": "À confirmer - échec du contrôle",
}


@pytest.fixture
def webhooks() -> Iterator[dict[str, Webhook]]:
    servers = {name: Webhook() for name in TITLES}
    yield servers
    for server in servers.values():
        server.stop()


def test_one_failed_check_is_told_in_three_languages(
    room: Room, webhooks: dict[str, Webhook], monkeypatch: pytest.MonkeyPatch
) -> None:
    room.configure(extra=TWO)
    room.put("north/satin-240/monday.txt", cgats.text(5.0), at=datetime.now(UTC) - timedelta(minutes=10))
    for name, server in webhooks.items():
        monkeypatch.setenv(f"{name.upper()}_URL", server.url("json"))
    done = sentinel("--config", room.config, "run", "--once")
    assert done.code == 0, done.err
    keys = set()
    for name, server in webhooks.items():
        [post] = [post for post in server.posts if post["title"].startswith(TITLES[name])]
        keys.add(post["message"].splitlines()[-1].split()[-1])
    assert len(keys) == 1
    [shown] = {sentinel("--config", room.config, "notify", "show", key).out for key in keys}
    assert all(title in shown for title in TITLES.values())


def own(settings_: Settings, name: str) -> tuple[str, str]:
    found = localizer(*settings_.wording(name))
    return found.language, found.units


def test_a_recipient_s_own_language_comes_before_the_house_s(room: Room) -> None:
    house = settings(room.folder, TWO)
    assert own(house, "halle") == ("de", "metric")
    assert own(house, "service") == ("en", "imperial")
    assert own(house, "gone-since") == ("de", "metric")


def test_a_language_that_is_not_there_is_refused(room: Room) -> None:
    room.config.write_text(room.config.read_text() + '[notices]\nlanguage = "xx"\n')
    done = sentinel("--config", room.config, "config", "check")
    assert done.code == 2
    assert "notices.language: expected" in done.err


def test_one_tongue_a_language_and_units_is_made() -> None:
    assert localizer("de", "metric") is localizer("de", "metric")
    assert localizer("de", "metric") is not localizer("de", "imperial")
