"""`status`: the four states derived afresh, with and without a store, and light."""

from __future__ import annotations

import re
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.support import cgats
from tests.support.clock import stamp
from tests.support.command import Done, process, sentinel
from tests.support.room import Room

NOW = datetime.now(UTC)
MINUTE = timedelta(minutes=1)


def states(shown: dict[str, Any]) -> dict[str, tuple[str, list[str]]]:
    return {
        each["condition"]: (each["state"], [reason["code"] for reason in each["reasons"]])
        for each in shown["conditions"]
    }


def status(room: Room, *words: str) -> Done:
    return sentinel("--config", room.config, "status", *words)


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """Settings alone."""
    return Room(tmp_path_factory.mktemp("bare") / "room")


MORE = """
[printers.west]
[conditions."west/satin-240"]
targets = ["house"]
max_age_days = 2.0
[conditions."west/matte-190"]
targets = ["house"]
not_measurable = "foil reflects"
"""


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """A room after one round of the service: a pass, a warning, a failure, and a check that grew old."""
    room = Room(tmp_path_factory.mktemp("worked") / "room")
    room.configure(extra=MORE)
    room.put("north/satin-240/a.txt", cgats.text(cgats.GOOD), at=NOW - 60 * MINUTE)
    room.put("north/matte-190/b.txt", cgats.text(cgats.FAILING), at=NOW - 30 * MINUTE)
    room.put("south/satin-240/c.txt", cgats.text(2.9), at=NOW - 20 * MINUTE)
    room.put("west/satin-240/d.txt", cgats.text(0.3), at=NOW - timedelta(days=3))
    done = sentinel("--config", room.config, "run", "--once")
    assert done.code == 0, done.err
    return room


def test_without_a_store_nothing_was_ever_run(bare: Room) -> None:
    shown = status(bare, "--json").json()
    assert states(shown) == {
        "north/matte-190": ("never-run", ["never-run"]),
        "north/satin-240": ("never-run", ["never-run"]),
        "south/film-clear": ("not-measurable", ["transparent"]),
        "south/satin-240": ("never-run", ["never-run"]),
    }
    assert not bare.store.exists()


def test_json_holds_the_four_states_with_their_reasons(worked: Room) -> None:
    assert states(status(worked, "--json").json()) == {
        "north/matte-190": ("due", ["last-check-failed"]),
        "north/satin-240": ("current", []),
        "south/film-clear": ("not-measurable", ["transparent"]),
        "south/satin-240": ("current", ["last-check-warned"]),
        "west/matte-190": ("not-measurable", ["declared-not-measurable"]),
        "west/satin-240": ("due", ["too-old"]),
    }


def test_json_has_the_keys_and_types_of_the_contract(worked: Room) -> None:
    shown = status(worked, "--json").json()
    assert {"schema", "generated_at", "conditions"} <= set(shown)
    assert shown["schema"] == "sentinel.status/1"
    assert abs(datetime.fromisoformat(shown["generated_at"]) - datetime.now(UTC)) < timedelta(minutes=5)
    for each in shown["conditions"]:
        assert {"condition", "printer", "substrate", "state", "reasons", "last_check", "due_at"} <= set(each)
        assert each["condition"] == f"{each['printer']}/{each['substrate']}"
        for reason in each["reasons"]:
            assert set(reason) - {"pattern", "values"} == {"code", "message"}
            assert ("pattern" in reason) == ("values" in reason) == ("{" in reason.get("pattern", ""))


def test_the_last_check_and_the_next_date_are_told_with_their_zone(worked: Room) -> None:
    shown = {each["condition"]: each for each in status(worked, "--json").json()["conditions"]}
    passed, failed = shown["north/satin-240"], shown["north/matte-190"]
    assert (passed["last_check"]["verdict"], failed["last_check"]["verdict"]) == ("pass", "fail")
    measured = datetime.fromisoformat(passed["last_check"]["measured_at"])
    assert abs(measured - (NOW - 60 * MINUTE)) < timedelta(seconds=1)
    assert datetime.fromisoformat(passed["due_at"]) == measured + timedelta(days=7)
    assert failed["due_at"] == failed["last_check"]["measured_at"]
    assert (shown["south/film-clear"]["last_check"], shown["south/film-clear"]["due_at"]) == (None, None)


def test_states_are_derived_afresh_from_changed_settings(worked: Room) -> None:
    """No service looks in between: what it last announced is not what status shows."""
    other = worked.folder / "stricter.toml"
    other.write_text(worked.config.read_text() + "\n[due]\nmax_age_days = 0.01\n")
    shown = sentinel("--config", other, "status", "--json").json()
    assert states(shown)["north/satin-240"] == ("due", ["too-old"])
    assert states(shown)["north/matte-190"] == ("due", ["last-check-failed", "too-old"])


def test_the_table_puts_the_failed_one_first_and_tells_the_notices_and_settings(worked: Room) -> None:
    out = status(worked).out
    assert out.splitlines()[2].startswith("north/matte-190")
    assert "notices: 0 waiting, 0 sent, 0 given-up" in out
    assert "as the service last loaded them" in out


def test_the_table_says_where_the_settings_differ_from_those_the_service_works_with(worked: Room) -> None:
    other = worked.folder / "changed.toml"
    other.write_text(worked.config.read_text() + "\n# changed\n")
    assert "differs from what the service last loaded" in sentinel("--config", other, "status").out


def test_the_table_of_a_room_without_a_store_says_so(bare: Room) -> None:
    done = status(bare)
    assert (done.code, "no service has worked with this store yet" in done.out) == (0, True)


HEAVY = {"numpy", "apprise", "alembic"}


def imported(*words: str | Path) -> set[str]:
    """The packages a command loads, told by Python itself."""
    done = process(*words, before=(sys.executable, "-X", "importtime"))
    assert done.code == 0
    return {name.split(".")[0] for name in re.findall(r"^import time:.*\|\s*(\S+)$", done.err, re.MULTILINE)}


@pytest.mark.parametrize("words", [("status",), ("status", "--json"), ("cases",)])
@pytest.mark.parametrize("room", ["bare", "worked"])
def test_status_loads_neither_numpy_nor_apprise_nor_alembic(
    room: str, words: tuple[str, ...], request: pytest.FixtureRequest
) -> None:
    found = imported("--config", request.getfixturevalue(room).config, *words)
    assert "sentinel" in found
    assert found & HEAVY == set()


def test_the_way_imports_are_counted_would_find_numpy(bare: Room) -> None:
    (bare.folder / "a.txt").write_text(cgats.text())
    assert "numpy" in imported("check", bare.folder / "a.txt", "--target", bare.folder / "a.txt")


def test_a_store_that_is_no_store_is_refused_in_a_sentence(tmp_path: Path) -> None:
    room = Room(tmp_path / "room")
    room.store.write_text("not a database, by any means\n" * 50)
    done = status(room, "--json")
    assert done.code in (2, 5)
    assert done.out == ""
    assert f"expected a store that can be opened at {room.store}" in done.err
    assert "Traceback" not in done.err


def test_status_shows_nothing_of_a_file_that_only_lies_in_the_drop_folder(bare: Room) -> None:
    stamp(bare.put("north/satin-240/new.txt", cgats.text()), NOW)
    assert states(status(bare, "--json").json())["north/satin-240"] == ("never-run", ["never-run"])
