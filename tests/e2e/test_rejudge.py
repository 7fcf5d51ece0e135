"""`rejudge` as an admin runs it: on a real store, with an edited copy of the settings."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.support.room import Room

NOW = datetime.now(UTC)
TIGHT = "\n[limits.house]\nall.de00_mean = { warn = 0.5, act = 1.5 }\nall.spread_max = { warn = 1.0, act = 2.0 }\n"


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """A room with three checks of one condition and a failure of another."""
    room = Room(tmp_path_factory.mktemp("worked") / "room")
    for age, shift in ((12, 0.3), (3, 2.0), (1, 0.4)):
        room.put(f"north/satin-240/{age}.txt", cgats.text(shift), at=NOW - timedelta(days=age))
    room.put("north/matte-190/b.txt", cgats.text(cgats.FAILING), at=NOW - timedelta(days=2))
    done = sentinel("--config", room.config, "run", "--once")
    assert done.code == 0, done.err
    return room


def trial(room: Room, extra: str, name: str = "trial.toml", *words: str) -> Done:
    path = room.folder / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(room.config.read_text() + extra)
    return sentinel("--config", room.config, "rejudge", "--new", path, *words)


def test_the_same_settings_change_nothing(worked: Room) -> None:
    done = sentinel("--config", worked.config, "rejudge", "--new", worked.config, "--json")
    shown = done.json()
    assert (done.code, shown["schema"], shown["history"]["checks"]) == (0, "sentinel.rejudge/1", 4)
    assert shown["history"]["recorded_otherwise"] == 0
    assert [shown[part]["changed"] for part in ("verdicts", "alarms", "due")] == [[], [], []]
    assert shown["unknown"] == shown["one_sided"] == []


def test_tighter_limits_show_the_verdicts_and_alarms_they_would_have_brought(worked: Room) -> None:
    shown = trial(worked, TIGHT, "trial.toml", "--json").json()
    changed = {
        each["check"]: (each["running"]["verdict"], each["edited"]["verdict"]) for each in shown["verdicts"]["changed"]
    }
    checks = {each["file"]: each["check"] for each in sentinel("--config", worked.config, "checks", "--json").lines()}
    assert changed == {checks["3.txt"]: ("pass", "fail")}
    assert [(each["kind"], each["running"]) for each in shown["alarms"]["changed"]] == [
        ("recovered", None),
        ("check-failed", None),
    ]
    assert shown["unknown"] == [{"group": "all", "metric": "spread_max", "checks": 4}]


def test_a_shorter_age_moves_todays_due_dates(worked: Room) -> None:
    shown = trial(worked, "\n[due]\nmax_age_days = 0.5\n", "trial.toml", "--json").json()
    changed = {
        each["condition"]: (each["running"]["state"], each["edited"]["state"]) for each in shown["due"]["changed"]
    }
    assert changed == {"north/satin-240": ("current", "due")}
    assert shown["due"]["at_once"] == ["north/satin-240"]


def test_since_leaves_older_checks_out(worked: Room) -> None:
    day = (NOW - timedelta(days=2, hours=12)).isoformat()
    shown = trial(worked, TIGHT, "trial.toml", "--since", day, "--json").json()
    assert (shown["history"]["checks"], shown["verdicts"]["changed"]) == (2, [])
    assert [each["kind"] for each in shown["alarms"]["changed"]] == ["recovered"]


def test_a_copy_in_another_folder_still_means_the_same_targets(worked: Room) -> None:
    shown = trial(worked, "", "elsewhere/trial.toml", "--json").json()
    assert shown["due"]["changed"] == []
    assert not any("target house" in note for note in shown["not_replayed"])


def test_the_text_is_at_most_a_hundred_columns_and_begins_with_what_it_stands_on(worked: Room) -> None:
    done = trial(worked, TIGHT + "[due]\nmax_age_days = 0.5\n")
    lines = done.out.splitlines()
    del lines[: lines.index("") + 1]  # they name files, which are as long as they are
    assert lines[0].startswith("This stands on 4 recorded checks, of 2 printing conditions")
    assert "Verdicts that differ" in lines
    assert max(map(len, lines)) <= 100


def test_nothing_is_written(worked: Room) -> None:
    before = {path: path.read_bytes() for path in (worked.store, worked.config)}
    trial(worked, TIGHT)
    assert {path: path.read_bytes() for path in before} == before


def test_without_a_store_there_is_nothing_to_try_and_none_is_made(tmp_path: Path) -> None:
    room = Room(tmp_path / "room")
    done = trial(room, TIGHT)
    assert done.code == 0
    assert "No check is on record" in done.out
    assert not room.store.exists()


@pytest.mark.parametrize(
    ("extra", "words", "expected"),
    [
        ("\n[limits.house]\nall.de00_mean = { warn = 3.0, act = 2.0 }\n", (), "limits.house.all.de00_mean"),
        ("", ("--since", "yesterday"), "expected a time such as"),
    ],
)
def test_faulty_edits_and_dates_are_refused_with_their_place(
    worked: Room, extra: str, words: tuple[str, ...], expected: str
) -> None:
    done = trial(worked, extra, "faulty.toml", *words)
    assert (done.code, done.out) == (2, "")
    assert expected in done.err


def test_missing_edited_settings_are_refused(worked: Room) -> None:
    done = sentinel("--config", worked.config, "rejudge", "--new", worked.folder / "none.toml")
    assert done.code == 2
    assert "none.toml: expected a readable file" in done.err
