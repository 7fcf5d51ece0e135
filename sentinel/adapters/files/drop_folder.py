"""The drop folders: what lies in them, reading it, taking it away. Never follows a link."""

from __future__ import annotations

import errno
import fnmatch
import itertools
import os
import re
import stat
import time
from collections.abc import Callable, Collection, Container, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import BinaryIO, NamedTuple

from sentinel.adapters.files import handles
from sentinel.adapters.files.put_aside import NOT_OURS, PutAside
from sentinel.core.dropped_file import (
    BEGINNING_BYTES,
    TAIL_BYTES,
    DroppedFile,
    Kind,
    NotListedError,
    StaysError,
    shown,
)

MOST_DEPTH = 64
"""So many folders below a drop folder are looked into: each is held open while those in it are."""

MOST_ENTRIES = 1_000_000
"""So many files and folders of a drop folder are listed."""

MOST_SHUT = 1000
"""So many folders that cannot be looked into are counted."""

MANY = 10_000
"""Where more lies in the drop folders, not everything is listed at every look."""

REST = 2.0
"""Then for so many times as long as a listing takes no other is made: a third of the time at most goes into it."""

LOOKED_AT_AGAIN = 20_000
"""So many of the files that were left are looked at in one listing, in turn, in case they were written to in place."""

GONE = (errno.ENOENT, errno.ENOTDIR, errno.ELOOP, errno.ESTALE)
"""What the system says of a folder that is gone, or swapped for something else, since it was listed."""


class FileReader:
    """Reads what was found, without following a link."""

    def beginning(self, found: DroppedFile) -> bytes:
        """The first bytes of a file. Raises OSError."""
        with _opened(found) as file:
            return file.read(BEGINNING_BYTES)

    def tail(self, found: DroppedFile) -> bytes:
        """The last bytes of a file. Raises OSError."""
        with _opened(found) as file:
            file.seek(max(0, found.size - TAIL_BYTES))
            return file.read(TAIL_BYTES)

    def hash_of(self, found: DroppedFile) -> str:
        """The SHA-256 of a file, read in blocks. Raises OSError."""
        with _opened(found) as file:
            return handles.hash_of(file)

    def read(self, found: DroppedFile) -> bytes:
        """All bytes of a file. Raises OSError."""
        with _opened(found) as file:
            return file.read(found.size + 1)  # one that grows meanwhile is another one, and read again


class NamedFiles(FileReader):
    """Files that somebody names by their path, links followed."""

    def real(self, path: Path) -> Path:
        """Where it is with every link followed; unlike Path.resolve, takes a link to itself."""
        return Path(os.path.realpath(path))

    def exists(self, path: Path) -> bool:
        """Whether anything is at this path, links followed."""
        return path.exists()

    def seen(self, path: Path) -> DroppedFile | None:
        """What is at this path, None where nothing is."""
        place = self.real(path)
        found = seen_at(place.parent, place.name)
        return replace(found, kind="file") if found is not None and found.kind == "hard link" else found

    def write_new(self, path: Path, data: bytes) -> None:
        """Writes a file that is not there yet, whole or not at all. Raises OSError."""
        with handles.opened(path.parent) as folder:
            handles.write(folder, path.name, data, 0o666, anew=True)

    def write_secret(self, path: Path, data: bytes) -> None:
        """The same, of a file that is closed to others. Raises OSError."""
        with handles.opened(path.parent) as folder:
            handles.write(folder, path.name, data, 0o600, anew=True)

    def make_folder(self, path: Path) -> bool:
        """Makes a folder, with those above it that are missing; whether it was not there. Raises OSError."""
        if path.is_dir():
            return False
        path.mkdir(parents=True)
        return True


class DropFolders(FileReader):
    """One or several folders with all below them, and the folder for what is put aside.

    `others` are further folders where others may write.
    """

    def __init__(
        self, drop: Sequence[Path], put_aside: Path, ignore: Sequence[str], others: Sequence[Path] = ()
    ) -> None:
        self.drop = tuple(drop)
        self.put_aside = put_aside
        self._aside = PutAside(put_aside, (*drop, *others))
        self._ignored = re.compile("|".join(map(fnmatch.translate, ignore)) or r"(?!)").match
        self._before: Mapping[str, DroppedFile] = {}
        self._left: dict[Path, dict[str, LeftNames]] = {}
        self._entries = self._looks = 0
        self._listed_until = 0.0
        self.owed = False
        """Whether the last look was not at everything."""
        self.unlisted: Mapping[str, Exception] = {}
        """What was not looked through, by drop folder."""

    def missing(self) -> list[Path]:
        """The drop folders that cannot be listed now, a share that is not mounted for one."""
        return [folder for folder in self.drop if not os.access(folder, os.R_OK | os.X_OK)]

    def identities(self) -> tuple[tuple[int, int], ...]:
        """Device and inode of each folder, (0, 0) for a missing one: they change when a folder is made anew."""
        return tuple(_identity(folder) for folder in self.drop)

    def found(self, closed: Collection[str] = (), left: Container[str] = ()) -> Iterator[DroppedFile]:
        """Every entry that is not a folder, not ignored and not `left` by its origin, the oldest first.

        `closed` are paths seen to be closed or moved in. Where so much lies there that listing takes its time, they
        and what was found before are looked at alone, and everything again after a while: `owed` until then.
        """
        self.owed = self._entries > MANY and time.monotonic() < self._listed_until
        entries = self._seen_again(closed, left) if self.owed else self._listed(closed, left)
        self._before = {f"{each.root}/{each.relative}": each for each in entries}
        return iter(sorted(entries, key=lambda found: (found.mtime_ns, found.relative)))

    def _listed(self, closed: Collection[str], left: Container[str]) -> list[DroppedFile]:
        began, entries, unlisted = time.monotonic(), list[DroppedFile](), dict[str, Exception]()
        aside, named = self._aside.identity(), {path.rpartition("/")[2] for path in closed}
        resting = sum(len(names) for folders in self._left.values() for names in folders.values())
        turns = 1 + resting // LOOKED_AT_AGAIN
        turn = LeftLook(named, turns, self._looks % turns)
        before, self._left, self._entries, self._looks = self._left, {}, 0, self._looks + 1
        for folder in self.drop:
            walk = _Walk(folder, aside, self._ignored, left, before.get(folder, {}), turn)
            try:
                walk.go()
                unlisted |= {} if walk.fault is None else {str(folder): walk.fault}
            except Exception as fault:  # one folder stops no other
                unlisted[str(folder)] = fault
            entries += walk.found
            self._left[folder] = walk.left
            self._entries += walk.entries
        self.unlisted = unlisted
        self._listed_until = time.monotonic() + REST * (time.monotonic() - began)
        return entries

    def _seen_again(self, closed: Collection[str], left: Container[str]) -> list[DroppedFile]:
        """What was found before, and what is named, as it is now."""
        again = [self.now(each) for each in self._before.values()]
        again += [self._named(path) for path in set(closed) - self._before.keys()]
        return [each for each in again if each is not None and each.kind != "folder" and each.origin not in left]

    def _named(self, path: str) -> DroppedFile | None:
        """What somebody saw at a path, if it is one that would be found."""
        for root in self.drop:
            relative = path.removeprefix(f"{root}/")
            parts = PurePosixPath(relative).parts
            if relative != path and len(parts) <= MOST_DEPTH + 1 and not any(map(self._ignored, parts)):
                return seen_at(root, relative, but=self._aside.identity())
        return None

    def now(self, found: DroppedFile) -> DroppedFile | None:
        """The same entry as it is now, None where it is gone."""
        return seen_at(Path(found.root), found.relative)

    def remove(self, found: DroppedFile) -> bool:
        """Takes a file away if it is still the very one that was read; tells whether it was. Raises StaysError."""
        try:
            with _folder_of(Path(found.root), found.relative) as folder:
                if _seen_in(folder, Path(found.root), found.relative) != found:
                    return False
                os.unlink(found.name, dir_fd=folder)
                os.fsync(folder)
        except (FileNotFoundError, NotADirectoryError):
            return False
        except OSError as fault:
            if fault.errno in NOT_OURS:
                raise StaysError(fault.strerror or str(fault)) from fault
            raise
        return True

    def free_name(self, name: str) -> str:
        """The name, or one made from it that nothing in the put-aside folder has."""
        return self._aside.free_name(name)

    def explain(self, name: str, reason: str) -> None:
        """Writes why the file that is put aside as `name` was not scored. Raises NotPutAsideError."""
        self._aside.explain(name, reason)

    def set_aside(self, found: DroppedFile, name: str) -> None:
        """Moves a file, a link itself, under `name` into the put-aside folder, if it is still the one that was read.

        Where another file has that name by now, it gets a further one. Raises NotPutAsideError, and StaysError where
        it cannot be taken away from where it is.
        """
        root = Path(found.root)
        with _folder_of(root, found.relative) as folder:
            status = handles.look(folder, found.name)
            if status is not None and _entry(root, found.relative, status) == found:
                self._aside.take(folder, found.name, status, name)

    def take_back(self, name: str, sha256: str | None) -> None:
        """Removes from the put-aside folder what has been scored after all, unless somebody changed it there."""
        self._aside.take_back(name, sha256)


Level = tuple[int, str, list[str]]

LeftNames = dict[str, tuple[int, int]]
"""Files of one folder that are left there: their inodes, and what tells whether they were written to."""


class LeftLook(NamedTuple):
    """Whose turn it is of the left files: those that are `named`, and one part of so many."""

    named: Collection[str]
    turns: int
    now: int


class _Walk:
    """Through a drop folder, folder by folder, each entered from the one above it, so that none can be swapped for a
    link meanwhile. What is gone meanwhile is passed by; what cannot be looked into is told.
    """

    def __init__(
        self,
        root: Path,
        aside: tuple[int, int],
        ignored: Callable[[str], object],
        left: Container[str],
        before: Mapping[str, LeftNames],
        turn: LeftLook,
    ) -> None:
        self._root = root
        self._aside = aside
        self._ignored = ignored
        self._origins = left
        self._before = before
        self._turn = turn
        self._shut: dict[str, str] = {}
        self._levels: list[Level] = []
        self.entries = 0
        self.found: list[DroppedFile] = []
        self.left: dict[str, LeftNames] = {}

    def go(self) -> None:
        """Raises what nobody foresaw."""
        try:
            handle = os.open(self._root, handles.FOLDER)
        except OSError as fault:
            if fault.errno not in (*GONE, errno.EACCES):  # `missing` tells of these
                self._close("", fault)
            return
        try:
            self._enter(handle, "")
            while self._levels:
                self._step()
        finally:
            for handle, _, _ in self._levels:
                os.close(handle)

    @property
    def fault(self) -> NotListedError | None:
        """Where it did not come: the first of these places."""
        if self.entries > MOST_ENTRIES:
            return NotListedError(f"expected at most {MOST_ENTRIES} files and folders, got more: the rest is not seen")
        if not self._shut:
            return None
        first = min(self._shut)
        more = f"; and {len(self._shut) - 1} more like it" if len(self._shut) > 1 else ""
        return NotListedError(f"{shown(first) or '.'}: {self._shut[first]}{more}")

    def _step(self) -> None:
        handle, relative, folders = self._levels[-1]
        if not folders or self.entries > MOST_ENTRIES:
            self._levels.pop()
            os.close(handle)
            return
        path = _joined(relative, folders[-1])
        if len(self._levels) > MOST_DEPTH:
            self._close(path, OSError(0, f"it lies more than {MOST_DEPTH} folders deep"))
            folders.pop()
            return
        try:
            below = os.open(folders.pop(), handles.FOLDER | os.O_NOFOLLOW, dir_fd=handle)
        except OSError as fault:
            self._close(path, fault)
            return
        if _place(os.fstat(below)) == self._aside:
            os.close(below)
            return
        self._enter(below, path)

    def _close(self, path: str, fault: OSError) -> None:
        if fault.errno not in GONE and len(self._shut) < MOST_SHUT:
            self._shut[path] = fault.strerror or str(fault)

    def _enter(self, handle: int, relative: str) -> None:
        """Lists one folder; takes over its handle."""
        folders: list[str] = []
        self._levels.append((handle, relative, folders))
        before, left = self._before.get(relative, {}), LeftNames()
        self.left[relative] = left
        named, turns, now = self._turn
        try:
            with os.scandir(handle) as entries:
                for entry in itertools.islice(entries, MOST_ENTRIES + 1 - self.entries):
                    self.entries += 1
                    name = entry.name
                    known = before.get(name)
                    if (
                        known is not None
                        and known[0] == entry.inode()
                        and known[0] % turns != now
                        and name not in named
                    ):
                        left[name] = known  # it need not be looked at this time
                    elif self._ignored(name):
                        continue
                    elif entry.is_dir(follow_symlinks=False):
                        folders.append(name)
                    else:
                        self._look_at(handle, _joined(relative, name), known, left)
        except OSError as fault:
            self._close(relative, fault)

    def _look_at(self, handle: int, path: str, known: tuple[int, int] | None, left: LeftNames) -> None:
        try:
            status = handles.look(handle, path.rpartition("/")[2])
        except OSError as fault:
            self._close(path, fault)
            return
        if status is None:
            return
        mark = status.st_ino, hash((status.st_size, status.st_mtime_ns, status.st_ctime_ns))
        name = path.rpartition("/")[2]
        if mark == known:
            left[name] = mark
            return
        one = _entry(self._root, path, status)
        if one.origin in self._origins:
            left[name] = mark
        elif one.kind != "folder":  # it is one since the listing
            self.found.append(one)


def _joined(relative: str, name: str) -> str:
    return f"{relative}/{name}" if relative else name


@contextmanager
def _folder_of(root: Path, relative: str, but: tuple[int, int] | None = None) -> Iterator[int]:
    """A handle on the folder of an entry; below the root no link is followed. Raises OSError, also within `but`."""
    handle = os.open(root, handles.FOLDER)
    try:
        for name in PurePosixPath(relative).parts[:-1]:
            below = os.open(name, handles.FOLDER | os.O_NOFOLLOW, dir_fd=handle)
            os.close(handle)
            handle = below
            if but is not None and _place(os.fstat(handle)) == but:
                raise FileNotFoundError(errno.ENOENT, "nothing is looked for there")
        yield handle
    finally:
        os.close(handle)


def _opened(found: DroppedFile) -> BinaryIO:
    """The very file that was found, and a regular one. Raises OSError."""
    with _folder_of(Path(found.root), found.relative) as folder:
        file = handles.file_in(folder, found.name)
    if os.fstat(file.fileno()).st_ino != found.inode:
        file.close()
        raise FileNotFoundError(errno.ENOENT, "another file has its name by now")
    return file


def _place(status: os.stat_result) -> tuple[int, int]:
    return status.st_dev, status.st_ino


def _identity(folder: Path) -> tuple[int, int]:
    try:
        return _place(folder.stat())
    except OSError:
        return (0, 0)


def seen_at(root: Path, relative: str, but: tuple[int, int] | None = None) -> DroppedFile | None:
    """The entry at this place as it is now, None where there is none, or it is in the folder `but`."""
    try:
        with _folder_of(root, relative, but) as folder:
            return _seen_in(folder, root, relative)
    except OSError:
        return None


def _seen_in(folder: int, root: Path, relative: str) -> DroppedFile | None:
    """Raises OSError where it cannot be told."""
    status = handles.look(folder, relative.rpartition("/")[2])
    return None if status is None else _entry(root, relative, status)


def _entry(root: Path, relative: str, status: os.stat_result) -> DroppedFile:
    return DroppedFile(
        root=str(root),
        relative=relative,
        kind=_kind(status),
        inode=status.st_ino,
        size=status.st_size,
        mtime_ns=status.st_mtime_ns,
        ctime_ns=status.st_ctime_ns,
    )


def _kind(status: os.stat_result) -> Kind:
    if stat.S_ISREG(status.st_mode):
        return "file" if status.st_nlink <= 1 else "hard link"
    if stat.S_ISDIR(status.st_mode):
        return "folder"
    return "link" if stat.S_ISLNK(status.st_mode) else "other"
