"""`checks` lists what is on record, `rescore` scores it again from the archive, whatever has changed since."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sentinel.core.scoring.score import RULES_VERSION
from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.support.room import Room, rows

LATELY = datetime.now(UTC) - timedelta(minutes=30)
OWN = """
[limits.house]
all.de00_mean = { warn = 2.0, act = 3.0, recover = 1.5 }
light.dl_mean = { warn = 0.2, act = 5.0 }
tones_C.tv_max = { warn = 50.0, act = 60.0 }
[targets.house.groups]
light = { where = "used > 0 and total <= 60" }
"""


def take(room: Room, place: str, content: str, minutes: int = 0) -> None:
    """A file dropped and taken in."""
    room.put(place, content, at=LATELY + timedelta(minutes=minutes))
    assert sentinel("--config", room.config, "run", "--once").code == 0


@pytest.fixture(scope="module")
def master(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """A room with three checks: a failed one, one that warned and one of another stock."""
    room = Room(tmp_path_factory.mktemp("master") / "room")
    room.configure(extra=OWN)
    room.put("north/satin-240/monday.txt", cgats.text(cgats.FAILING), at=LATELY)
    room.put("north/satin-240/tuesday.txt", cgats.text(cgats.GOOD), at=LATELY + timedelta(minutes=1))
    take(room, "north/matte-190/monday.txt", cgats.text(0.125), 2)
    return room


@pytest.fixture
def recorded(master: Room, room: Room) -> Room:
    """A copy of it, to be spoilt."""
    shutil.copytree(master.folder, room.folder, dirs_exist_ok=True)
    return room


def command(room: Room, *words: str) -> Done:
    return sentinel("--config", room.config, *words)


def listed(room: Room, *words: str) -> list[dict[str, Any]]:
    done = command(room, "checks", "--json", *words)
    assert (done.code, done.err) == (0, "")
    return done.lines()


def number(room: Room, file: str, condition: str = "north/satin-240") -> str:
    return next(str(each["check"]) for each in listed(room) if (each["file"], each["condition"]) == (file, condition))


def rescored(room: Room, check: str, code: int = 0) -> dict[str, Any]:
    done = command(room, "rescore", "--json", "--check", check)
    assert (done.code, done.err) == (code, "")
    return done.json()


def refused(room: Room, check: str = "1") -> str:
    """What is told of a check that cannot be scored again."""
    done = command(room, "rescore", "--check", check)
    assert (done.code, done.out) == (2, "")
    assert "Traceback" not in done.err
    assert done.err.startswith("sentinel: expected ")
    return done.err


def change_record(room: Room, check: str, column: str, value: object) -> None:
    """As nobody should: past the program."""
    with closing(sqlite3.connect(room.store)) as connection, connection:
        connection.execute(f'UPDATE "check" SET {column} = ? WHERE seq = ?', (json.dumps(value), check))  # noqa: S608


def archived(room: Room, check: str, column: str = "sha256") -> Path:
    [[sha256]] = rows(room.store, f'SELECT {column} FROM "check" WHERE seq = {check}')  # noqa: S608
    return next(room.archive.rglob(str(sha256)))


def test_checks_are_listed_those_measured_last_first(recorded: Room) -> None:
    shown = listed(recorded)
    assert [(each["condition"], each["verdict"], each["file"]) for each in shown] == [
        ("north/matte-190", "pass", "monday.txt"),
        ("north/satin-240", "warn", "tuesday.txt"),
        ("north/satin-240", "fail", "monday.txt"),
    ]
    assert set(shown[0]) == {
        "schema",
        "check",
        "condition",
        "measured_at",
        "verdict",
        "metrics",
        "moved",
        "cause_told",
        "target",
        "file",
        "sha256",
        "table",
        "standing",
    }
    assert shown[2]["metrics"]["all"]["dl_mean"] == pytest.approx(cgats.FAILING)
    assert {"light", "tones_C", "solid_K", "greys"} <= set(shown[0]["metrics"])
    assert datetime.fromisoformat(shown[0]["measured_at"]) > datetime.fromisoformat(shown[1]["measured_at"])


@pytest.mark.parametrize(
    ("words", "files"),
    [
        (("--last", "1"), ["monday.txt"]),
        (("--last", "2"), ["monday.txt", "tuesday.txt"]),
        (("--condition", "north/satin-240"), ["tuesday.txt", "monday.txt"]),
        (("--condition", "north/satin-240", "--last", "1"), ["tuesday.txt"]),
        (("--condition", "south/satin-240"), []),
    ],
)
def test_checks_of_one_condition_and_the_last_of_them(
    recorded: Room, words: Sequence[str], files: Sequence[str]
) -> None:
    assert [each["file"] for each in listed(recorded, *words)] == files


def test_checks_for_people_are_a_table_with_their_numbers_first(recorded: Room) -> None:
    done = command(recorded, "checks")
    assert (done.code, done.err) == (0, "")
    table, stand = done.out.split("\n\nWhere they stand now:\n")
    head, _, *lines = table.splitlines()
    assert head.split() == ["check", "measured", "printing", "condition", "verdict", "mean", "p95", "max", "file"]
    assert [line.split()[0] for line in lines] == [str(each["check"]) for each in listed(recorded)]
    assert f"{listed(recorded)[2]['metrics']['all']['de00_mean']:.2f}" in lines[2]
    standing = {each["condition"]: each["standing"] for each in listed(recorded)}
    assert [line.split(",")[0] for line in stand.splitlines()] == [
        f"- {name}: production {standing[name]['production']}" for name in sorted(standing)
    ]


def test_before_the_first_check_there_is_none_to_list_or_to_score_again(room: Room) -> None:
    assert listed(room) == []
    assert command(room, "checks").code == 0
    assert "see `sentinel checks`" in refused(room)
    assert not room.store.exists()


@pytest.mark.parametrize("file", ["monday.txt", "tuesday.txt"])
def test_a_check_scored_again_is_the_same_to_the_last_bit(recorded: Room, file: str) -> None:
    check = number(recorded, file)
    shown = rescored(recorded, check)
    verdict = {"monday.txt": "fail", "tuesday.txt": "warn"}[file]
    assert shown == {
        "schema": "sentinel.rescore/1",
        "check": int(check),
        "condition": "north/satin-240",
        "recorded_verdict": verdict,
        "verdict": verdict,
        "rules_version": {"recorded": RULES_VERSION, "now": RULES_VERSION},
        "identical": True,
        "worst_difference": 0.0,
        "differing": {},
        "rescored": [],
    }


def test_for_people_it_is_the_same_a_line_each(recorded: Room) -> None:
    check = number(recorded, "monday.txt")
    done = command(recorded, "rescore", "--check", check)
    assert (done.code, done.err) == (0, "")
    shown = dict(line.split(": ", 1) for line in done.out.splitlines())
    assert shown[f"check {check} of north/satin-240"] == "recorded fail, scored again fail"
    assert shown["rules version"].startswith("recorded ")
    assert (shown["the same to the last bit"], shown["figures that differ"]) == ("yes", "none")


def test_a_failed_check_that_is_the_same_ends_well(recorded: Room) -> None:
    """The exit code tells of the figures, not of the verdict."""
    assert rescored(recorded, number(recorded, "monday.txt"))["verdict"] == "fail"


def test_every_table_of_a_file_is_scored_again_by_itself(recorded: Room) -> None:
    both = cgats.file_of(cgats.table(0.5, m="M1"), cgats.table(8.0, m="M1"))
    take(recorded, "south/satin-240/both.txt", both, 5)
    found = [each for each in listed(recorded) if each["file"] == "both.txt"]
    assert sorted(each["table"] for each in found) == [1, 2]
    for each in found:
        assert rescored(recorded, str(each["check"]))["identical"]


def test_neither_settings_nor_target_files_of_today_matter(recorded: Room) -> None:
    """Limits, groups and the aim are those it was scored with."""
    check = number(recorded, "tuesday.txt")
    (recorded.folder / "targets" / "house.txt").write_text(cgats.text(30.0))
    recorded.configure(extra="[limits.house]\nall.de00_mean = { warn = 0.01, act = 0.02 }\n")
    assert rescored(recorded, check)["identical"]
    (recorded.folder / "targets" / "house.txt").unlink()
    assert rescored(recorded, check)["identical"]


def test_a_file_larger_than_the_reader_s_own_bounds_is_scored_again_as_it_was_scored(room: Room) -> None:
    """The settings let 20,000 header lines be more."""
    room.configure(extra="[reader]\nheader_lines = 40000\n")
    remarks = "".join(f"# remark {line}\n" for line in range(21_000))
    text = cgats.text(cgats.GOOD).replace("BEGIN_DATA_FORMAT", f"{remarks}BEGIN_DATA_FORMAT", 1)
    take(room, "north/satin-240/long.txt", text)
    assert rescored(room, number(room, "long.txt"))["identical"]


def test_a_figure_that_is_not_the_recorded_one_is_named_and_fails_the_command(recorded: Room) -> None:
    check = number(recorded, "monday.txt")
    [metrics] = [each["metrics"] for each in listed(recorded) if str(each["check"]) == check]
    metrics["all"]["de00_mean"] += 0.125
    metrics["greys"]["dch_max"] += 0.0625
    change_record(recorded, check, "metrics", metrics)
    shown = rescored(recorded, check, code=1)
    assert list(shown["differing"]) == ["all.de00_mean", "greys.dch_max"]
    assert shown["worst_difference"] == pytest.approx(0.125)
    assert (shown["identical"], shown["verdict"]) == (False, "fail")


def test_a_difference_of_rounding_is_told_and_fails_nothing(recorded: Room) -> None:
    check = number(recorded, "monday.txt")
    [metrics] = [each["metrics"] for each in listed(recorded) if str(each["check"]) == check]
    metrics["all"]["de00_mean"] += 1e-12
    change_record(recorded, check, "metrics", metrics)
    shown = rescored(recorded, check)
    assert (shown["identical"], list(shown["differing"])) == (False, ["all.de00_mean"])
    assert 0 < shown["worst_difference"] <= 1e-9


def test_another_verdict_fails_the_command(recorded: Room) -> None:
    check = number(recorded, "monday.txt")
    with closing(sqlite3.connect(recorded.store)) as connection, connection:
        connection.execute('UPDATE "check" SET verdict = ? WHERE seq = ?', ("pass", check))
    shown = rescored(recorded, check, code=1)
    assert (shown["recorded_verdict"], shown["verdict"], shown["differing"]) == ("pass", "fail", {})


def test_a_check_that_does_not_exist_is_refused(recorded: Room) -> None:
    assert "expected the number of a recorded check, got 999" in refused(recorded, "999")


@pytest.mark.parametrize("words", [(), ("--check",), ("--check", "monday"), ("--check", "1.5")])
def test_without_a_number_it_is_a_usage_error(room: Room, words: Sequence[str]) -> None:
    done = command(room, "rescore", *words)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("usage: sentinel rescore")


@pytest.mark.parametrize(("column", "what"), [("sha256", "monday.txt"), ("target_hash", "the target house")])
@pytest.mark.parametrize("damage", ["gone", "cut off", "one digit changed"])
def test_files_that_are_no_longer_in_the_archive_are_told_of(
    recorded: Room, column: str, what: str, damage: str
) -> None:
    """Bytes that do not have their hash are not those that were scored."""
    check = number(recorded, "monday.txt")
    path = archived(recorded, check, column)
    path.chmod(0o600)
    if damage == "gone":
        path.unlink()
    elif damage == "cut off":
        path.write_bytes(path.read_bytes()[:200])
    else:
        path.write_bytes(path.read_bytes().replace(b" -36.000 ", b" -35.000 ", 1))
    assert f"{what} in the archive as {path.name}" in refused(recorded, check)
