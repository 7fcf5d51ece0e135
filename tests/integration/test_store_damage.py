"""Damaged, lost and swapped stores: told, never replaced by an empty one, copied in time, and restored whole."""

from __future__ import annotations

import json
import os
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.notes import NoteFile
from sentinel.adapters.process import InstanceLock
from sentinel.adapters.store.backups import Backups, damage, tidied
from sentinel.adapters.store.store import Store
from sentinel.core.conditions.events import Event, EventKind
from sentinel.errors import BackupError, StoreDamagedError
from sentinel.service.storekeeping import KeepingRules, StoreKeeping
from tests.support import cgats
from tests.support.amount import amount
from tests.support.command import Done, sentinel
from tests.support.room import SITE, Room, Staff, new_store, rows
from tests.support.servers import Webhook

SATIN = "north/satin-240"
LATELY = timedelta(minutes=10)


@pytest.fixture
def server() -> Iterator[Webhook]:
    own = Webhook()
    yield own
    own.stop()


class Desk:
    """A room whose service goes round when told; everything that reaches the team is kept by the server."""

    def __init__(self, room: Room, server: Webhook) -> None:
        self.room, self.server = room, server
        room.configure(extra='[recipients.team]\nurl_env = "TEAM_URL"\n')
        room.store.write_bytes(new_store())

    def does(self, *words: str | Path) -> Done:
        return sentinel("--config", self.room.config, *words, TEAM_URL=self.server.url())

    def goes_round(self) -> tuple[int, list[str]]:
        """How the round ended, and the titles of what the team was told in it."""
        before = len(self.server.posts)
        code = self.does("run", "--once").code
        return code, [str(post["title"]) for post in self.server.posts[before:]]

    def takes(self, place: str, content: str) -> tuple[int, list[str]]:
        self.room.put(place, content, at=datetime.now(UTC) - LATELY)
        return self.goes_round()


@pytest.fixture
def desk(room: Room, server: Webhook) -> Desk:
    return Desk(room, server)


def backups(room: Room) -> Backups:
    return Backups(room.store, room.folder / "backups", 7, 4)


def flip(path: Path, query: str = "SELECT rootpage FROM sqlite_schema WHERE name = 'check'") -> None:
    """Other bytes in the middle of the first page of a table."""
    [(page,)] = rows(path, query)
    [(size,)] = rows(path, "PRAGMA page_size")
    with path.open("r+b") as file:
        file.seek((int(str(page)) - 1) * int(str(size)))
        file.write(b"\xaa" * 64)


# --- a service that finds it so ---------------------------------------------------------------------------------------


def truncate(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size // 2 + 17)


def zero_header(path: Path) -> None:
    with path.open("r+b") as file:
        file.write(b"\0" * 100)


UNREADABLE: dict[str, Callable[[Path], object]] = {
    "truncated": truncate,
    "zeroed header": zero_header,
    "other bytes": lambda path: path.write_bytes(os.urandom(8192)),
}


def made_anew(path: Path) -> None:
    path.unlink()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("VACUUM")


GONE: dict[str, Callable[[Path], object]] = {
    "missing": Path.unlink,
    "empty": lambda path: path.write_bytes(b""),
    "made anew by something else": made_anew,
}


@pytest.mark.parametrize("spoil", UNREADABLE.values(), ids=UNREADABLE)
def test_an_unreadable_store_is_told_once_and_nothing_is_lost(desk: Desk, spoil: Callable[[Path], object]) -> None:
    assert desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD)) == (0, [])
    spoil(desk.room.store)
    assert desk.takes(f"{SATIN}/b.txt", cgats.text(cgats.FAILING)) == (5, ["Sentinel in trouble: the store is damaged"])
    assert desk.goes_round() == (5, [])
    assert desk.room.dropped() == [f"{SATIN}/b.txt"]


@pytest.mark.parametrize("spoil", GONE.values(), ids=GONE)
def test_no_empty_store_takes_the_place_of_a_lost_one(desk: Desk, spoil: Callable[[Path], object]) -> None:
    assert desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD)) == (0, [])
    spoil(desk.room.store)
    assert desk.takes(f"{SATIN}/b.txt", cgats.text(cgats.GOOD)) == (5, ["Sentinel in trouble: the store is missing"])
    assert "sentinel store begin" in str(desk.server.posts[-1]["message"])
    assert not desk.room.store.exists() or rows(desk.room.store, "SELECT * FROM sqlite_schema") == []
    target = str(desk.room.folder / "targets" / "house.txt")
    added = desk.does("target", "add", "house", target, "--by", "somebody")
    assert (added.code, "got none, though" in added.err) == (5, True)
    assert desk.goes_round() == (5, [])


def test_every_sign_alone_keeps_an_empty_store_away(desk: Desk) -> None:
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    room = desk.room
    for path in room.folder.glob("store.sqlite*"):
        path.unlink()
    signs = {"archive/stores.json": "notes one", "backups": "backups of one", "archive": "archive has files"}
    for place, said in signs.items():
        assert said in desk.does("run", "--once").err
        (room.folder / place).rename(room.folder / place.replace("/", "-").replace("a", "x", 1))
    (room.folder / "store.sqlite.reserve").touch()
    assert "its reserve is there" in desk.does("run", "--once").err
    (room.folder / "store.sqlite.reserve").unlink()
    assert desk.goes_round() == (0, [])


def test_the_store_of_another_site_or_of_another_archive_is_not_taken_for_ours(desk: Desk) -> None:
    room = desk.room
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    room.config.write_text(room.config.read_text().replace('name = "hall"', 'name = "annex"'))
    assert desk.goes_round() == (5, ["Sentinel in trouble: the store is missing"])
    room.config.write_text(room.config.read_text().replace('name = "annex"', 'name = "hall"'))
    with closing(sqlite3.connect(room.store)) as connection:
        connection.execute("PRAGMA user_version = 4711")
    done = desk.does("run", "--once")
    assert (done.code, "belongs to the archive" in done.err) == (5, True)


def test_a_first_start_and_a_first_target_ask_for_nothing(desk: Desk) -> None:
    desk.room.store.unlink()
    target = desk.room.folder / "targets" / "house.txt"
    assert desk.does("target", "add", "house", target, "--by", "somebody").code == 0
    assert desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD)) == (0, [])
    noted = json.loads((desk.room.archive / "stores.json").read_text())
    assert [(noted["hall"],)] == rows(desk.room.store, "PRAGMA user_version")


def test_damage_inside_is_told_and_the_good_backups_stay(desk: Desk) -> None:
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    [before] = backups(desk.room).listed()
    flip(desk.room.store, "SELECT rootpage FROM sqlite_schema WHERE name = 'outlook'")
    code, told = desk.goes_round()
    assert told == ["Sentinel in trouble: the store is damaged"]
    assert backups(desk.room).listed() == [before]
    assert code == 5


# --- copies -----------------------------------------------------------------------------------------------------------


class Keeper:
    """What looks after a staff's store, under the clock of the tests."""

    def __init__(self, staff: Staff, every: timedelta | None = timedelta(days=1)) -> None:
        self.staff, self.room = staff, staff.room
        self.copies = backups(staff.room)
        self.archive = Archive(staff.room.archive)
        self.note = NoteFile(staff.room.folder / "kept.json")
        self.keeping = StoreKeeping(
            self.copies,
            self.archive,
            staff.store,
            self.note,
            staff.clock,
            KeepingRules(every, "backups", "archive", staff.snapshot.loaded.settings.site.zone),
            lambda now: tidied(self.archive.temporaries(), now),
        )

    def troubles(self) -> list[tuple[str, str]]:
        return [(each.trouble.value, each.detail) for each in self.keeping.troubles()]


def test_copies_are_made_and_let_go_by_days_and_weeks(staff: Staff) -> None:
    keeper = Keeper(staff)
    for _ in range(amount(40, long=400)):
        keeper.keeping.step()
        staff.clock.advance(days=1)
    kept = [each.at.date() for each in keeper.copies.listed()]
    last = kept[0]
    assert kept[:7] == [last - timedelta(days=number) for number in range(7)]
    assert {each.isocalendar()[:2] for each in kept} >= {
        (last - timedelta(weeks=number)).isocalendar()[:2] for number in range(4)
    }
    assert len(kept) <= 7 + 4
    assert all(damage(each.path, whole=True) is None for each in keeper.copies.listed())
    assert keeper.troubles() == []


def test_what_people_told_by_commands_brings_a_copy_within_the_hour(staff: Staff) -> None:
    keeper = Keeper(staff)
    keeper.keeping.step()
    staff.clock.advance(1800)
    staff.take(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    with staff.store.transaction() as session:
        session.events.add(Event(EventKind.HEADS, staff.clock.now(), "north"), None, staff.clock.now())
    keeper.keeping.step()
    assert len(keeper.copies.listed()) == 1
    staff.clock.advance(1800)
    keeper.keeping.step()
    keeper.keeping.step()
    [newest, *_] = keeper.copies.listed()
    assert rows(newest.path, "SELECT count(*) FROM event") == [(1,)]
    staff.clock.advance(7200)
    keeper.keeping.step()
    assert keeper.copies.listed()[0] == newest


def test_a_copy_is_whole_though_others_write_meanwhile(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(4):
        staff.take(f"{SATIN}/{number}.txt", cgats.text(cgats.GOOD) + f"# {number}\n")
    monkeypatch.setattr("sentinel.adapters.store.backups.STEP_PAGES", 3)
    written = 0

    def writes() -> bool:
        nonlocal written
        if written < 50:
            written += 1
            with staff.store.transaction() as session:
                session.service.note_moments({f"part {written}": staff.clock.now()})
        return False

    copies = backups(staff.room)
    copies.make(staff.clock.now(), stopping=writes)
    [copy] = copies.listed()
    assert damage(copy.path, whole=True) is None
    assert rows(copy.path, 'SELECT count(*) FROM "check"') == [(4,)]
    assert written > 3


def test_a_copy_that_cannot_be_made_is_told_tried_again_and_leaves_nothing(
    staff: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper = Keeper(staff)
    (staff.room.folder / "backups").touch()  # a file where the folder should be
    keeper.keeping.step()
    [(trouble, said)] = keeper.troubles()
    assert (trouble, bool(said)) == ("backup-fails", True)
    (staff.room.folder / "backups").unlink()
    keeper.keeping.step()
    assert keeper.troubles() != []  # too soon
    staff.clock.advance(3600)
    with monkeypatch.context() as patch:
        patch.setattr("shutil.disk_usage", lambda _: os.statvfs_result((0,) * 10) and type("Disk", (), {"free": 1}))
        keeper.keeping.step()
    assert "MB of room" in keeper.troubles()[0][1]
    staff.clock.advance(3600)
    keeper.keeping.step()
    assert keeper.troubles() == []
    assert len(list((staff.room.folder / "backups").iterdir())) == 1


def test_a_stopped_service_breaks_a_copy_off(staff: Staff) -> None:
    copies = backups(staff.room)
    with pytest.raises(BackupError, match="the service ends"):
        copies.make(staff.clock.now(), stopping=lambda: True)
    assert list(copies.folder.iterdir()) == []


def test_a_damaged_store_gives_no_copy(staff: Staff) -> None:
    flip(staff.room.store)
    copies = backups(staff.room)
    with pytest.raises(StoreDamagedError):
        copies.make(staff.clock.now())
    assert copies.listed() == []


def test_a_week_brings_a_thorough_check_at_a_quiet_hour(staff: Staff) -> None:
    """An index that lacks a row is found by that alone."""
    keeper = Keeper(staff)
    keeper.keeping.step()
    staff.take(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    with closing(sqlite3.connect(staff.room.store)) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute("UPDATE sqlite_schema SET sql = sql || ' WHERE seq < 0' WHERE name = 'check_by_rules'")
        connection.commit()
    assert damage(staff.room.store, whole=True) is not None or damage(staff.room.store) is None
    staff.clock.advance(days=6, seconds=15 * 3600)
    keeper.keeping.step()
    checked = keeper.note.read()["checked_at"]
    staff.clock.advance(days=1, seconds=0)
    assert keeper.note.read()["checked_at"] == checked
    keeper.keeping.step()


def test_without_copies_the_store_itself_is_checked(staff: Staff) -> None:
    keeper = Keeper(staff, every=None)
    keeper.keeping.step()
    assert (keeper.copies.listed(), keeper.troubles()) == ([], [])
    flip(staff.room.store)
    staff.clock.advance(days=9)
    keeper.keeping.step()
    assert [trouble for trouble, _ in keeper.troubles()] == ["store-damaged"]


# --- the archive ------------------------------------------------------------------------------------------------------


def test_the_archive_is_read_through_in_slices_every_month(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sentinel.service.storekeeping.SLICE_BYTES", 1)
    for number in range(3):
        staff.take(f"{SATIN}/{number}.txt", cgats.text(cgats.GOOD) + f"# {number}\n")
    bad, gone = (check.sha256 for check in staff.room.checks()[:2])
    (staff.room.archive / bad[:2] / bad).write_text("other bytes")
    (staff.room.archive / gone[:2] / gone).unlink()
    keeper = Keeper(staff)
    steps = 1
    while keeper.keeping.step() < 60:
        steps += 1
    assert steps >= 3
    [(trouble, said)] = keeper.troubles()
    assert (trouble, said) == ("archive-damaged", f"2 files, of check {staff.room.checks()[0].seq}, check "
                               f"{staff.room.checks()[1].seq}")  # fmt: skip
    for number in range(3):  # dropped again
        staff.take(f"{SATIN}/{number}.txt", cgats.text(cgats.GOOD) + f"# {number}\n")
    staff.clock.advance(days=29)
    keeper.keeping.step()
    assert keeper.troubles() != []
    staff.clock.advance(days=2)
    while keeper.keeping.step() < 60:
        pass
    assert keeper.troubles() == []


def test_an_archive_that_is_not_mounted_is_no_damage(staff: Staff) -> None:
    staff.take(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    staff.room.archive.rename(staff.room.folder / "elsewhere")
    staff.room.archive.mkdir()
    keeper = Keeper(staff)
    assert keeper.keeping.step() == 60
    assert keeper.troubles() == []


def test_what_broken_off_writing_left_is_removed_after_a_day(staff: Staff) -> None:
    staff.take(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    old, young = staff.room.archive / "00" / ".abc.tmp", staff.room.archive / ".def.tmp"
    old.parent.mkdir(exist_ok=True)
    old.touch()
    young.touch()
    os.utime(old, (0, (staff.clock.now() - timedelta(days=2)).timestamp()))
    os.utime(young, (0, staff.clock.now().timestamp()))
    Keeper(staff).keeping.step()
    assert (old.exists(), young.exists()) == (False, True)


def test_verify_tells_what_is_wrong_and_of_which_checks(desk: Desk) -> None:
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    found = desk.does("store", "verify", "--json").json()
    assert (found["sound"], found["files"], found["damaged"], found["missing"]) == (True, 2, {}, {})
    assert found["backup_at"] is not None
    [check] = desk.room.checks()
    (desk.room.archive / check.sha256[:2] / check.sha256).write_text("other bytes")
    done = desk.does("store", "verify")
    assert (done.code, f"damaged: {check.sha256}: check {check.seq}" in done.out) == (1, True)


def test_notes_of_what_came_outlive_a_torn_line(staff: Staff) -> None:
    staff.take(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    [notes] = (staff.room.archive / "came").iterdir()
    notes.write_bytes(notes.read_bytes() + b'{"at": "2026-')
    staff.restart()
    staff.take(f"{SATIN}/b.txt", cgats.text(cgats.FAILING))
    assert [came.name for came in Archive(staff.room.archive).came()] == ["a.txt", "b.txt"]


# --- restored ---------------------------------------------------------------------------------------------------------


def make_backup(room: Room, at: datetime | None = None) -> None:
    backups(room).make(at or datetime.now(UTC) - timedelta(seconds=1))


def records(room: Room) -> list[tuple[object, ...]]:
    return sorted(rows(room.store, 'SELECT sha256, table_no, condition, file_name, verdict, metrics FROM "check"'))


EVENTS = '{"kind": "heads", "printer": "north", "at": "2026-07-01T08:00:00Z", "by": "press desk"}\n'


def test_a_damaged_store_is_restored_whole_and_nothing_is_told_twice(desk: Desk) -> None:
    room = desk.room
    room.config.write_text(room.config.read_text().replace("[folders]", '[folders]\nevents = "happened"'))
    (room.folder / "happened").mkdir()
    assert desk.takes(f"{SATIN}/before.txt", cgats.text(cgats.GOOD)) == (0, [])
    make_backup(room)
    room.put(f"{SATIN}/scribble.txt", "scribble END_DATA", at=datetime.now(UTC) - LATELY)
    happened = room.folder / "happened" / "event.jsonl"
    happened.write_text(EVENTS)
    os.utime(happened, (0, (datetime.now(UTC) - LATELY).timestamp()))
    code, told = desk.takes("south/satin-240/after.txt", cgats.text(cgats.FAILING))
    assert (code, len(told)) == (0, 2)
    whole, events = records(room), rows(room.store, "SELECT kind, at, source FROM event")
    assert (len(whole), len(events)) == (2, 1)
    zero_header(room.store)
    assert desk.goes_round()[0] == 5

    done = desk.does("store", "restore")
    assert done.code == 0, done.err
    assert re.search("read again from the archive: [34] files that came since", done.out)
    [kept] = room.folder.glob("store.sqlite.before-*")
    assert kept.read_bytes()[:100] == b"\0" * 100
    assert records(room) == whole
    assert rows(room.store, "SELECT kind, at, source FROM event") == events
    assert rows(room.store, "PRAGMA integrity_check") == [("ok",)]

    code, told = desk.goes_round()
    assert (code, len(told)) == (0, 1)
    message = str(desk.server.posts[-1]["message"])
    assert "The store was restored from its backup of" in message
    assert "Check failed: south / satin-240" in message
    assert "File not scored: scribble.txt" in message
    assert desk.goes_round() == (0, [])
    assert room.dropped() == []
    assert {case.split(":")[0] for case in room.open_cases()} >= {"south/satin-240"}


def test_notices_that_waited_in_the_backup_are_not_sent_again(desk: Desk) -> None:
    room = desk.room
    desk.server.status = 500
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.FAILING))
    make_backup(room)
    desk.server.status = 200
    desk.does("notify", "retry")
    with closing(sqlite3.connect(room.store)) as connection:
        connection.execute("UPDATE outbox SET next_try_at = created_at")
        connection.commit()
    assert len(desk.goes_round()[1]) == 1
    room.store.unlink()
    assert desk.does("store", "restore").code == 0
    code, told = desk.goes_round()
    assert (code, len(told)) == (0, 1)
    assert not told[0].startswith("URGENT - Check failed")
    assert desk.goes_round() == (0, [])


def test_without_anything_that_waits_the_restoring_alone_is_told(desk: Desk) -> None:
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    desk.room.store.unlink()
    assert desk.does("store", "restore").code == 0
    assert len(desk.goes_round()[1]) == 1
    assert desk.goes_round() == (0, [])


def test_the_newest_good_backup_is_taken_or_the_named_one(desk: Desk) -> None:
    room = desk.room
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    make_backup(room, datetime.now(UTC) - timedelta(days=3))
    make_backup(room, datetime.now(UTC) + timedelta(days=1))
    newest, good, named = backups(room).listed()
    truncate(newest.path)
    assert len(desk.does("store", "restore", "--list").out.splitlines()) == 3
    assert str(good.path) in desk.does("store", "restore").out
    assert str(named.path) in desk.does("store", "restore", "--from", named.path.name).out
    for each in (good, named):
        truncate(each.path)
    done = desk.does("store", "restore")
    assert (done.code, "expected a good backup" in done.err) == (5, True)
    assert records(room) != []


def test_a_running_service_is_in_the_way(desk: Desk) -> None:
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    before = desk.room.store.read_bytes()
    lock = InstanceLock(desk.room.store)
    for words in (("restore",), ("begin",)):
        done = desk.does("store", *words)
        assert done.code in (4, 5)
    lock.release()
    assert desk.room.store.read_bytes() == before


def test_restoring_that_was_broken_off_is_done_again(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    room = desk.room
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    whole = records(room)
    zero_header(room.store)
    real = Path.rename

    def cut(self: Path, to: Path) -> Path:
        if self.name.endswith(".restoring"):
            raise KeyboardInterrupt
        return real(self, to)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "rename", cut)
        assert desk.does("store", "restore").code == 130
    assert desk.goes_round()[0] == 5
    assert desk.does("store", "restore").code == 0
    assert records(room) == whole
    assert len(list(room.folder.glob("store.sqlite.before-*"))) == 1


def test_a_journal_of_the_damaged_store_is_not_played_into_the_restored_one(desk: Desk) -> None:
    room = desk.room
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    for ending in ("-journal", "-wal"):
        (room.folder / f"store.sqlite{ending}").write_bytes(os.urandom(4096))
    zero_header(room.store)
    assert desk.does("store", "restore").code == 0
    assert rows(room.store, "PRAGMA integrity_check") == [("ok",)]
    assert not (room.folder / "store.sqlite-wal").exists()


def test_a_store_is_begun_anew_on_purpose_and_can_read_everything_again(desk: Desk) -> None:
    room = desk.room
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    whole = records(room)
    refused = desk.does("store", "begin")
    assert (refused.code, "got one of this site" in refused.err) == (5, True)
    room.store.unlink()
    assert desk.does("store", "begin", "--read-again").code == 0
    assert records(room) == whole
    room.store.unlink()
    assert desk.does("store", "begin").code == 0
    assert records(room) == []
    assert desk.goes_round()[0] == 0


def came_an_hour_earlier(room: Room) -> None:
    """The notes of what came say so."""
    for path in (room.archive / "came").glob("*.jsonl"):
        notes = [json.loads(line) for line in path.read_bytes().splitlines() if line]
        for note in notes:
            note["at"] = (datetime.fromisoformat(note["at"]) - timedelta(hours=1)).isoformat()
        path.write_text("".join(json.dumps(note) + "\n" for note in notes))


@pytest.mark.parametrize("moved", [came_an_hour_earlier, lambda room: None], ids=["before the backup", "as it came"])
def test_a_lost_write_ahead_log_leaves_files_that_restoring_reads_again(
    desk: Desk, moved: Callable[[Room], None]
) -> None:
    """The store is as it was some files ago, and sound: the notes of what came know better, also of the same bytes."""
    room = desk.room
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    older = room.store.read_bytes()
    desk.takes("south/satin-240/b.txt", cgats.text(cgats.GOOD))
    whole = records(room)
    moved(room)
    room.store.write_bytes(older)
    Store(room.store, SITE).close()
    make_backup(room)
    assert desk.does("store", "restore").code == 0
    assert records(room) == whole


def test_restoring_leaves_a_voided_check_voided(desk: Desk) -> None:
    """The same bytes came from two places, and the check of one was taken back: reading both again sends neither."""
    room = desk.room
    desk.takes(f"{SATIN}/a.txt", cgats.text(cgats.GOOD))
    desk.takes("south/satin-240/b.txt", cgats.text(cgats.GOOD))
    [_, (last,)] = rows(room.store, 'SELECT seq FROM "check" ORDER BY seq')
    assert desk.does("check", "void", str(last), "--by", "Ana", "--why", "misread").code == 0
    entries = rows(room.store, "SELECT kind, check_seq FROM check_counter_entry")
    assert ("voided", last) in entries
    came_an_hour_earlier(room)
    make_backup(room, datetime.now(UTC))
    assert desk.does("store", "restore").code == 0
    assert rows(room.store, "SELECT kind, check_seq FROM check_counter_entry") == entries
