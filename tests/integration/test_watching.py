"""Hints of the file system's own events; the system's inotify is the source, not a stand-in."""

from __future__ import annotations

import os
import queue
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Literal

import pytest
from structlog.testing import capture_logs
from watchdog.observers.inotify import InotifyObserver

from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.adapters.files.watching import FolderWatch

PATIENCE = 10.0


class Watched:
    """A drop folder under watch, and what was hinted of it."""

    def __init__(self, folder: Path, how: Literal["events", "polling"]) -> None:
        self.drop, self.outside = folder / "drop", folder / "outside"
        self.drop.mkdir()
        self.outside.mkdir()
        self.hints: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self.watch = FolderWatch(DropFolders([self.drop], folder / "aside", ()), how, self.hints.put)

    def hinted(self, wanted: Path | None) -> bool:
        """Whether this path, or for None any hint at all, comes within the patience."""
        deadline = time.monotonic() + PATIENCE
        while (left := deadline - time.monotonic()) > 0:
            try:
                hint = self.hints.get(timeout=left)
            except queue.Empty:
                return False
            if wanted is None or hint == str(wanted):
                return True
        return False

    def refreshed(self) -> bool:
        """Whether the watch finds within the patience that it must begin anew."""
        deadline = time.monotonic() + PATIENCE
        while time.monotonic() < deadline:
            if self.watch.refresh():
                return True
            time.sleep(0.02)
        return False


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Watched]:
    place = Watched(tmp_path, "events")
    yield place
    place.watch.stop()


@pytest.fixture
def polled(tmp_path: Path) -> Iterator[Watched]:
    place = Watched(tmp_path, "polling")
    yield place
    place.watch.stop()


def test_a_file_that_is_closed_after_writing_is_named(watched: Watched) -> None:
    path = watched.drop / "sheet.txt"
    path.write_text("text")
    assert watched.hinted(path)


def test_a_file_that_is_written_on_is_not_named_before_it_is_closed(watched: Watched) -> None:
    path = watched.drop / "sheet.txt"
    with path.open("w") as file:
        file.write("text")
        file.flush()
        assert watched.hinted(None)
        (watched.drop / "mark").write_text("")
        seen: list[str | None] = []
        while not seen or seen[-1] != str(watched.drop / "mark"):
            seen.append(watched.hints.get(timeout=PATIENCE))
    assert str(path) not in seen
    assert watched.hinted(path)


def test_a_file_moved_in_from_elsewhere_is_hinted_at(watched: Watched) -> None:
    path = watched.outside / "sheet.txt"
    path.write_text("text")
    path.rename(watched.drop / "sheet.txt")
    assert watched.hinted(None)


def test_a_file_renamed_in_the_folder_is_named(watched: Watched) -> None:
    (watched.drop / "sheet.tmp").write_text("text")
    (watched.drop / "sheet.tmp").rename(watched.drop / "sheet.txt")
    assert watched.hinted(watched.drop / "sheet.txt")


def test_a_hard_link_is_hinted_at(watched: Watched) -> None:
    (watched.outside / "sheet.txt").write_text("text")
    os.link(watched.outside / "sheet.txt", watched.drop / "sheet.txt")
    assert watched.hinted(None)


def test_a_new_sub_folder_is_watched_too(watched: Watched) -> None:
    folder = watched.drop / "north"
    folder.mkdir()
    assert watched.hinted(None)
    deadline = time.monotonic() + PATIENCE
    path = folder / "sheet.txt"
    while time.monotonic() < deadline:
        path.write_text("text")
        try:
            if watched.hints.get(timeout=1.0) == str(path):
                return
        except queue.Empty:
            continue
    pytest.fail("expected a hint of a file in a new sub-folder, got none")


def test_a_name_that_is_no_utf8_is_named_as_the_system_spells_it(watched: Watched) -> None:
    path = watched.drop / os.fsdecode(b"gr\xfcn.txt")
    path.write_text("text")
    assert watched.hinted(path)


def test_reading_a_file_is_no_hint(watched: Watched) -> None:
    path = watched.drop / "sheet.txt"
    path.write_text("text")
    assert watched.hinted(path)
    path.read_text()
    (watched.drop / "mark").write_text("")
    seen = [watched.hints.get(timeout=PATIENCE)]
    while seen[-1] != str(watched.drop / "mark"):
        seen.append(watched.hints.get(timeout=PATIENCE))
    assert str(path) not in seen


def test_an_untouched_folder_needs_no_new_beginning(watched: Watched) -> None:
    (watched.drop / "sheet.txt").write_text("text")
    assert not watched.watch.refresh()
    assert watched.watch.missing() == []


REMADE: dict[str, Callable[[Path], object]] = {
    "removed": lambda drop: drop.rmdir(),
    "moved away": lambda drop: drop.rename(drop.with_name("old")),
}


@pytest.mark.parametrize("how", ["watched", "polled"])
@pytest.mark.parametrize("go", REMADE.values(), ids=REMADE)
def test_a_folder_that_went_and_came_back_is_watched_again(
    request: pytest.FixtureRequest, how: str, go: Callable[[Path], object]
) -> None:
    place: Watched = request.getfixturevalue(how)
    go(place.drop)
    assert place.refreshed()
    assert place.watch.missing() == [str(place.drop)]
    place.drop.mkdir()
    assert place.refreshed()
    assert place.watch.missing() == []
    assert not place.watch.refresh()
    while not place.hints.empty():
        place.hints.get()
    (place.drop / "sheet.txt").write_text("text")
    assert place.hinted(None)


def test_a_folder_that_was_replaced_at_once_is_watched_again(watched: Watched) -> None:
    watched.drop.rename(watched.drop.with_name("old"))
    watched.drop.mkdir()
    assert watched.watch.refresh()
    (watched.drop / "sheet.txt").write_text("text")
    assert watched.hinted(watched.drop / "sheet.txt")


def test_polling_hints_at_what_came(polled: Watched) -> None:
    (polled.drop / "sheet.txt").write_text("text")
    assert polled.hinted(None)


def test_where_the_system_gives_no_watch_the_folders_are_listed_until_it_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ENOSPC is what inotify_add_watch(2) gives at the limit of watches."""

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "inotify watch limit reached")

    with monkeypatch.context() as patch, capture_logs() as logs:
        patch.setattr(InotifyObserver, "start", full)
        place = Watched(tmp_path, "events")
    assert [line["fault"] for line in logs] == ["[Errno 28] inotify watch limit reached"]
    assert place.watch.fault() == "[Errno 28] inotify watch limit reached"
    assert place.hinted(None)
    assert not place.watch.refresh()
    monkeypatch.setattr(place.watch, "_again_at", 0.0)
    assert place.watch.refresh()
    assert place.watch.fault() is None
    (place.drop / "sheet.txt").write_text("text")
    assert place.hinted(place.drop / "sheet.txt")
    place.watch.stop()


def test_folders_without_end_are_no_reason_to_see_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def endless(*_: object, **__: object) -> None:
        raise RecursionError("maximum recursion depth exceeded")

    monkeypatch.setattr(InotifyObserver, "start", endless)
    place = Watched(tmp_path, "events")
    assert place.watch.fault() == "maximum recursion depth exceeded"
    assert place.hinted(None)
    place.watch.stop()


def test_stopping_twice_is_no_fault(watched: Watched) -> None:
    watched.watch.stop()
    watched.watch.stop()
    (watched.drop / "sheet.txt").write_text("text")
    assert watched.hints.empty()
