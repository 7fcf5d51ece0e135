"""No command and no notice has a letter that steers a terminal or hides another, whatever files are called or say."""

from __future__ import annotations

import re

import pytest

from sentinel.cli.app import TABLE
from sentinel.core.message import HIDDEN
from sentinel.render.notices import Letters
from sentinel.render.notices.forms import Form
from tests.support import cgats
from tests.support.command import sentinel
from tests.support.room import Room, Staff

STEERS = "\u202e\u2066\u200b\ufeff\x1b[31m\x1b]0;title\x07\x9b2J\x08\x7f\xad\u2028\U000e0041"
HELD = STEERS.replace("\x1b", "").replace("\x07", "").replace("\x08", "")
"""Without what the reader refuses in a text."""
HIDDEN_LETTERS = re.compile(f"[{HIDDEN}]")
NAME = f"sheet{STEERS.replace('/', '')}.txt"

COMMANDS = (
    ("status",),
    ("status", "--json"),
    ("explain", "north/satin-240"),
    ("checks",),
    ("checks", "--json"),
    ("cases",),
    ("cases", "--json"),
    ("health",),
    ("notify", "list"),
    ("compare", "1", "2"),
    ("config", "check"),
    ("store", "status"),
    ("curves", "1"),
    ("rescore", "--check", "1"),
    ("event", "list"),
    ("target", "list"),
    ("diagnosis", "record"),
    ("round",),
    ("plan", "--detail"),
)


@pytest.fixture
def hostile(room: Room) -> Room:
    """A room where everything that people name is named to deceive."""
    staff = Staff(room)
    said = {"ORIGINATOR": HELD, "INSTRUMENT_SERIAL": f"47{HELD}11", "CREATED": HELD, "SAMPLE_BACKING": f"black{HELD}"}
    sheet = cgats.text(cgats.FAILING, keywords=said)
    staff.take(f"north/satin-240/{NAME}", cgats.text(cgats.FAILING, keywords={"INSTRUMENT_SERIAL": f"47{HELD}11"}))
    staff.take(f"north/matte-190/{NAME}", sheet)
    staff.take(f"no{STEERS}where/{NAME}", cgats.text(cgats.GOOD))
    staff.take(f"north/satin-240/2{NAME}", sheet.replace("CMYK_C", f"CMYK_C{HELD}"))
    staff.schedule.tick(staff.house)
    waits = staff.outbox()
    assert len(waits) >= 3
    for waiting in waits:
        letter = Letters().letter(waiting.notice)
        for form in Form:
            message = letter.message(form)
            assert not HIDDEN_LETTERS.search(message.title + message.body), (waiting.notice.kind, form)
            assert "\n" not in message.title
    return room


def seen(room: Room, *words: str) -> str:
    result = sentinel("--config", room.config, *words)
    return result.out + result.err


def test_no_command_prints_what_cannot_be_seen(hostile: Room) -> None:
    printed = {words: seen(hostile, *words) for words in COMMANDS}
    assert {words: HIDDEN_LETTERS.findall(text) for words, text in printed.items() if HIDDEN_LETTERS.search(text)} == {}
    assert any("\\u202e" in text for text in printed.values()), "something of the names must have been printed"


def test_no_command_prints_its_own_words_unseen(hostile: Room) -> None:
    for command in (each.name for each in TABLE if each.name != "run"):
        text = seen(hostile, command, STEERS, f"--{STEERS}") + seen(hostile, command, STEERS) + seen(hostile, command)
        assert not HIDDEN_LETTERS.search(text), text


def test_no_command_on_a_file_prints_what_cannot_be_seen(hostile: Room) -> None:
    said = cgats.text().replace("LAB_L", f"LAB_L{HELD}").replace("\n1 ", f"\n{HELD} ", 1)
    files = (
        hostile.put(f"later/{NAME}", cgats.text(keywords={"ORIGINATOR": HELD, f"K{HELD}": HELD})),
        hostile.put(f"later/2{NAME}", said),
        hostile.put("later/3.txt", cgats.text().encode() + b"\x1b[31m"),
    )
    for words in (("check",), ("check", "--json"), ("inspect",), ("inspect", "--json")):
        for file in files:
            text = seen(hostile, *words, str(file))
            assert text
            assert not HIDDEN_LETTERS.search(text), text
