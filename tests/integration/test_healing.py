"""A damaged or missing file of the archive is put in place again from a second copy, where there is one."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest

from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.drop_folder import FileReader
from sentinel.adapters.files.notes import NoteFile
from sentinel.adapters.files.second_copies import SecondCopies
from sentinel.adapters.store.backups import Backups
from sentinel.bootstrap import second_copies_of
from sentinel.core.dropped_file import DroppedFile
from sentinel.service.storekeeping import KeepingRules, StoreKeeping
from tests.support import cgats
from tests.support.cgats import GOOD
from tests.support.command import sentinel
from tests.support.room import Room, Staff

SATIN = "north/satin-240"


def blob(room: Room, name: str) -> Path:
    return room.archive / name[:2] / name


def put_aside(room: Room, data: bytes) -> None:
    room.aside.mkdir(exist_ok=True)
    (room.aside / "sheet.txt").write_bytes(data)


def dropped(room: Room, data: bytes) -> None:
    room.put("north/old/deep/sheet.txt", data)


def copied(room: Room, data: bytes) -> None:
    """The archive copied beside the backups."""
    name = hashlib.sha256(data).hexdigest()
    place = room.folder / "backups" / "archive" / name[:2]
    place.mkdir(parents=True)
    (place / name).write_bytes(data)


def kept_apart(room: Room, data: bytes) -> None:
    """Somebody's doing: the right bytes among the damaged ones."""
    (room.archive / "damaged").mkdir(exist_ok=True)
    (room.archive / "damaged" / "abc.0123").write_bytes(data)


PLACES = {"put aside": put_aside, "drop folder": dropped, "backups": copied, "damaged": kept_apart}


@pytest.mark.parametrize("spoilt", ["damaged", "missing"])
@pytest.mark.parametrize("place", PLACES.values(), ids=PLACES)
def test_verify_heals_from_a_second_copy(staff: Staff, place: Callable[[Room, bytes], None], spoilt: str) -> None:
    room = staff.room
    staff.take(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    [check] = room.checks()
    path = blob(room, check.sha256)
    data = path.read_bytes()
    path.write_text("other bytes") if spoilt == "damaged" else path.unlink()
    found = sentinel("--config", room.config, "store", "verify", "--json")
    assert (found.code, list(found.json()[spoilt]), found.json()["healed"]) == (1, [check.sha256], {})
    place(room, data)
    healed = sentinel("--config", room.config, "store", "verify", "--json")
    assert (healed.code, healed.json()["sound"], list(healed.json()["healed"])) == (0, True, [check.sha256])
    assert path.read_bytes() == data
    assert sentinel("--config", room.config, "store", "verify", "--json").json()["healed"] == {}
    kept = [each.read_text() for each in (room.archive / "damaged").glob(f"{check.sha256}.*")]
    assert kept == (["other bytes"] if spoilt == "damaged" else [])


def test_a_target_is_healed_from_its_own_file(staff: Staff) -> None:
    staff.take(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    path = blob(staff.room, staff.room.checks()[0].target_hash)
    path.write_text("other bytes")
    told = sentinel("--config", staff.room.config, "store", "verify")
    assert (told.code, f"whole again: {path.name}, from " in told.out) == (0, True)
    assert path.read_bytes() == (staff.room.folder / "targets" / "house.txt").read_bytes()


def test_links_and_other_bytes_heal_nothing(staff: Staff, tmp_path: Path) -> None:
    staff.take(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    path = blob(staff.room, staff.room.checks()[0].sha256)
    outside = tmp_path / "outside"
    path.rename(outside)
    (staff.room.drop / "link.txt").symlink_to(outside)
    staff.room.put("near.txt", outside.read_bytes()[:-1] + b"x")
    assert sentinel("--config", staff.room.config, "store", "verify").code == 1
    assert not path.exists()


def test_the_monthly_round_heals_too_and_tells_nobody_of_damage(staff: Staff) -> None:
    room = staff.room
    for number in range(2):
        staff.take(f"{SATIN}/{number}.txt", cgats.text(GOOD) + f"# {number}\n")
    first, second = (blob(room, check.sha256) for check in room.checks())
    put_aside(room, first.read_bytes())
    first.unlink()
    second.write_text("other bytes")
    settings = staff.snapshot.loaded.settings
    note = NoteFile(room.folder / "kept.json")
    keeping = StoreKeeping(
        Backups(room.store, room.folder / "backups", 7, 4),
        Archive(room.archive),
        staff.store,
        note,
        staff.clock,
        KeepingRules(None, "backups", "archive", settings.site.zone),
        second=second_copies_of(settings),
    )
    while keeping.step() < 60:
        pass
    assert [each.detail for each in keeping.troubles()] == [f"1 file, of check {room.checks()[1].seq}"]
    assert first.exists()
    assert note.read()["healed"] == 1


def test_files_of_other_sizes_are_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    name = hashlib.sha256(b"sheet").hexdigest()
    (tmp_path / "large.txt").write_bytes(b"x" * 100)
    (tmp_path / "sheet.txt").write_bytes(b"sheet")
    copies, read = SecondCopies([tmp_path]), list[str]()
    real = FileReader.hash_of

    def noted(self: FileReader, found: DroppedFile) -> str:
        read.append(found.name)
        return real(self, found)

    monkeypatch.setattr(FileReader, "hash_of", noted)
    assert [found[0] for found in copies.of({name: {5}})] == [name]
    assert read == ["sheet.txt"]
    assert [found[0] for found in copies.of({name: set()})] == [name]
