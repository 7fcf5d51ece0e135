"""What lies in the drop folders, and taking it away without losing anything."""

from __future__ import annotations

import hashlib
import os
import stat
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.core.dropped_file import TAIL_BYTES, DroppedFile, shortened
from sentinel.settings.site import FoldersTable
from tests.support.clock import NOON, stamp

IGNORE = FoldersTable.model_fields["ignore"].default


class Place:
    """A drop folder and a put-aside folder beside it."""

    def __init__(self, folder: Path) -> None:
        self.drop, self.aside = folder / "drop", folder / "aside"
        self.drop.mkdir()
        self.folders = DropFolders([self.drop], self.aside, IGNORE)

    def put(self, name: str, content: str = "text") -> Path:
        path = self.drop / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content)
        return path

    def only(self) -> DroppedFile:
        [found] = self.folders.found()
        return found


@pytest.fixture
def place(tmp_path: Path) -> Place:
    return Place(tmp_path)


def names(folders: DropFolders) -> list[str]:
    return [found.relative for found in folders.found()]


def test_sub_folders_are_looked_through_to_the_bottom(place: Place) -> None:
    place.put("north/satin-240/fine/sheet.txt")
    found = place.only()
    assert (found.root, found.relative) == (str(place.drop), "north/satin-240/fine/sheet.txt")
    assert (found.name, found.folder, found.kind) == ("sheet.txt", "north/satin-240/fine", "file")


def test_a_file_at_the_top_has_no_folder(place: Place) -> None:
    place.put("sheet.txt")
    assert place.only().folder == ""


def test_the_oldest_comes_first_over_all_folders(tmp_path: Path) -> None:
    folders = DropFolders([tmp_path / "one", tmp_path / "two"], tmp_path / "aside", IGNORE)
    for age, name in enumerate(["one/c.txt", "two/b.txt", "one/a.txt"]):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("text")
        stamp(tmp_path / name, NOON.replace(hour=age))
    assert names(folders) == ["c.txt", "b.txt", "a.txt"]


def test_files_of_one_moment_come_by_their_names(place: Place) -> None:
    for name in ("b", "a", "c"):
        stamp(place.put(name), NOON)
    assert names(place.folders) == ["a", "b", "c"]


@pytest.mark.parametrize(
    "name",
    [".hidden", ".sync/sheet.txt", "~sheet.txt", "sheet.tmp", "sheet.txt.part", "sheet.partial",
     "Thumbs.db", "desktop.ini"],
)  # fmt: skip
def test_what_is_to_be_ignored_is_not_found(place: Place, name: str) -> None:
    place.put(name)
    place.put("sheet.txt")
    assert names(place.folders) == ["sheet.txt"]


def test_a_link_is_found_as_a_link_and_never_opened(place: Place, tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_text("secret")
    (place.drop / "sheet.txt").symlink_to(secret)
    found = place.only()
    assert found.kind == "link"
    for read in (place.folders.read, place.folders.tail):
        with pytest.raises(OSError, match="Too many levels of symbolic links"):
            read(found)


def test_a_linked_folder_is_not_entered(place: Place, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "sheet.txt").write_text("text")
    (place.drop / "north").symlink_to(outside, target_is_directory=True)
    assert [(found.relative, found.kind) for found in place.folders.found()] == [("north", "link")]


def test_a_pipe_is_found_as_something_else_and_does_not_hang(place: Place) -> None:
    os.mkfifo(place.drop / "sheet.txt")
    found = place.only()
    assert found.kind == "other"
    with pytest.raises(OSError, match="expected a file"):
        place.folders.read(found)


def test_a_folder_put_aside_inside_the_drop_folder_is_not_scanned(tmp_path: Path) -> None:
    drop = tmp_path / "drop"
    (drop / "aside").mkdir(parents=True)
    (drop / "aside" / "scribble.txt").write_text("text")
    (drop / "north").mkdir()
    (drop / "north" / "sheet.txt").write_text("text")
    assert names(DropFolders([drop], drop / "aside", IGNORE)) == ["north/sheet.txt"]


def test_the_tail_is_the_end_of_a_long_file_and_all_of_a_short_one(place: Place) -> None:
    place.put("sheet.txt", "x" * 10_000 + "END")
    tail = place.folders.tail(place.only())
    assert len(tail) == TAIL_BYTES
    assert tail.endswith(b"xEND")
    place.put("sheet.txt", "END")
    assert place.folders.tail(place.only()) == b"END"


@pytest.mark.parametrize("folders", [["gone"], ["drop", "gone"]], ids=["the only one", "one of two"])
def test_a_missing_folder_is_told_and_the_others_are_read(tmp_path: Path, folders: list[str]) -> None:
    (tmp_path / "drop").mkdir()
    (tmp_path / "drop" / "sheet.txt").write_text("text")
    drop = DropFolders([tmp_path / name for name in folders], tmp_path / "aside", IGNORE)
    assert drop.missing() == [tmp_path / "gone"]
    assert names(drop) == ["sheet.txt"] * (len(folders) - 1)


def test_a_folder_made_again_has_another_identity(tmp_path: Path) -> None:
    drop = tmp_path / "drop"
    folders = DropFolders([drop], tmp_path / "aside", IGNORE)
    assert folders.identities() == ((0, 0),)
    drop.mkdir()
    first = folders.identities()
    assert first == ((drop.stat().st_dev, drop.stat().st_ino),)
    drop.rename(tmp_path / "old")
    drop.mkdir()
    assert folders.identities() != first


def test_an_untouched_file_is_removed(place: Place) -> None:
    path = place.put("sheet.txt")
    assert place.folders.remove(place.only())
    assert not path.exists()


CHANGES = {
    "written on": lambda path: path.write_text("text and more"),
    "written anew to the same length": lambda path: stamp(path, NOON),
    "replaced": lambda path: (path.with_name(".new").write_text("text"), path.with_name(".new").replace(path)),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_file_that_changed_since_is_not_removed(place: Place, change: object) -> None:
    path = place.put("sheet.txt")
    seen = place.only()
    change(path)  # type: ignore[operator]
    assert not place.folders.remove(seen)
    assert path.exists()


def test_a_file_that_is_gone_is_not_removed(place: Place) -> None:
    path = place.put("sheet.txt")
    seen = place.only()
    path.unlink()
    assert place.folders.now(seen) is None
    assert not place.folders.remove(seen)


def test_a_file_put_aside_has_its_reason_beside_it(place: Place) -> None:
    path = place.put("scribble.txt", "scribble")
    place.folders.explain("scribble.txt", "Not scored, ΔE unknown.\n")
    place.folders.set_aside(place.only(), "scribble.txt")
    assert not path.exists()
    assert (place.aside / "scribble.txt").read_text() == "scribble"
    assert (place.aside / "scribble.txt.reason.txt").read_text() == "Not scored, ΔE unknown.\n"


def test_the_reason_may_be_read_by_whoever_may_read_new_files(place: Place) -> None:
    before = os.umask(0o022)
    try:
        place.folders.explain("scribble.txt", "why")
    finally:
        os.umask(before)
    mode = (place.aside / "scribble.txt.reason.txt").stat().st_mode
    assert stat.S_IMODE(mode) == 0o644


def test_a_link_is_put_aside_as_a_link(place: Place, tmp_path: Path) -> None:
    (place.drop / "sheet.txt").symlink_to(tmp_path / "anywhere")
    place.folders.explain("sheet.txt", "why")
    place.folders.set_aside(place.only(), "sheet.txt")
    assert names(place.folders) == []
    assert (place.aside / "sheet.txt").readlink() == tmp_path / "anywhere"


def test_a_file_that_changed_since_is_not_put_aside(place: Place) -> None:
    path = place.put("scribble.txt", "old")
    seen = place.only()
    path.write_text("newer")
    place.folders.explain("scribble.txt", "why")
    place.folders.set_aside(seen, "scribble.txt")
    assert path.read_text() == "newer"
    assert not (place.aside / "scribble.txt").exists()


@pytest.mark.parametrize(
    ("taken", "free"),
    [
        ([], "sheet.txt"),
        (["sheet.txt"], "sheet-2.txt"),
        (["sheet.txt", "sheet-2.txt"], "sheet-3.txt"),
        (["sheet.txt", "sheet-3.txt"], "sheet-2.txt"),
    ],
)
def test_a_free_name_is_one_that_nothing_has(place: Place, taken: list[str], free: str) -> None:
    place.aside.mkdir()
    for name in taken:
        (place.aside / name).write_text("earlier")
    assert place.folders.free_name("sheet.txt") == free


def test_a_name_held_by_a_dangling_link_is_not_free(place: Place, tmp_path: Path) -> None:
    place.aside.mkdir()
    (place.aside / "sheet.txt").symlink_to(tmp_path / "nowhere")
    assert place.folders.free_name("sheet.txt") == "sheet-2.txt"


def test_putting_aside_overwrites_no_other_file(place: Place) -> None:
    """As after a crash between the record and the move: another file has taken the name since."""
    place.put("sheet.txt", "mine")
    place.aside.mkdir()
    (place.aside / "sheet.txt").write_text("another's")
    place.folders.set_aside(place.only(), "sheet.txt")
    everything = [path.read_text() for path in [*place.drop.iterdir(), *place.aside.iterdir()]]
    assert {"mine", "another's"} <= set(everything)


def test_the_longest_name_there_can_be_leaves_room_for_the_reason(place: Place) -> None:
    place.put("ü" * 125 + ".txt", "scribble")
    name = place.folders.free_name(shortened(place.only().name))
    place.folders.explain(name, "why")
    place.folders.set_aside(place.only(), name)
    assert names(place.folders) == []
    assert sorted(path.read_text() for path in place.aside.iterdir()) == ["scribble", "why"]


def digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def test_what_was_put_aside_can_be_taken_back_twice(place: Place) -> None:
    place.put("scribble.txt", "scribble")
    place.folders.explain("scribble.txt", "why")
    place.folders.set_aside(place.only(), "scribble.txt")
    for _ in range(2):
        place.folders.take_back("scribble.txt", digest("scribble"))
        assert list(place.aside.iterdir()) == []


def test_what_is_another_file_by_now_is_not_taken_back(place: Place) -> None:
    place.put("scribble.txt", "another's")
    place.folders.explain("scribble.txt", "another's reason")
    place.folders.set_aside(place.only(), "scribble.txt")
    place.folders.take_back("scribble.txt", digest("scribble"))
    assert sorted(path.read_text() for path in place.aside.iterdir()) == ["another's", "another's reason"]


def test_the_reason_of_a_file_that_was_left_is_taken_back(place: Place) -> None:
    place.folders.explain("scribble.txt", "why")
    place.folders.take_back("scribble.txt", digest("scribble"))
    assert list(place.aside.iterdir()) == []


def test_two_looks_at_an_untouched_file_are_equal(place: Place) -> None:
    place.put("sheet.txt")
    seen = place.only()
    assert seen == place.only() == place.folders.now(seen)
    assert seen.origin != replace(seen, mtime_ns=seen.mtime_ns + 1).origin


def test_a_file_moved_away_and_back_is_another_one(place: Place, tmp_path: Path) -> None:
    path = place.put("sheet.txt")
    seen = place.only()
    path.rename(tmp_path / "elsewhere")
    (tmp_path / "elsewhere").rename(path)
    assert place.only() != seen
    assert place.only().origin != seen.origin


def test_a_name_that_is_no_utf8_is_found_and_read(place: Place) -> None:
    (place.drop / os.fsdecode(b"gr\xfcn.txt")).write_text("text")
    assert place.folders.read(place.only()) == b"text"


def test_a_folder_swapped_for_a_link_is_neither_entered_nor_emptied(place: Place, tmp_path: Path) -> None:
    """What was found in a folder is not looked for behind a link that has its name since."""
    place.put("north/sheet.txt")
    found = place.only()
    private = tmp_path / "private"
    (place.drop / "north").rename(private)
    (place.drop / "north").symlink_to(private, target_is_directory=True)
    assert place.folders.now(found) is None
    for take in (place.folders.read, place.folders.tail):
        with pytest.raises(NotADirectoryError):
            take(found)
    assert not place.folders.remove(found)
    with pytest.raises(NotADirectoryError):
        place.folders.set_aside(found, "sheet.txt")
    assert (private / "sheet.txt").read_text() == "text"


def test_a_folder_swapped_between_listing_and_entering_is_passed_by(
    place: Place, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place.put("north/sheet.txt")
    private = tmp_path / "private"
    private.mkdir()
    (private / "secret.txt").write_text("secret")
    real = os.open

    def swapping(path: object, *rest: int, **more: int) -> int:
        if path == "north" and not (place.drop / "north").is_symlink():
            (place.drop / "north").rename(tmp_path / "old")
            (place.drop / "north").symlink_to(private, target_is_directory=True)
        return real(path, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "open", swapping)
    assert [found.name for found in place.folders.found()] == []


def test_a_tree_too_deep_does_not_stop_the_rest(place: Place) -> None:
    place.put("sheet.txt")
    handle = os.open(place.drop, os.O_RDONLY)
    for _ in range(1_100):
        os.mkdir("d", dir_fd=handle)
        below = os.open("d", os.O_RDONLY, dir_fd=handle)
        os.close(handle)
        handle = below
    os.close(handle)
    assert names(place.folders) == ["sheet.txt"]
    subprocess.run(["rm", "-rf", place.drop / "d"], check=True)  # too deep for Python's own
