"""`round`: the sheet and its JSON from the installed command, after events and readings came the usual way."""

from __future__ import annotations

import re
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.command import Done, process, sentinel
from tests.support.room import Room

KEYS = {
    "schema", "generated_at", "total_minutes", "person_minutes", "least_minutes", "gap_minutes", "proved", "choice",
    "steps", "charts", "printers", "rolls", "stocks", "left_out", "warnings",
}  # fmt: skip


def asked(room: Room, *words: str) -> Done:
    done = sentinel("--config", room.config, "round", *words)
    assert (done.code, done.err) == (0, "")
    return done


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """A room after one round of the service: one condition current, one failed, one never run, one not measurable."""
    room = Room(tmp_path_factory.mktemp("worked") / "room")
    room.configure(
        ("[substrates.satin-240]", "[substrates.satin-240]\ndrying_hours = 2"),
        ("[substrates.matte-190]", "[substrates.matte-190]\ndrying_hours = 0.5"),
        ('colour_path = "ink-space"', 'colour_path = "ink-space"\nmetres = 0.6\nprint_minutes = 6'),
    )
    earlier = datetime.now(UTC) - timedelta(hours=1)
    room.put("north/satin-240/a.txt", cgats.text(cgats.GOOD), at=earlier)
    room.put("north/matte-190/b.txt", cgats.text(cgats.FAILING), at=earlier)
    assert sentinel("--config", room.config, "run", "--once").code == 0
    for words in (
        ("roll-loaded", "--printer", "south", "--substrate", "satin-240", "metres=30", "width_mm=610"),
        ("printed-area", "--printer", "south", "square_metres=18.3"),
        ("roll-loaded", "--printer", "north", "--substrate", "satin-240", "metres=30"),
    ):
        assert sentinel("--config", room.config, "event", "add", *words).code == 0
    return room


def test_json_is_one_object_with_the_keys_of_the_contract(worked: Room) -> None:
    shown = asked(worked, "--json").json()
    assert set(shown) == KEYS
    assert shown["schema"] == "sentinel.round/1"
    assert {each["condition"]: each["why"] for each in shown["charts"]} == {
        "north/matte-190": "failed",
        "south/satin-240": "never run",
    }
    assert (shown["proved"], shown["gap_minutes"]) == (True, 0)


def test_the_plan_overlaps_drying_and_uses_what_is_loaded(worked: Room) -> None:
    """By hand: south prints at once (6) and dries two hours; north changes (10), prints (6), dries 30, is measured."""
    shown = asked(worked, "--json").json()
    times = {each["condition"]: (each["printed_at"], each["dry_at"], each["measured_at"]) for each in shown["charts"]}
    assert times == {"south/satin-240": (6, 126, 136), "north/matte-190": (16, 46, 56)}
    assert (shown["total_minutes"], shown["person_minutes"]) == (136, 30)


def test_reported_printing_uses_up_the_roll(worked: Room) -> None:
    """18.3 square metres on a roll 610 mm wide are 30 m, the whole of it."""
    [need] = asked(worked, "--json", "--printer", "south").json()["rolls"]
    assert (need["metres"], need["too_short"]) == (0.6, True)
    assert need["metres_left"] == pytest.approx(0.0, abs=1e-9)


def test_the_sheet_tells_what_to_do_in_its_order(worked: Room) -> None:
    out = asked(worked).out
    assert out.startswith(
        "The round: 2 charts on 2 printers, all measured after 2 h 16 min. 30 min of it is your work."
    )
    assert "- south: satin-240: the charts need 0.60 m, 0.00 m are left on the roll" in out
    work = [re.sub(r" \(.*", "", line.split("  ")[-1].strip()) for line in out.splitlines() if line.startswith("[ ]")]
    assert sorted(work[:2]) == ["change the roll to matte-190", "print south/satin-240"]
    assert work[2:] == ["print north/matte-190", "measure north/matte-190", "measure south/satin-240"]


def test_an_unknown_printer_is_refused_with_those_there_are(worked: Room) -> None:
    done = sentinel("--config", worked.config, "round", "--printer", "west")
    assert (done.code, done.out) == (2, "")
    assert done.err == "sentinel: expected a printer of the settings (north, south), got 'west'\n"


def test_settings_that_are_refused_refuse_the_round(tmp_path: Path) -> None:
    done = sentinel("--config", tmp_path / "none.toml", "round")
    assert (done.code, done.out) == (2, "")
    assert "expected a readable file" in done.err


def test_a_round_loads_neither_numpy_nor_apprise_nor_alembic(worked: Room) -> None:
    done = process("--config", worked.config, "round", before=(sys.executable, "-X", "importtime"))
    found = {name.split(".")[0] for name in re.findall(r"^import time:.*\|\s*(\S+)$", done.err, re.MULTILINE)}
    assert done.code == 0
    assert "sentinel" in found
    assert found & {"numpy", "apprise", "alembic"} == set()


def test_the_proof_is_gone_on_with_where_it_is_asked_for(worked: Room) -> None:
    found = asked(worked, "--json", "--prove").json()
    assert (found["proved"], found["gap_minutes"]) == (True, 0)
