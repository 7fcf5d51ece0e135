"""`sentinel event`: told, listed, undone; and files of events, which the service takes."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sentinel.core.conditions.events import EventKind
from tests.support.command import Done, sentinel
from tests.support.process import IN_A_HURRY, URGENT, eventually, running
from tests.support.room import Room, rows
from tests.support.servers import Webhook

WITH_EVENTS = ('put_aside = "aside"', 'put_aside = "aside"\nevents = "events"')


@pytest.fixture
def room(tmp_path: Path) -> Room:
    place = Room(tmp_path / "room")
    (place.folder / "events").mkdir()
    place.configure(
        WITH_EVENTS, IN_A_HURRY, ("[printers.north]", '[printers.north]\naliases = ["Big North"]'), extra=URGENT
    )
    return place


def event(room: Room, *words: str) -> Done:
    return sentinel("--config", room.config, "event", *words)


def added(room: Room, *words: str) -> str:
    done = event(room, "add", *words)
    assert (done.code, done.err) == (0, "")
    return done.out


def listed(room: Room, *options: str) -> list[dict[str, Any]]:
    done = event(room, "list", "--json", *options)
    assert (done.code, done.err) == (0, "")
    return done.lines()


def test_an_event_is_recorded_with_all_that_was_told(room: Room) -> None:
    said = added(
        room, "roll-loaded", "--printer", "Big North", "--substrate", "Satin 240", "--at", "2026-03-02T14:30+01:00",
        "--by", "Ana", "--note", "coated side out", "metres=30", "core_inches=3",
    )  # fmt: skip
    assert said == (
        "event 1: roll-loaded at 2026-03-02 13:30 on north/satin-240 "
        "(core_inches=3, metres=30, note=coated side out)\n"
    )  # fmt: skip
    [one] = listed(room)
    recorded = datetime.fromisoformat(one.pop("recorded_at"))
    assert datetime.now(UTC) - recorded < timedelta(minutes=2)
    assert one == {
        "schema": "sentinel.event/1",
        "event": 1,
        "kind": "roll-loaded",
        "at": "2026-03-02T13:30:00+00:00",
        "printer": "north",
        "substrate": "satin-240",
        "mode": None,
        "facts": {"metres": 30.0, "core_inches": 3.0, "note": "coated side out"},
        "by": "Ana",
        "undone": None,
    }


@pytest.mark.parametrize(
    "words",
    [
        ("printed-area", "square_metres=12.5", "--printer", "north"),
        ("printed-area", "--printer", "north", "square_metres=12.5"),
        ("--printer", "north", "printed-area", "square_metres=12.5"),
        ("printed-area", "--printer", "north", "square_metres=12.5", "--note", ""),
    ],
)
def test_facts_may_stand_before_or_behind_the_options(room: Room, words: tuple[str, ...]) -> None:
    added(room, *words)
    assert [one["facts"] for one in listed(room)] == [{"square_metres": 12.5}]


REFUSED = {
    "an unknown kind": (("hedas", "--printer", "north"), "got 'hedas'; did you mean 'heads'?"),
    "no printer": (("heads",), "the following arguments are required: --printer"),
    "an unknown printer": (("heads", "--printer", "west"), "expected a printer (north, south), got 'west'"),
    "an unknown mode": (
        ("profile", "--printer", "north", "--substrate", "satin-240", "--mode", "fine"),
        "expected a print mode of north/satin-240 (there is none), got 'fine'",
    ),
    "a missing fact": (("printed-area", "--printer", "north"), "expected square_metres with printed-area, got none"),
    "a fact twice": (("heads", "--printer", "north", "name=4", "name=5"), "expected name once, got it twice"),
    "a word that is no fact": (("heads", "--printer", "north", "new"), "expected FACT=VALUE, such as "),
    "an option as a fact": (("heads", "--printer", "north", "kind=service"), "expected FACT=VALUE, such as "),
    "a time to come": (("heads", "--printer", "north", "--at", "2999-01-01"), "expected a time that has come, now "),
}  # fmt: skip


@pytest.mark.parametrize(("words", "why"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_taken_is_refused_and_leaves_nothing(room: Room, words: tuple[str, ...], why: str) -> None:
    done = event(room, "add", *words)
    assert (done.code, done.out) == (2, "")
    assert why in done.err
    assert not room.store.exists()


def test_help_names_every_kind(room: Room) -> None:
    shown = " ".join(event(room, "add", "--help").out.replace("-\n", "-").split())
    assert all(kind.value in shown for kind in EventKind)


def test_events_are_listed_by_printer_kind_and_time(room: Room) -> None:
    added(room, "heads", "--printer", "north", "--at", "2026-03-02")
    added(room, "service", "--printer", "south", "--at", "2026-03-01")
    added(room, "service", "--printer", "north", "--at", "2026-03-03T08:00")

    def numbers(*options: str) -> list[int]:
        return [one["event"] for one in listed(room, *options)]

    assert numbers() == [2, 1, 3]
    assert numbers("--printer", "BIG north") == [1, 3]
    assert numbers("--kind", "Service") == [2, 3]
    assert numbers("--since", "2026-03-02") == [1, 3]
    assert numbers("--since", "2026-03-02", "--kind", "service", "--printer", "south") == []
    assert event(room, "list", "--kind", "lunch").code == 2
    assert event(room, "list", "--since", "lately").code == 2


def test_an_event_is_undone_once_and_stays_on_record(room: Room) -> None:
    said = added(room, "heads", "--printer", "north", "--by", "Ana")
    done = event(room, "undo", "1", "--by", "Ben", "--why", "the  other printer")
    assert (done.code, done.out) == (0, f"undone: {said}")
    assert listed(room) == []
    [one] = listed(room, "--all")
    assert (one["by"], one["undone"]["by"], one["undone"]["why"]) == ("Ana", "Ben", "the other printer")
    assert "undone by Ben: the other printer" in event(room, "list", "--all").out
    again = event(room, "undo", "1", "--by", "Ben", "--why", "the other printer")
    assert (again.code, again.out) == (2, "")
    assert again.err == "sentinel: expected an event that still holds, got 1, which was undone before\n"


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("7", "--by", "Ben", "--why", "a slip"), "expected the number of an event, got 7: see `sentinel event list`"),
        (("1", "--by", " ", "--why", "a slip"), "expected words after --by, got none"),
        (("1", "--by", "Ben"), "the following arguments are required: --why"),
        (
            ("one", "--by", "Ben", "--why", "a slip"),
            "expected a whole number from 1 on, of at most 9 digits, got 'one'",
        ),
    ],
)
def test_an_undoing_that_makes_no_sense_is_refused(room: Room, words: tuple[str, ...], why: str) -> None:
    added(room, "heads", "--printer", "north")
    done = event(room, "undo", *words)
    assert (done.code, done.out) == (2, "")
    assert why in done.err
    assert len(listed(room)) == 1


def test_an_empty_room_lists_no_event(room: Room) -> None:
    assert listed(room) == []
    assert event(room, "list").code == 0
    assert not room.store.exists()


def save(room: Room, name: str, content: str) -> None:
    """Writes a file elsewhere and moves it in whole."""
    outside = room.folder / name
    outside.write_text(content)
    outside.rename(room.folder / "events" / name)


AREAS = "".join(json.dumps({"kind": "printed-area", "printer": "north", "square_metres": n}) + "\n" for n in (1, 2))


def test_a_single_round_takes_files_of_events(room: Room) -> None:
    save(room, "areas.jsonl", AREAS)
    save(room, "heads.csv", "kind,printer\nheads,west\n")
    done = sentinel("--config", room.config, "run", "--once", COLOUR_TEAM_URL="json://127.0.0.1:9/")
    assert done.code == 0
    assert [one["facts"]["square_metres"] for one in listed(room)] == [1.0, 2.0]
    assert list((room.folder / "events").iterdir()) == []
    assert "line 2: expected a printer (north, south), got 'west'" in (
        room.aside / "heads.csv.reason.txt"
    ).read_text()  # fmt: skip


def test_a_running_service_takes_files_and_lets_commands_write_beside_it(room: Room, webhook: Webhook) -> None:
    def kinds() -> list[object]:
        return [kind for (kind,) in rows(room.store, "SELECT kind FROM event ORDER BY seq")]

    with running(room, webhook.url()) as service:
        save(room, "areas.jsonl", AREAS)
        eventually("the file is taken", lambda: kinds() == ["printed-area"] * 2)
        eventually("and removed", lambda: not list((room.folder / "events").iterdir()))
        added(room, "heads", "--printer", "north")
        assert event(room, "undo", str(listed(room)[0]["event"]), "--by", "Ben", "--why", "a slip").code == 0
        assert sorted(map(str, kinds())) == ["heads", "printed-area", "printed-area", "undo"]
        assert service.stop() == 0
