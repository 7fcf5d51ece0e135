"""`cases`, `ack`, `snooze`, `notify list|show|retry` and `health`, on a real store."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sentinel.cli.app import main
from tests.support import cgats
from tests.support.clock import FakeClock
from tests.support.room import Room, Staff

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def staff(room: Room) -> Iterator[Staff]:
    """A room with one failed check, told now and not yet sent."""
    room.configure(extra='[recipients.colour-team]\nurl_env = "URL"\n')
    workers = Staff(room, clock=FakeClock(datetime.now(UTC)))
    workers.take("north/satin-240/sheet.txt", cgats.text(cgats.FAILING))
    yield workers
    workers.store.close()


class Ran:
    """A command's exit code and what it printed."""

    def __init__(self, room: Room, captured: Captured, *arguments: str) -> None:
        captured.readouterr()
        self.code = main(["--config", str(room.config), *arguments])
        self.out, self.err = captured.readouterr()

    @property
    def objects(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.out.splitlines()]


def test_an_open_case_is_listed_with_its_number(staff: Staff, capsys: Captured) -> None:
    [case] = Ran(staff.room, capsys, "cases", "--json").objects
    assert (case["kind"], case["subject"], case["severity"]) == ("check-failed", "north/satin-240", "urgent")
    assert case["silence"] is None
    text = Ran(staff.room, capsys, "cases").out
    assert str(case["case"]) in text
    assert "north/satin-240" in text


def test_an_unscored_file_is_shown_by_its_name_and_folder(staff: Staff, capsys: Captured) -> None:
    staff.take("north/vinyl/monday.txt", cgats.text())
    staff.take("tuesday.txt", "scribble END_DATA")
    (staff.room.drop / "link.txt").symlink_to("nowhere")
    staff.look()
    found = {each["subject"]: each["file"] for each in Ran(staff.room, capsys, "cases", "--json").objects}
    assert found.pop("north/satin-240") is None
    assert all(subject.startswith("file:") for subject in found)
    assert sorted(found.values(), key=lambda file: file["name"]) == [
        {"folder": "", "name": "link.txt"},
        {"folder": "north/vinyl", "name": "monday.txt"},
        {"folder": "", "name": "tuesday.txt"},
    ]
    text = Ran(staff.room, capsys, "cases").out
    assert "monday.txt in folder north/vinyl" in text
    assert "tuesday.txt at the top of the drop folder" in text
    assert "link.txt at the top of the drop folder" in text
    assert "file:" not in text
    assert text.splitlines()[0].split()[-1] == "standing"


def test_a_silenced_file_is_shown_with_its_name_too(staff: Staff, capsys: Captured) -> None:
    staff.take("north/vinyl/monday.txt", cgats.text())
    numbers = {each["kind"]: str(each["case"]) for each in Ran(staff.room, capsys, "cases", "--json").objects}
    [said] = Ran(staff.room, capsys, "ack", numbers["file-unscored"], "--by", "Ana", "--json").objects
    assert said["file"] == {"folder": "north/vinyl", "name": "monday.txt"}


def test_nothing_is_open_in_a_room_without_a_store(room: Room, capsys: Captured) -> None:
    assert Ran(room, capsys, "cases").out == "nothing is open\n"
    assert Ran(room, capsys, "notify", "list", "--json").out == ""


def number_of(staff: Staff, capsys: Captured) -> str:
    return str(Ran(staff.room, capsys, "cases", "--json").objects[0]["case"])


@pytest.mark.parametrize(("command", "acknowledged"), [("ack", True), ("snooze", False)])
def test_an_open_case_can_be_silenced_with_a_name_and_a_note(
    staff: Staff, capsys: Captured, command: str, acknowledged: bool
) -> None:
    number = number_of(staff, capsys)
    done = Ran(
        staff.room, capsys, command, number, "--by", "Ana", "--note", "new chart is drying", "--for", "8h", "--json"
    )
    assert done.code == 0
    said = done.objects[0]["silence"]
    assert (said["acknowledged"], said["by"], said["note"]) == (acknowledged, "Ana", "new chart is drying")
    assert datetime.fromisoformat(said["until"]) - datetime.fromisoformat(said["at"]) == timedelta(hours=8)
    word = "acknowledged by Ana" if acknowledged else "put off by Ana"
    assert f"{word} until" in Ran(staff.room, capsys, "cases").out


def test_the_service_keeps_to_an_acknowledgement(staff: Staff, capsys: Captured) -> None:
    staff.outbox()
    Ran(staff.room, capsys, "ack", number_of(staff, capsys), "--by", "Ana", "--for", "2d")
    staff.clock.advance(days=1.5)
    staff.schedule.tick(staff.house)
    assert staff.told_kinds() == []
    staff.clock.advance(days=1)
    staff.schedule.tick(staff.house)
    assert staff.told_kinds() == ["check-failed"]


REFUSED: dict[str, list[str]] = {
    "expected the number of an open case, got 4711: see `sentinel cases`": ["ack", "4711", "--by", "Ana"],
    "expected a span such as 90m, 8h or 2d, got 'soon'": ["ack", "1", "--by", "Ana", "--for", "soon"],
    "expected a span such as 90m, 8h or 2d, got '0h'": ["snooze", "1", "--by", "Ana", "--for", "0h"],
    "expected a time to come, got 2020-01-01": ["snooze", "1", "--by", "Ana", "--until", "2020-01-01"],
    "expected a name after --by, got none": ["ack", "1", "--by", "  "],
    "expected the key of a notice, got 'case-9-opened': see `sentinel notify list`": [
        "notify", "show", "case-9-opened",
    ],
    "expected notices that were given up, got none: see `sentinel notify list --status given-up`": ["notify", "retry"],
}  # fmt: skip


@pytest.mark.parametrize(("sentence", "arguments"), REFUSED.items(), ids=[" ".join(a[:3]) for a in REFUSED.values()])
def test_what_cannot_be_done_is_refused_with_a_sentence(
    staff: Staff, capsys: Captured, sentence: str, arguments: list[str]
) -> None:
    done = Ran(staff.room, capsys, *arguments)
    assert (done.code, done.err) == (2, f"sentinel: {sentence}\n")


def test_notices_are_listed_shown_and_tried_again(staff: Staff, capsys: Captured) -> None:
    [listed] = Ran(staff.room, capsys, "notify", "list", "--json").objects
    assert (listed["status"], listed["recipient"], listed["url"], listed["kind"]) == (
        "waiting", "colour-team", 1, "check-failed",
    )  # fmt: skip
    with staff.store.transaction() as session:
        waiting = session.outbox.next_for("colour-team", staff.clock.now())
    assert waiting is not None
    with staff.store.transaction() as session:
        session.outbox.given_up(waiting, staff.clock.now(), "mailto: failed")
    [shown] = Ran(staff.room, capsys, "notify", "show", listed["key"], "--json").objects
    assert shown["answers"][0]["answer"] == "mailto: failed"
    assert shown["body"].endswith(listed["key"])
    text = Ran(staff.room, capsys, "notify", "show", listed["key"]).out
    assert "given-up" in text
    assert "mailto: failed" in text
    assert Ran(staff.room, capsys, "notify", "list", "--status", "given-up").out.count(listed["key"]) == 1
    assert json.loads(Ran(staff.room, capsys, "notify", "retry", "--json").out) == {
        "schema": "sentinel.notify-retry/1",
        "retried": [listed["key"]],
    }
    assert Ran(staff.room, capsys, "notify", "list", "--json").objects[0]["status"] == "waiting"


def healthy(staff: Staff, capsys: Captured) -> tuple[int, dict[str, Any]]:
    done = Ran(staff.room, capsys, "health", "--json")
    return done.code, json.loads(done.out)


def test_a_service_that_works_is_well_and_one_that_stopped_is_not(staff: Staff, capsys: Captured) -> None:
    assert healthy(staff, capsys)[0] == 1  # nothing has worked yet
    now = staff.clock.now()
    staff.schedule.tick(staff.house, (), {"intake": now, "delivery colour-team": now})
    code, found = healthy(staff, capsys)
    assert (code, found["healthy"]) == (0, True)
    assert set(found["parts"]) == {"intake", "clock", "delivery colour-team"}
    assert found["store"]["journal_mode"] in ("delete", "wal")
    with staff.store.transaction() as session:
        session.service.note_moments({"delivery colour-team": now - timedelta(minutes=10)})
    code, found = healthy(staff, capsys)
    assert (code, [name for name, part in found["parts"].items() if part["late"]]) == (1, ["delivery colour-team"])
    assert "delivery colour-team: " in Ran(staff.room, capsys, "health").out


def test_a_store_that_cannot_be_opened_has_its_own_exit_code(room: Room, capsys: Captured) -> None:
    Path(room.store).write_bytes(b"scribble" * 200)
    assert Ran(room, capsys, "health").code == 5


@pytest.mark.parametrize("spelled", ["{}", "case-{}"])
def test_a_case_is_named_by_its_number_or_as_notices_write_it(staff: Staff, capsys: Captured, spelled: str) -> None:
    [case] = Ran(staff.room, capsys, "cases", "--json").objects
    done = Ran(staff.room, capsys, "ack", spelled.format(case["case"]), "--by", "Ana")
    assert done.code == 0
    assert done.out.startswith(f"case {case['case']} acknowledged until")
