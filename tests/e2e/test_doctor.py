"""`doctor`: every trouble of a room with its remedy, nothing sent, nothing taken, nothing left behind."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sentinel.adapters.process import InstanceLock
from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.support.room import Room
from tests.support.servers import MailServer, Webhook, free_port

LATELY = datetime.now(UTC) - timedelta(minutes=10)


@pytest.fixture
def team(room: Room, webhook: Webhook, mail: MailServer) -> Room:
    """A room whose recipients can be reached, and that has worked once."""
    path = room.folder / "team.urls"
    path.write_text(f"{webhook.url()}\n{mail.url}\n")
    path.chmod(0o600)
    room.configure(extra='[recipients.team]\nurl_file = "team.urls"\n')
    assert sentinel("--config", room.config, "run", "--once").code == 0
    return room


def seen(room: Room) -> tuple[Done, dict[str, dict[str, Any]]]:
    """The command, and by area what is wrong, or what is said where nothing is."""
    done = sentinel("--config", room.config, "doctor", "--json")
    found: dict[str, dict[str, Any]] = {}
    for each in done.json()["symptoms"]:
        found.setdefault(each["area"], each)
    return done, found


def everything(room: Room) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in room.folder.rglob("*") if path.is_file()}


def test_a_room_that_works_is_fine_everywhere_but_that_nothing_runs(
    team: Room, webhook: Webhook, mail: MailServer
) -> None:
    team.put("north/satin-240/monday.txt", cgats.text(cgats.GOOD), at=LATELY)
    before = everything(team)
    done, found = seen(team)
    assert done.code == 0
    wrong = {area: each for area, each in found.items() if each["weight"] is not None}
    assert wrong.keys() <= {"service", "clock"}, "of the clock the machine of the tests may say that it follows nobody"
    assert found["service"]["said"] == "no service works on this store"
    assert found["files"]["said"] == "1 waits and can be scored"
    assert found["recipients"]["said"] == "2 servers answer for 1 recipient; nothing was sent"
    assert (webhook.posts, mail.mails) == ([], [])
    assert everything(team) == before, "nothing is taken, written or left"


def test_its_text_has_the_area_the_weight_and_the_remedy(team: Room) -> None:
    text = sentinel("--config", team.config, "doctor").out
    assert "settings    fine     4 printing conditions, 1 target\n" in text
    assert "service     warning  no service works on this store\n" in text
    assert "-> `systemctl enable --now sentinel`, or `sentinel run`\n" in text


def test_settings_are_judged_as_config_check_does(team: Room) -> None:
    team.drop.rmdir()
    (team.folder / "targets" / "house.txt").unlink()
    checked = sentinel("--config", team.config, "config", "check", "--json").json()["findings"]
    done = sentinel("--config", team.config, "doctor", "--json")
    told = [each for each in done.json()["symptoms"] if each["area"] == "settings"]
    assert [each["weight"] for each in told] == [each["weight"] for each in checked] == ["error", "error"]
    assert all(each["message"] in other["said"] for each, other in zip(checked, told, strict=True))
    assert done.code == 1


def test_settings_that_cannot_be_loaded_are_all_that_is_told(team: Room) -> None:
    team.config.write_text("[folders\n")
    done, found = seen(team)
    assert (done.code, list(found)) == (1, ["settings"])


def test_a_server_that_is_gone_is_told_with_what_to_look_at(team: Room, webhook: Webhook, mail: MailServer) -> None:
    (team.folder / "team.urls").write_text(f"json://127.0.0.1:{free_port()}/\n{mail.url}\n")
    done, found = seen(team)
    assert done.code == 1
    assert found["recipients"]["said"] == "team, URL 1: JSON: connection refused"
    assert "server and port" in found["recipients"]["remedy"]


def test_files_that_cannot_be_scored_are_told_with_their_reason_and_stay(team: Room) -> None:
    team.put("loose.txt", cgats.text(cgats.GOOD), at=LATELY)
    team.put("north/satin-24/typo.txt", cgats.text(cgats.GOOD), at=LATELY)
    done = sentinel("--config", team.config, "doctor", "--json")
    said = [each["said"] for each in done.json()["symptoms"] if each["area"] == "files"]
    assert done.code == 0, "the service is not in trouble"
    assert any(each.startswith("loose.txt: ") and "route-unknown" in each for each in said)
    assert any(each.startswith("typo.txt: ") and "substrate-unknown" in each for each in said)
    assert len(team.dropped()) == 2


def test_a_damaged_store_is_told_with_the_way_back(team: Room) -> None:
    with team.store.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xff" * 8192)
    done, found = seen(team)
    assert done.code == 1
    assert found["store"]["weight"] == "error"
    assert "`sentinel store restore`" in found["store"]["remedy"]


@pytest.mark.parametrize("broken", ["no store", "a folder"])
def test_a_store_that_cannot_be_opened_ends_no_look(team: Room, broken: str, tmp_path: Path) -> None:
    aim = tmp_path / "aim.txt"
    aim.write_text(cgats.text())
    assert sentinel("--config", team.config, "target", "add", "kept", aim, "--by", "Ana").code == 0
    team.configure(extra='[targets.kept]\ncolour_path = "ink-space"\n[recipients.team]\nurl_file = "team.urls"\n')
    team.store.unlink()
    if broken == "a folder":
        team.store.mkdir()
    else:
        team.store.write_text("no store\n")
    done, found = seen(team)
    assert (done.code, done.err) == (1, "")
    assert (found["store"]["weight"], "`sentinel store restore`" in found["store"]["remedy"]) == ("error", True)
    assert found["settings"]["weight"] == "error", "the kept target cannot be had"
    assert found["recipients"]["weight"] is None
    assert found["clock"]["weight"] != "error"


def test_a_store_that_is_lost_is_no_first_day(team: Room) -> None:
    team.store.unlink()
    done, found = seen(team)
    assert (done.code, found["store"]["weight"]) == (1, "error"), "as the service, which makes none in its place"
    assert "the archive notes one" in found["store"]["said"]


def test_a_clock_that_is_behind_the_records_is_told(team: Room) -> None:
    with sqlite3.connect(team.store) as connection:
        [[column]] = connection.execute("SELECT max(at) FROM moment")
        ahead = str(column).replace("2026", "2099", 1)
        connection.execute("UPDATE moment SET at = ?", [ahead])
    _, found = seen(team)
    assert (found["clock"]["weight"], "2099" in found["clock"]["said"]) == ("error", True)


def test_old_backups_are_told(team: Room) -> None:
    [backup] = (team.folder / "backups").glob("*.sqlite")
    backup.rename(backup.with_name("store-20200101T000000Z.sqlite"))
    _, found = seen(team)
    assert (found["backups"]["weight"], "2020-01-01" in found["backups"]["said"]) == ("warning", True)


def test_a_service_that_runs_and_does_nothing_is_told(team: Room) -> None:
    lock = InstanceLock(team.store)
    try:
        with sqlite3.connect(team.store) as connection:
            connection.execute("UPDATE moment SET at = replace(at, '2026', '2025')")
        done, found = seen(team)
    finally:
        lock.release()
    assert done.code == 1
    assert found["service"]["said"] == "intake: late"


def test_a_room_before_its_first_day_is_no_trouble(room: Room) -> None:
    done, found = seen(room)
    assert done.code == 0
    assert found["store"]["said"].startswith("none yet")
    assert not room.store.exists()
    assert not room.archive.exists()
