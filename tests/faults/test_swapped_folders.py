"""Whoever writes into a drop folder swaps folders and files for links while the sentinel works on them.

A writer of the drop folder must not have a file read, archived, moved or removed that lies elsewhere. Here the swap
comes between any two calls of the system, for every operation; and another process does it beside.
"""

from __future__ import annotations

import itertools
import multiprocessing
import os
import shutil
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from sentinel.adapters.catalogues import TemplateError
from sentinel.adapters.catalogues import read as read_templates
from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.application.sources import read_bytes
from sentinel.core.dropped_file import NotPutAsideError, StaysError
from sentinel.core.verdict import Unscored
from tests.support.amount import LONG, amount

SECRET = b"a private text"
OWN = b"own text\n"
CALLS = ("open", "stat", "scandir", "rename", "unlink", "mkdir", "symlink", "readlink", "fstat", "fsync", "dup")


class Place:
    """A drop folder with the put-aside folder in it, and a private folder whose files have the same names."""

    def __init__(self, folder: Path) -> None:
        self.drop, self.private = folder / "drop", folder / "private"
        self.north, self.aside = self.drop / "north", self.drop / "aside"
        for each in (self.north, self.aside, self.private / "deep"):
            each.mkdir(parents=True)
        (self.north / "sheet.txt").write_bytes(OWN)
        (self.aside / "old.txt").write_bytes(OWN)
        for name in ("sheet.txt", "old.txt", "old.txt.reason.txt", "deep/sheet.txt"):
            (self.private / name).write_bytes(SECRET)
        self.before = self._state()
        self.folders = DropFolders([self.drop], self.aside, ())
        self.found = next(each for each in self.folders.found() if each.name == "sheet.txt")

    def untouched(self) -> bool:
        """Whether all that is private is where it was, as it was, and nothing else is there."""
        return self._state() == self.before

    def leaked(self) -> bool:
        """Whether private bytes lie in the drop folder in a file of their own."""
        paths = [path for path in self.drop.rglob("*") if path.is_file() and not path.is_symlink()]
        return any(path.stat().st_nlink == 1 and path.read_bytes() == SECRET for path in paths)

    def _state(self) -> list[tuple[str, int, bytes]]:
        paths = sorted(path for path in self.private.rglob("*") if path.is_file())
        return [(str(path), path.stat().st_ino, path.read_bytes()) for path in paths]


def swapped(path: Path, target: Path) -> None:
    """A link to somewhere else has its name now."""
    if path.exists() and not path.is_symlink():
        path.rename(path.with_name(f"{path.name}.away"))
        path.symlink_to(target)


def linked(path: Path, target: Path) -> None:
    """A second name of a private file has its name now."""
    if path.exists():
        path.rename(path.with_name(f"{path.name}.away"))
        os.link(target, path)


SWAPS: dict[str, Callable[[Place], None]] = {
    "the folder": lambda place: swapped(place.north, place.private),
    "the put-aside folder": lambda place: swapped(place.aside, place.private),
    "the file, a link": lambda place: swapped(place.north / "sheet.txt", place.private / "sheet.txt"),
    "the file, a hard link": lambda place: linked(place.north / "sheet.txt", place.private / "sheet.txt"),
    "the file, a folder": lambda place: swapped(place.north / "sheet.txt", place.private / "deep"),
    "what was put aside": lambda place: swapped(place.aside / "old.txt", place.private / "old.txt"),
}


def everything(place: Place) -> list[bytes]:
    """What is found, read as the service reads it."""
    return [read_bytes(place.folders, each, 1.0) for each in place.folders.found()]


def found_and_moved(place: Place) -> None:
    """What is found, put aside or taken away as the service does it."""
    for number, each in enumerate(place.folders.found()):
        place.folders.set_aside(each, each.name) if number % 2 else place.folders.remove(each)


OPERATIONS: dict[str, Callable[[Place], object]] = {
    "found and read": everything,
    "found and moved": found_and_moved,
    "named": lambda place: place.folders._named(f"{place.drop}/north/sheet.txt"),
    "read": lambda place: place.folders.read(place.found),
    "tail": lambda place: place.folders.tail(place.found),
    "beginning": lambda place: place.folders.beginning(place.found),
    "now": lambda place: place.folders.now(place.found),
    "remove": lambda place: place.folders.remove(place.found),
    "free_name": lambda place: place.folders.free_name("old.txt"),
    "explain": lambda place: place.folders.explain("old.txt", "why"),
    "set_aside": lambda place: place.folders.set_aside(place.found, "sheet.txt"),
    "take_back": lambda place: place.folders.take_back("old.txt", "0" * 64),
}

REFUSALS = (OSError, NotPutAsideError, StaysError, Unscored)


originals = {name: getattr(os, name) for name in CALLS}


def attacked(folder: Path, operation: Callable[[Place], object], swap: Callable[[Place], None], number: int) -> bool:
    """Whether the operation made so many calls that the swap came."""
    place = Place(folder)
    came: list[bool] = []
    calls = itertools.count()

    def hooked(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*arguments: Any, **named: Any) -> Any:
            if next(calls) == number:
                with pytest.MonkeyPatch.context() as off:
                    for name, own in originals.items():
                        off.setattr(os, name, own)
                    swap(place)
                came.append(True)
            return real(*arguments, **named)

        return call

    answer: object = None
    with pytest.MonkeyPatch.context() as patch:
        for name, real in originals.items():
            patch.setattr(os, name, hooked(real))
        with suppress(*REFUSALS):
            answer = operation(place)
    assert place.untouched()
    assert not place.leaked()
    assert SECRET not in (answer if isinstance(answer, list) else [answer])
    shutil.rmtree(folder)
    return bool(came)


@pytest.mark.parametrize("swap", SWAPS)
@pytest.mark.parametrize("operation", OPERATIONS)
def test_a_swap_between_any_two_calls_reaches_nothing_elsewhere(tmp_path: Path, operation: str, swap: str) -> None:
    numbers = itertools.count() if LONG else iter(range(0, 1000, 4))
    swaps = 0
    while attacked(tmp_path / "place", OPERATIONS[operation], SWAPS[swap], next(numbers)):
        swaps += 1
    assert swaps > 0


def test_what_is_put_aside_on_another_disk_reaches_nothing_elsewhere(tmp_path: Path) -> None:
    """As above, where a file is copied instead of being renamed."""

    def across(place: Place) -> None:
        real = os.rename

        def rename(source: str, target: str, *rest: Any, **named: Any) -> None:
            if named.get("src_dir_fd") != named.get("dst_dir_fd"):
                raise OSError(18, "Invalid cross-device link")
            real(source, target, *rest, **named)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(os, "rename", rename)
            place.folders.set_aside(place.found, "sheet.txt")

    for swap in SWAPS.values():
        numbers = itertools.count() if LONG else iter(range(0, 1000, 7))
        while attacked(tmp_path / "place", across, swap, next(numbers)):
            pass


def test_an_archive_whose_folders_are_links_is_not_written_through_them(tmp_path: Path) -> None:
    archive, private = Archive(tmp_path / "archive"), tmp_path / "private"
    name = archive.keep(OWN)
    private.mkdir()
    shelf = tmp_path / "archive" / name[:2]
    shutil.rmtree(shelf)
    shelf.symlink_to(private)
    with pytest.raises(NotADirectoryError):
        archive.keep(OWN)
    with pytest.raises(NotADirectoryError):
        archive.fetch(name)
    assert list(private.iterdir()) == []


def test_a_file_of_the_archive_that_became_a_link_is_neither_read_nor_believed(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "archive")
    name = archive.keep(OWN)
    place = tmp_path / "archive" / name[:2] / name
    elsewhere = tmp_path / "elsewhere"
    place.rename(elsewhere)
    place.symlink_to(elsewhere)
    with pytest.raises(OSError, match="Too many levels"):
        archive.fetch(name)
    assert archive.keep(OWN) == name
    assert archive.fetch(name) == OWN
    assert not place.is_symlink()
    assert elsewhere.read_bytes() == OWN
    assert len(archive.damaged()) == 1


ODD_TEMPLATES: dict[str, Callable[[Path, Path], object]] = {
    "a link": lambda path, private: path.symlink_to(private),
    "a pipe": lambda path, _private: os.mkfifo(path),
    "a text without end": lambda path, _private: path.open("wb").truncate(1 << 40),
}


@pytest.mark.parametrize("odd", ODD_TEMPLATES.values(), ids=ODD_TEMPLATES)
def test_a_template_that_is_no_file_is_told_and_holds_nobody(
    tmp_path: Path, odd: Callable[[Path, Path], object]
) -> None:
    templates, private = tmp_path / "templates", tmp_path / "private"
    templates.mkdir()
    private.write_bytes(SECRET)
    odd(templates / "due.txt", private)
    with pytest.raises(TemplateError, match=str(templates / "due.txt")):
        read_templates(templates)


def test_a_template_folder_may_be_a_link_as_an_admin_chose(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "due.txt").write_text("words")
    (tmp_path / "templates").symlink_to(tmp_path / "real")
    assert read_templates(tmp_path / "templates") == {"due.txt": "words"}


def swap_on(drop: str, private: str) -> None:
    """Another process: the folder and a link to the private one take turns, as fast as they can."""
    north, away, link = (Path(drop) / name for name in ("north", ".away", ".link"))
    while True:
        with suppress(OSError):
            link.symlink_to(private)
        with suppress(OSError):
            north.rename(away)
            link.rename(north)
        with suppress(OSError):
            north.rename(link)
            away.rename(north)


def test_another_process_that_swaps_beside_gets_nothing(tmp_path: Path) -> None:
    place = Place(tmp_path)
    place.folders = DropFolders([place.drop], place.aside, (".*",))
    attacker = multiprocessing.get_context("spawn").Process(
        target=swap_on, args=(str(place.drop), str(place.private)), daemon=True
    )
    attacker.start()
    try:
        deadline, moved = time.monotonic() + amount(1, 10), 0
        while time.monotonic() < deadline:
            with suppress(OSError):
                (place.north / f"sheet-{moved}.txt").open("xb").close()
            for found in place.folders.found():
                if found.kind != "file":
                    continue
                with suppress(*REFUSALS):
                    assert read_bytes(place.folders, found, 1.0) != SECRET
                    place.folders.explain(f"sheet-{moved}.txt", "why")
                    place.folders.set_aside(found, f"sheet-{moved}.txt")
                    moved += 1
        assert moved > 0
    finally:
        attacker.kill()
        attacker.join()
    for name in ("sheet.txt", "old.txt", "old.txt.reason.txt", "deep/sheet.txt"):
        assert (place.private / name).read_bytes() == SECRET
    assert not place.leaked()
