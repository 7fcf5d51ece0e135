"""What moved on a sheet, from the file to the store, the commands and the notices. On a real store."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing

import pytest

from sentinel.core.cases.standing import Turn
from sentinel.core.diagnosis.movement import MOVED_VERSION
from sentinel.core.message import Message
from sentinel.render.notices import Letters
from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.support.room import Room, Staff

SATIN = "north/satin-240"
YELLOW_PAPER = tuple(
    patch._replace(lab=(patch.lab[0] - 1.0, patch.lab[1], patch.lab[2] + 6.0)) if not any(patch.device) else patch
    for patch in cgats.PATCHES
)
"""A sheet whose bare stock alone is another one, far beyond the house's limits on it."""


def run(room: Room, *words: str) -> Done:
    return sentinel("--config", str(room.config), *words, cwd=room.folder)


def failed(room: Room, content: str) -> Staff:
    staff = Staff(room)
    staff.take(f"{SATIN}/sheet.txt", content)
    return staff


def test_a_failed_sheet_says_what_moved_wherever_it_is_read(room: Room) -> None:
    failed(room, cgats.text(patches=YELLOW_PAPER))
    (room.folder / "sheet.txt").write_text(cgats.text(patches=YELLOW_PAPER))
    [checked] = run(room, "check", "sheet.txt", "--condition", SATIN, "--json").lines()
    assert checked["verdict"] == "fail"
    [paper] = [each for each in checked["moved"] if each["what"] == "paper"]
    assert (paper["ink"], paper["count"], paper["sure"]) == (None, 1, True)
    assert paper["direction"][0] == "yellower"
    assert (paper["dl"], paper["db"]) == (-1.0, 6.0)
    assert 0 < paper["plus_minus"] < paper["de00"] < 6.0
    assert Message.from_json({**paper, "message": paper["sentence"]}).values
    [listed] = run(room, "checks", "--json").lines()
    explained = run(room, "explain", SATIN, "--json").json()
    assert checked["moved"] == listed["moved"] == explained["moved"]
    assert paper["sentence"] in run(room, "check", "sheet.txt", "--condition", SATIN).out
    assert f"what moved on it:\n  - {paper['sentence']}" in run(room, "explain", SATIN).out


@pytest.mark.parametrize("shift", [cgats.FAILING, -cgats.FAILING, 2.5])
def test_no_sheet_beyond_a_limit_is_silent(room: Room, shift: float) -> None:
    (room.folder / "sheet.txt").write_text(cgats.text(shift))
    [checked] = run(room, "check", "sheet.txt", "--condition", SATIN, "--json").lines()
    assert checked["verdict"] in ("warn", "fail")
    assert checked["moved"]
    assert all(each["de00"] > 0 and each["plus_minus"] > 0 for each in checked["moved"])


def test_what_moved_within_the_limits_is_no_fault(room: Room) -> None:
    (room.folder / "sheet.txt").write_text(cgats.text(cgats.GOOD))
    [checked] = run(room, "check", "sheet.txt", "--condition", SATIN, "--json").lines()
    assert (checked["verdict"], checked["moved"]) == ("pass", [])
    assert "what moved" not in run(room, "check", "sheet.txt", "--condition", SATIN).out


def test_a_file_that_was_compared_with_nothing_has_no_word_on_it(room: Room) -> None:
    (room.folder / "scribble.txt").write_text("scribble")
    [checked] = run(room, "check", "scribble.txt", "--condition", SATIN, "--json").lines()
    assert (checked["verdict"], checked["moved"]) == ("unscored", None)


def test_it_is_kept_in_a_form_with_a_version_and_another_form_is_not_known(room: Room) -> None:
    failed(room, cgats.text(patches=YELLOW_PAPER))
    with closing(sqlite3.connect(room.store)) as store:
        [(kept,)] = store.execute('SELECT moved FROM "check"').fetchall()
        form = json.loads(kept)
        assert form["version"] == MOVED_VERSION
        assert form["movements"] == run(room, "checks", "--json").lines()[0]["moved"]
        for other in (None, json.dumps({**form, "version": MOVED_VERSION + 1})):
            store.execute('UPDATE "check" SET moved = ?', (other,))
            store.commit()
            assert run(room, "checks", "--json").lines()[0]["moved"] is None
            assert run(room, "explain", SATIN, "--json").json()["moved"] is None
            assert "what moved on it: not known" in run(room, "explain", SATIN).out


def test_judging_and_scoring_again_leave_it_as_it_is(room: Room) -> None:
    failed(room, cgats.text(patches=YELLOW_PAPER))
    before = run(room, "checks", "--json").lines()
    number = str(before[0]["check"])
    assert run(room, "rescore", "--check", number, "--json").code == 0
    assert run(room, "rejudge", "--new", str(room.config), "--json").code == 0
    assert run(room, "checks", "--json").lines() == before


def test_notices_of_a_failed_sheet_tell_the_lead_two_lines_and_the_operator_a_plain_one(room: Room) -> None:
    staff = failed(room, cgats.text(cgats.FAILING))
    [waiting] = staff.outbox()
    [recorded] = run(room, "checks", "--json").lines()
    moved = recorded["moved"]
    assert len(moved) > 2
    lead = Letters(reader=Turn.COLOUR_LEAD).letter(waiting.notice).message().body
    told = [each["sentence"] for each in moved if each["sentence"] in lead]
    assert len(told) == 2
    operator = Letters(reader=Turn.OPERATOR).letter(waiting.notice).message().body
    assert "What moved" in lead
    assert "What moved" in operator
    assert not [each for each in moved if each["sentence"] in operator]
    assert "±" not in operator


def test_a_notice_of_an_earlier_program_has_no_line_on_it(room: Room) -> None:
    staff = failed(room, cgats.text(cgats.FAILING))
    [waiting] = staff.outbox()
    facts = waiting.notice.facts
    check = {name: value for name, value in facts["check"].items() if name != "moved"}
    notice = waiting.notice.__class__(
        waiting.notice.key, waiting.notice.kind, waiting.notice.recipient, waiting.notice.url_no,
        {**facts, "check": check},
    )  # fmt: skip
    letter = Letters(reader=Turn.COLOUR_LEAD).letter(notice)
    assert letter.fault is None
    assert "What moved" not in letter.message().body
