"""Every command of the guide by tasks does what the guide says, in a made-up room in which all of it has happened."""

from __future__ import annotations

import re
import shlex
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.support.room import Room
from tests.support.servers import Webhook

GUIDE = (Path(__file__).parents[2] / "config" / "tasks.md").read_text(encoding="utf-8")
LATELY = datetime.now(UTC) - timedelta(hours=2)


def tasks() -> dict[str, list[str]]:
    """By heading the lines that are to be typed."""
    found = {}
    for heading, text in re.findall(r"^## (.+?)\n(.*?)(?=^## |\Z)", GUIDE, re.MULTILINE | re.DOTALL):
        blocks = re.findall(r"^ *```sh\n(.*?)^ *```", text, re.MULTILINE | re.DOTALL)
        found[heading] = [line.strip() for block in blocks for line in block.splitlines() if line.strip()]
    return found


@pytest.fixture
def busy(room: Room, webhook: Webhook, monkeypatch: pytest.MonkeyPatch) -> Room:
    """A room in which a chart failed and was read again, with the files that the guide names in the working folder."""
    monkeypatch.setenv("TEAM_URL", webhook.url())
    new = re.findall(r"^ *```toml\n(.*?)^ *```", GUIDE, re.MULTILINE | re.DOTALL)
    room.configure(
        extra='[recipients.team]\nurl_env = "TEAM_URL"\n'
        + "\n".join(re.sub(r"^ +", "", text, flags=re.M) for text in new)
    )
    for number, minutes in (("first", 0), ("second", 10)):
        text = cgats.text(cgats.FAILING, keywords={"DESCRIPTOR": number})
        room.put(f"north/satin-240/{number}.txt", text, at=LATELY + timedelta(minutes=minutes))
    assert asked(room, webhook, "run", "--once").code == 0
    assert asked(room, webhook, "event", "add", "service", "--printer", "north").code == 0
    monkeypatch.chdir(room.folder)
    shutil.copy(room.folder / "targets" / "house.txt", "reference.txt")
    shutil.copy(room.config, "trial.toml")
    Path("north/satin-240").mkdir(parents=True)
    Path("sheet.txt").write_text(cgats.text(cgats.GOOD))
    return room


def asked(room: Room, webhook: Webhook, *words: str) -> Done:
    return sentinel("--config", room.config, *words, TEAM_URL=webhook.url())


UNSCORED = {"sentinel check sheet.txt": 3, "sentinel curves CHECK": 3}
"""Commands whose answer in this room is that something cannot be told, and the code that says so."""


@pytest.mark.parametrize("task", tasks())
def test_what_the_guide_says_to_type_works(busy: Room, webhook: Webhook, task: str) -> None:
    later, earlier = (str(each["check"]) for each in asked(busy, webhook, "checks", "--json").lines())
    named = {"CHECK": later, "EARLIER": earlier}
    for line in tasks()[task]:
        command = line.partition("  #")[0].strip()
        cases = asked(busy, webhook, "cases", "--json").lines()
        events = asked(busy, webhook, "event", "list", "--json").lines()
        named |= {"CASE": str(cases[0]["case"])} if cases else {}
        named |= {"EVENT": str(events[-1]["event"])} if events else {}
        words = [named.get(word, word) for word in shlex.split(command)]
        assert words[0] == "sentinel"
        even = ["--even-failed"] if "--from-check" in words else []  # the two checks of this room did fail
        done = asked(busy, webhook, *words[1:], *even)
        allowed = {0, UNSCORED.get(command, 0)}
        assert done.code in allowed, f"{command}: {done.code}: {done.err}"
        assert "Traceback" not in done.err


def test_every_task_but_none_has_words_to_type() -> None:
    assert all(tasks().values())
    assert len(tasks()) >= 9
