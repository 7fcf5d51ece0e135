"""Templates as files of an admin: tried by `config check`, used by the service, never the end of a notice."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from tests.support import cgats
from tests.support.command import sentinel
from tests.support.room import Room
from tests.support.servers import Webhook


def words(room: Room, **texts: str | bytes) -> None:
    """A folder of templates; `txt=` stands for check-due.txt and so on."""
    (room.folder / "words").mkdir()
    for ending, text in texts.items():
        path = room.folder / "words" / f"check-due.{ending}"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    room.configure(extra='[recipients.team]\nurl_env = "TEAM_URL"\n[notices]\ntemplates = "words"\n')


def checked(room: Room) -> tuple[int, str]:
    done = sentinel("--config", room.config, "config", "check", TEAM_URL="json://127.0.0.1:9/")
    return done.code, done.err


def test_good_templates_are_fine(room: Room) -> None:
    words(room, txt="{{ title }}: {{ what | join(' ') }}", html="<p>{{ who }}</p>")
    assert checked(room) == (0, "")


def test_every_broken_template_is_told_with_its_file_and_line(room: Room) -> None:
    words(room, txt="a\n{{ tilte }}", md="{% for %}", html=b"\xff")
    code, said = checked(room)
    assert code == 2
    assert "notices.templates: expected UTF-8 text in" in said
    (room.folder / "words" / "check-due.html").unlink()
    code, said = checked(room)
    assert code == 2
    assert "notices.templates: check-due.txt: line 2: UndefinedError: 'tilte' is undefined" in said
    assert "notices.templates: check-due.md: line 1: TemplateSyntaxError" in said


def test_a_folder_that_is_not_there_is_told(room: Room) -> None:
    words(room)
    (room.folder / "words").rmdir()
    code, said = checked(room)
    assert code == 2
    assert "notices.templates: expected a readable folder at" in said


@pytest.mark.parametrize(("text", "told"), [("Nur dies: {{ title }}", "Nur dies: "), ("{{ 1 / 0 }}", "Who acts: ")])
def test_the_service_sends_by_them_and_without_those_that_break(
    room: Room, webhook: Webhook, text: str, told: str
) -> None:
    words(room)
    for kind in ("confirm-failure", "check-failed", "wrong-stock"):
        (room.folder / "words" / f"{kind}.txt").write_text(text)
    room.put("north/satin-240/monday.txt", cgats.text(cgats.FAILING), at=datetime.now(UTC) - timedelta(minutes=10))
    done = sentinel("--config", room.config, "run", "--once", TEAM_URL=webhook.url())
    [post] = webhook.posts
    assert post["message"].startswith(told)
    logged = [json.loads(line) for line in done.err.splitlines() if line.startswith("{")]
    broken = [each["template"] for each in logged if each["event"].startswith("template broke")]
    assert len(broken) == (1 if "/" in text else 0)
