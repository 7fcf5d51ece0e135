"""What lies in the drop folders, and taking it away without losing anything."""

from __future__ import annotations

import hashlib
import os
import socket
import stat
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from sentinel.adapters.files import drop_folder, handles, put_aside
from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.core.dropped_file import (
    TAIL_BYTES,
    DroppedFile,
    NotListedError,
    NotPutAsideError,
    StaysError,
    shortened,
)
from sentinel.settings.site import FoldersTable
from tests.support.clock import NOON, stamp
from tests.support.rights import hand_over, open_folder, unprivileged

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


@pytest.fixture
def deep(place: Place) -> Iterator[Place]:
    """A tree of 1,100 folders beside a file; taken away again, since no recursion can."""
    place.put("sheet.txt")
    handle = os.open(place.drop, os.O_RDONLY)
    for _ in range(1_100):
        os.mkdir("d", dir_fd=handle)
        below = os.open("d", os.O_RDONLY, dir_fd=handle)
        os.close(handle)
        handle = below
    os.close(handle)
    yield place
    top, under = place.drop / "d", place.drop / "under"
    while (top / "d").exists():
        (top / "d").rename(under)
        top.rmdir()
        under.rename(top)


def test_a_tree_too_deep_stops_nothing_and_is_told_until_it_is_gone(deep: Place) -> None:
    for _ in range(2):
        assert names(deep.folders) == ["sheet.txt"]
        [(folder, fault)] = deep.folders.unlisted.items()
        assert folder == str(deep.drop)
        assert isinstance(fault, NotListedError)
        assert str(fault) == f"{'d/' * 64}d: it lies more than 64 folders deep"
    (deep.drop / "d").rename(deep.drop.parent / "elsewhere")
    assert names(deep.folders) == ["sheet.txt"]
    assert deep.folders.unlisted == {}
    (deep.drop.parent / "elsewhere").rename(deep.drop / "d")


def test_folders_that_may_not_be_listed_are_told_together_and_the_rest_is_found() -> None:
    with open_folder() as folder:
        place = Place(folder)
        for name in ("east", "north", "west"):
            place.put(f"{name}/sheet.txt")
        hand_over(folder)
        with unprivileged():
            (place.drop / "east").chmod(0)
            (place.drop / "west").chmod(0o400)  # its names can be had, and nothing else of it
            assert names(place.folders) == ["north/sheet.txt"]
            told = {folder: str(fault) for folder, fault in place.folders.unlisted.items()}
            assert told == {str(place.drop): "east: Permission denied; and 1 more like it"}
            for name in ("east", "west"):
                (place.drop / name).chmod(0o700)
            assert len(names(place.folders)) == 3
        assert place.folders.unlisted == {}


def test_a_folder_that_is_gone_when_it_is_entered_is_no_fault(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    place.put("north/sheet.txt")
    real = os.open

    def vanishing(path: object, *rest: int, **more: int) -> int:
        if path == "north" and (place.drop / "north").exists():
            (place.drop / "north").rename(place.drop.parent / "gone")
        return real(path, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "open", vanishing)
    assert names(place.folders) == []
    assert place.folders.unlisted == {}


def test_more_than_can_be_listed_is_told(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drop_folder, "MOST_ENTRIES", 3)
    for number in range(3):
        place.put(f"{number}.txt")
    assert len(names(place.folders)) == 3
    assert place.folders.unlisted == {}
    place.put("north/4.txt")
    assert len(names(place.folders)) <= 3
    [fault] = place.folders.unlisted.values()
    assert str(fault) == "expected at most 3 files and folders, got more: the rest is not seen"


def test_no_handle_is_left_open_by_a_listing(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    for folder in ("a/b/c", "a/d", "e"):
        place.put(f"{folder}/sheet.txt")
    before = len(list(Path("/proc/self/fd").iterdir()))
    names(place.folders)
    monkeypatch.setattr(drop_folder, "MOST_ENTRIES", 4)
    names(place.folders)
    assert len(list(Path("/proc/self/fd").iterdir())) == before


class Left:
    """A drop folder with files that stay there, and how many of them the system was asked about."""

    def __init__(self, place: Place, patch: pytest.MonkeyPatch, number: int) -> None:
        self.place = place
        for each in range(number):
            place.put(f"{each}.txt")
        self.origins = {found.origin for found in place.folders.found()}
        self.asked: list[str] = []
        real = handles.look

        def look(folder: int, name: str) -> os.stat_result | None:
            self.asked.append(name)
            return real(folder, name)

        patch.setattr(handles, "look", look)

    def look(self, *closed: Path) -> list[str]:
        """What is found now; forgets what was asked before."""
        self.asked.clear()
        return [found.name for found in self.place.folders.found({str(path) for path in closed}, self.origins)]


@pytest.fixture
def left(place: Place, monkeypatch: pytest.MonkeyPatch) -> Left:
    monkeypatch.setattr(drop_folder, "LOOKED_AT_AGAIN", 10)
    return Left(place, monkeypatch, 100)


def test_files_that_stay_are_looked_at_in_turn_alone(left: Left) -> None:
    assert left.look() == []
    assert len(left.asked) == 100
    seen: list[str] = []
    for _ in range(11):
        assert left.look() == []
        seen += left.asked
    assert len(seen) == 100
    assert set(seen) == {f"{number}.txt" for number in range(100)}


def test_a_file_that_stays_and_is_written_to_in_place_is_found_at_once_where_it_was_closed(left: Left) -> None:
    left.look()
    path = left.place.put("7.txt", "another text")
    assert left.look(path) == ["7.txt"]


def test_a_file_that_stays_and_is_written_to_in_place_is_found_in_its_turn(left: Left) -> None:
    left.look()
    left.place.put("7.txt", "another text")
    assert ["7.txt"] in [left.look() for _ in range(11)]


def test_another_file_with_the_name_of_one_that_stays_is_found_at_once(left: Left) -> None:
    left.look()
    new = left.place.put("new")
    new.rename(left.place.drop / "7.txt")
    assert left.look() == ["7.txt"]


def test_files_that_are_gone_are_forgotten(left: Left) -> None:
    left.look()
    for number in range(1, 100):
        (left.place.drop / f"{number}.txt").unlink()
    left.look()
    assert sum(len(each) for folders in left.place.folders._left.values() for each in folders.values()) == 1


def test_among_many_a_file_that_is_named_is_found_without_listing_the_others(
    left: Left, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And everything is listed again once the last listing is long enough ago."""
    monkeypatch.setattr(drop_folder, "REST", 1e9)
    assert left.look() == []
    monkeypatch.setattr(drop_folder, "MANY", 50)
    named, other = left.place.put("named.txt"), left.place.put("other.txt")
    deep = left.place.put("north/.hidden/sheet.txt")
    assert left.look(named, deep) == ["named.txt"]
    assert left.place.folders.owed
    assert set(left.asked) == {"named.txt"}
    assert left.look() == ["named.txt"]  # it is still waited for
    named.unlink()
    assert left.look() == []
    left.place.folders._listed_until = 0.0
    assert left.look() == [other.name]
    assert not left.place.folders.owed


def test_a_named_file_in_the_put_aside_folder_is_not_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drop = tmp_path / "drop"
    (drop / "aside").mkdir(parents=True)
    (drop / "aside" / "scribble.txt").write_text("text")
    monkeypatch.setattr(drop_folder, "MANY", 0)
    monkeypatch.setattr(drop_folder, "REST", 1e9)
    folders = DropFolders([drop], drop / "aside", IGNORE)
    assert list(folders.found()) == []
    named = {str(drop / "aside" / "scribble.txt"), str(drop / "aside"), f"{drop}/../drop/x", "/elsewhere/x"}
    assert list(folders.found(named)) == []
    assert folders.owed


def test_a_file_with_several_names_is_told_from_one_with_a_name(place: Place) -> None:
    path = place.put("sheet.txt")
    os.link(path, place.drop.parent / "private.txt")
    assert place.only().kind == "hard link"
    (place.drop.parent / "private.txt").unlink()
    assert place.only().kind == "file"


def test_a_folder_from_which_nothing_may_be_removed_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    with open_folder() as folder:
        place = Place(folder)
        place.put("north/sheet.txt")
        hand_over(folder)
        with unprivileged():
            (place.drop / "north").chmod(0o500)
            with pytest.raises(StaysError, match="Permission denied"):
                place.folders.remove(place.only())
            with pytest.raises(StaysError, match="Permission denied"):
                place.folders.set_aside(place.only(), "sheet.txt")
            (place.drop / "north").chmod(0o700)


def test_a_reason_never_replaces_a_file(place: Place) -> None:
    """Also where a file that came is called like the reason of the next."""
    place.folders = DropFolders([place.drop], place.aside, ())
    for name in ("sheet.txt.reason.txt", "sheet.txt", "..reason.txt"):
        place.put(name, f"the file {name}")
        [found] = place.folders.found()
        aside = place.folders.free_name(shortened(found.name))
        place.folders.explain(aside, f"why {name}")
        place.folders.set_aside(found, aside)
    kept = sorted(path.read_text() for path in place.aside.iterdir())
    assert len(kept) == 6
    assert len(set(kept)) == 6


@pytest.fixture
def apart(tmp_path: Path) -> Iterator[Place]:
    """A put-aside folder on another file system than the drop folder."""
    place = Place(tmp_path)
    disk = next((each for each in ("/dev/shm", "/var/tmp") if Path(each).stat().st_dev != tmp_path.stat().st_dev), None)  # noqa: S108
    assert disk is not None, "expected /dev/shm or /var/tmp on another file system than the tests, got neither"
    with tempfile.TemporaryDirectory(dir=disk) as other:
        place.aside = Path(other) / "aside"
        place.folders = DropFolders([place.drop], place.aside, IGNORE)
        yield place


def test_a_file_goes_to_another_disk_whole(apart: Place) -> None:
    path = apart.put("scribble.txt", "scribble" * 1000)
    path.chmod(0o644)
    apart.folders.set_aside(apart.only(), "scribble.txt")
    assert not path.exists()
    assert [each.read_text() for each in apart.aside.iterdir()] == ["scribble" * 1000]
    assert stat.S_IMODE((apart.aside / "scribble.txt").stat().st_mode) == 0o644


def test_a_link_goes_to_another_disk_as_a_link(apart: Place, tmp_path: Path) -> None:
    (apart.drop / "sheet.txt").symlink_to(tmp_path / "anywhere")
    apart.folders.set_aside(apart.only(), "sheet.txt")
    assert (apart.aside / "sheet.txt").readlink() == tmp_path / "anywhere"
    assert names(apart.folders) == []


def _twice(path: Path) -> None:
    path.write_text("text")
    os.link(path, path.parent.parent / "private")


STAY: dict[str, Callable[[Path], object]] = {
    "a pipe": os.mkfifo,
    "a socket": lambda path: socket.socket(socket.AF_UNIX).bind(str(path)),
    "a file with several names": _twice,
    "a file larger than is copied": lambda path: path.open("wb").truncate(put_aside.LARGEST_COPY + 1),
}


@pytest.mark.parametrize("make", STAY.values(), ids=STAY)
def test_what_cannot_be_copied_to_another_disk_stays(apart: Place, make: Callable[[Path], object]) -> None:
    make(apart.drop / "odd")
    found = apart.only()
    with pytest.raises(StaysError, match="on another disk"):
        apart.folders.set_aside(found, "odd")
    assert apart.only() == found
    assert list(apart.aside.iterdir()) == []


def test_a_file_larger_than_the_room_on_another_disk_is_not_begun(
    apart: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    apart.put("scribble.txt", "scribble")
    monkeypatch.setattr(os, "fstatvfs", lambda _: SimpleNamespace(f_bavail=0, f_frsize=4096))
    with pytest.raises(NotPutAsideError, match="No space left"):
        apart.folders.set_aside(apart.only(), "scribble.txt")
    assert names(apart.folders) == ["scribble.txt"]
    assert list(apart.aside.iterdir()) == []


@pytest.mark.parametrize("call", ["write", "fsync", "rename"])
@pytest.mark.parametrize("number", [5, 28, 30], ids=["EIO", "ENOSPC", "EROFS"])
def test_a_copy_that_fails_leaves_nothing_and_the_file_where_it_was(
    apart: Place, monkeypatch: pytest.MonkeyPatch, call: str, number: int
) -> None:
    apart.put("scribble.txt", "scribble")
    apart.aside.mkdir()
    real = getattr(os, call)

    def failing(*arguments: object, **named: object) -> object:
        if call == "rename" and named["src_dir_fd"] != named["dst_dir_fd"]:
            return real(*arguments, **named)
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr(os, call, failing)
        with pytest.raises(NotPutAsideError, match=os.strerror(number)):
            apart.folders.set_aside(apart.only(), "scribble.txt")
    assert names(apart.folders) == ["scribble.txt"]
    assert list(apart.aside.iterdir()) == []


def test_a_disk_that_gives_back_other_bytes_takes_no_file_away(apart: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    apart.put("scribble.txt", "scribble")
    real = handles._drop_cache

    def rotting(handle: int) -> None:
        os.pwrite(handle, b"?", 3)
        real(handle)

    monkeypatch.setattr(handles, "_drop_cache", rotting)
    with pytest.raises(NotPutAsideError, match="gives back other bytes"):
        apart.folders.set_aside(apart.only(), "scribble.txt")
    assert (apart.drop / "scribble.txt").read_text() == "scribble"
    assert list(apart.aside.iterdir()) == []


def test_a_file_that_cannot_be_taken_away_after_it_was_copied_is_there_once(
    apart: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    apart.put("scribble.txt", "scribble")
    real = os.unlink

    def sticky(path: str, **named: int) -> None:
        if path == "scribble.txt" and os.lstat(path, **named).st_dev == apart.drop.stat().st_dev:
            raise PermissionError(1, "Operation not permitted")
        real(path, **named)

    with monkeypatch.context() as patch:
        patch.setattr(os, "unlink", sticky)
        with pytest.raises(StaysError, match="not permitted"):
            apart.folders.set_aside(apart.only(), "scribble.txt")
    assert names(apart.folders) == ["scribble.txt"]
    assert list(apart.aside.iterdir()) == []


def test_what_takes_the_place_of_a_file_at_the_last_moment_goes_back(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = place.put("sheet.txt", "scribble")
    found, real = place.only(), os.rename

    def late(source: str, target: str, **named: int) -> None:
        if source == "sheet.txt" and not (place.drop / "old").exists():
            real(path, place.drop / "old")
            path.write_text("a good one")
        real(source, target, **named)

    with monkeypatch.context() as patch:
        patch.setattr(os, "rename", late)
        place.folders.set_aside(found, "sheet.txt")
    assert path.read_text() == "a good one"
    assert list(place.aside.iterdir()) == []


def test_the_put_aside_folder_below_a_drop_folder_is_not_entered_through_a_link(tmp_path: Path) -> None:
    drop, private = tmp_path / "drop", tmp_path / "private"
    drop.mkdir()
    private.mkdir()
    (drop / "aside").symlink_to(private)
    folders = DropFolders([drop], drop / "aside", IGNORE)
    with pytest.raises(NotPutAsideError):
        folders.explain("sheet.txt", "why")
    assert list(private.iterdir()) == []


def test_the_put_aside_folder_of_the_settings_may_be_a_link(place: Place) -> None:
    (place.aside.parent / "real").mkdir()
    place.aside.symlink_to(place.aside.parent / "real")
    place.put("scribble.txt", "scribble")
    place.folders.explain("scribble.txt", "why")
    place.folders.set_aside(place.only(), "scribble.txt")
    assert len(list((place.aside.parent / "real").iterdir())) == 2


def test_nothing_is_made_where_an_admins_link_leads_nowhere(place: Place) -> None:
    place.aside.symlink_to(place.aside.parent / "away")
    with pytest.raises(NotPutAsideError, match="No such file"):
        place.folders.explain("scribble.txt", "why")
    assert not (place.aside.parent / "away").exists()


def test_what_a_copy_left_that_was_cut_off_is_tidied(place: Place) -> None:
    place.aside.mkdir()
    (place.aside / f".{'0a' * 8}.tmp").write_text("half")
    (place.aside / ".somebody's.tmp").write_text("own")
    place.put("scribble.txt", "scribble")
    place.folders.set_aside(place.only(), "scribble.txt")
    assert sorted(path.name for path in place.aside.iterdir()) == [".somebody's.tmp", "scribble.txt"]
