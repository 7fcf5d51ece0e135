"""Old files of archive and put-aside folder are let go where the settings say so, and nothing that is needed."""

from __future__ import annotations

import os
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from sentinel.adapters.files import archive as archives
from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.handles import hash_of
from sentinel.adapters.files.notes import NoteFile
from sentinel.adapters.files.put_aside import PutAside
from sentinel.adapters.store.backups import Backups
from sentinel.application.rescoring import rescore, under_present_rules
from sentinel.core.dropped_file import LetGoError
from sentinel.core.verdict import Verdict
from sentinel.service import shedding
from sentinel.service.shedding import Shedding
from sentinel.service.storekeeping import KeepingRules, StoreKeeping
from tests.support import cgats
from tests.support.cgats import GOOD
from tests.support.command import sentinel
from tests.support.room import Room, Staff

SATIN = "north/satin-240"
RECENT = "[drift]\nmost_readings = 5\n"


class Keeper:
    """What looks after store, archive and put-aside folder of a staff."""

    def __init__(self, staff: Staff, *, copies: bool = True) -> None:
        self.staff, self.room, self.copies_made = staff, staff.room, copies
        self.archive = Archive(staff.room.archive)
        self.note = NoteFile(staff.room.folder / "kept.json")
        settings = staff.snapshot.loaded.settings
        self.oldest: datetime | None = staff.clock.now() if copies else None
        shed = Shedding(
            self.archive,
            PutAside(settings.folders.put_aside, settings.folders.drop),
            staff.store,
            lambda: staff.clock.now() if copies else None,
            set,
            staff.snapshot.shedding,
        )
        self.keeping = StoreKeeping(
            Backups(staff.room.store, staff.room.folder / "backups", 7, 4),
            self.archive,
            staff.store,
            self.note,
            staff.clock,
            KeepingRules(None, "backups", "archive", settings.site.zone),
            shedding=shed,
        )

    def keep(self) -> None:
        while self.keeping.step() < 60:
            pass


def years_of_work(room: Room, *settings: tuple[str, str]) -> Staff:
    """Seven old sheets of one condition, one refused then, and a sheet of another condition every month since."""
    months = ('put_aside = "aside"', 'put_aside = "aside"\narchive_months = 12\nput_aside_months = 12')
    room.configure(months, *settings, extra=RECENT)
    staff = Staff(room)
    take(staff, f"{SATIN}/scribble.txt", "scribble END_DATA")
    for number in range(7):
        take(staff, f"{SATIN}/{number}.txt", cgats.text(GOOD) + f"# {number}\n")
    for number in range(26):
        staff.clock.advance(days=30)
        take(staff, f"south/satin-240/{number}.txt", cgats.text(GOOD) + f"# south {number}\n")
    staff.outbox()
    return staff


def take(staff: Staff, place: str, content: str) -> None:
    """A file that comes now, and has its times in archive and put-aside folder."""
    before = set(staff.room.archive.glob("??/*")) | set(staff.room.aside.glob("*"))
    assert staff.take(place, content) == 1
    now = staff.clock.now().timestamp()
    for path in {*staff.room.archive.glob("??/*"), *staff.room.aside.glob("*")} - before:
        os.utime(path, (now, now))
    staff.clock.advance(60)


def there(staff: Staff) -> list[bool]:
    """Whether each of the old sheets of the first condition has its bytes."""
    names = [check.sha256 for check in staff.room.checks() if check.condition == SATIN]
    return [(staff.room.archive / name[:2] / name).exists() for name in names]


def test_old_files_go_and_what_is_needed_stays(room: Room) -> None:
    staff = years_of_work(room)
    keeper, before = Keeper(staff), len(room.archived())
    keeper.keep()
    assert there(staff) == [False, False] + [True] * 5  # charts stand on the newest five
    south = [check.sha256 for check in room.checks() if check.condition.startswith("south")]
    gone = [name for name in south if not (room.archive / name[:2] / name).exists()]
    assert gone == south[: len(gone)]
    assert 12 <= len(gone) <= 14
    target = room.checks()[0].target_hash
    assert (room.archive / target[:2] / target).exists()
    scribble = staff.rows("SELECT sha256 FROM unscored_file")[0][0]
    assert Archive(room.archive).size(str(scribble)) is not None  # it may yet be scored
    assert room.put_aside() == []
    assert len(room.archived()) == before - len(gone) - 2
    assert keeper.note.read()["let_go"] == len(gone) + 2


def test_without_the_settings_without_a_copy_and_under_a_doubtful_clock_everything_stays(room: Room) -> None:
    staff = years_of_work(room)
    Keeper(staff, copies=False).keep()
    assert all(there(staff))
    staff.clock.advance(days=3650)
    Keeper(staff).keep()
    assert all(there(staff))
    assert Room.snapshot(room).shedding.any
    room.configure()
    staff.restart()
    assert not staff.snapshot.shedding.any


def test_what_was_let_go_is_told_as_that_and_not_as_lost(room: Room) -> None:
    staff = years_of_work(room)
    keeper = Keeper(staff)
    keeper.keep()
    first, *_ = (check for check in room.checks() if check.condition == SATIN)
    with pytest.raises(LetGoError, match="removed on 2028-04-20 for its age"):
        keeper.archive.fetch(first.sha256)
    staff.clock.advance(days=31)
    keeper.keep()
    assert list(keeper.keeping.troubles()) == []
    found = rescore(room.records, keeper.archive, first.seq)
    assert (found.same, found.now, found.figures) == (True, first.verdict, first.metrics)
    again = under_present_rules(keeper.archive, first, staff.clock.now())
    assert (again.verdict, again.metrics) == (Verdict.PASS, first.metrics)
    assert "figures on record stand" in str(again.reasons[0].message)
    told = sentinel("--config", room.config, "rescore", "--check", str(first.seq))
    assert (told.code, "removed on 2028-04-20 for its age" in told.out) == (0, True)
    refused = sentinel("--config", room.config, "curves", str(first.seq))
    assert (refused.code, "removed on 2028-04-20 for its age" in refused.err) == (2, True)
    verified = sentinel("--config", room.config, "store", "verify", "--json").json()
    assert (verified["sound"], verified["missing"]) == (True, {})
    assert verified["let_go"] == len(keeper.archive.gone()) > 2


def test_a_file_that_comes_again_is_kept_again_and_missed_when_it_is_gone(room: Room) -> None:
    staff = years_of_work(room)
    keeper = Keeper(staff)
    keeper.keep()
    staff.clock.advance(days=1)
    take(staff, f"{SATIN}/0.txt", cgats.text(GOOD) + "# 0\n")
    assert there(staff)[:2] == [True, False]
    name = room.checks()[0].sha256
    assert name not in keeper.archive.gone()
    (room.archive / name[:2] / name).unlink()
    staff.clock.advance(days=31)
    keeper.keep()
    assert [each.trouble.value for each in keeper.keeping.troubles()] == ["archive-damaged"]


@pytest.mark.parametrize("moment", ["looked at", "taken away"])
def test_one_that_is_kept_again_at_that_very_moment_stays(
    room: Room, monkeypatch: pytest.MonkeyPatch, moment: str
) -> None:
    own, now = Archive(room.archive), datetime.now().astimezone()
    name = own.keep(b"sheet")
    old = (now - timedelta(days=900)).timestamp()
    path = room.archive / name[:2] / name
    os.utime(path, (old, old))
    real = archives._removed

    def kept_first(folder: int, each: str, young: float) -> bool:
        Archive(room.archive).keep(b"sheet")
        return real(folder, each, young)

    if moment == "taken away":
        monkeypatch.setattr(archives, "_removed", kept_first)
    else:
        Archive(room.archive).keep(b"sheet")
    assert own.let_go([name], now - timedelta(days=700), now) == 0
    assert own.fetch(name) == b"sheet"
    assert [each.name for each in path.parent.iterdir()] == [name]


def test_one_that_is_let_go_while_it_is_kept_is_written_anew(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    own, now = Archive(room.archive), datetime.now().astimezone()
    name = own.keep(b"sheet")
    path = room.archive / name[:2] / name
    real = hash_of

    def removed_behind(file: object) -> str:
        found = real(file)  # type: ignore[arg-type]
        if path.exists():
            path.unlink()
        return found

    monkeypatch.setattr("sentinel.adapters.files.handles.hash_of", removed_behind)
    monkeypatch.setattr("sentinel.adapters.files.handles._drop_cache", lambda _: None)
    assert own.keep(b"sheet") == name
    monkeypatch.undo()
    assert own.fetch(name) == b"sheet"
    assert own.gone() == {}
    assert now is not None


def test_a_run_through_many_is_made_in_turns(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shedding, "AT_A_TIME", 3)
    staff = years_of_work(room)
    keeper, turns = Keeper(staff), 1
    while keeper.keeping.step() < 60:
        turns += 1
    assert turns >= 5
    assert there(staff) == [False, False] + [True] * 5


def test_notes_of_months_of_which_nothing_is_left_go_too(room: Room) -> None:
    staff = years_of_work(room)
    keeper = Keeper(staff)
    keeper.keep()
    notes = {path.name for path in (room.archive / "came").iterdir()}
    staff.clock.advance(days=7)
    keeper.keep()
    left = {path.name for path in (room.archive / "came").iterdir()}
    assert len(left) < len(notes)
    assert "2026-03.jsonl" in left  # of the sheets that stay


def test_in_the_put_aside_folder_only_what_has_a_reason_is_ours(tmp_path: Path) -> None:
    aside, old = PutAside(tmp_path, ()), datetime(2020, 1, 1).astimezone()
    for name in ("a.txt", "a.txt.reason.txt", "note.txt", "gone.txt.reason.txt", "young.txt", "young.txt.reason.txt"):
        (tmp_path / name).write_text("x")
        if "young" not in name:
            os.utime(tmp_path / name, (old.timestamp(), old.timestamp()))
    assert aside.let_go(old + timedelta(days=1)) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["note.txt", "young.txt", "young.txt.reason.txt"]
