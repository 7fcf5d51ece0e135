"""The drop folders: what lies in them, reading it, taking it away. Never follows a link."""

from __future__ import annotations

import fnmatch
import hashlib
import itertools
import os
import shutil
import stat
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import BinaryIO

from sentinel.adapters.files.archive import PUBLIC, make_folder, sync_folder, write_durably
from sentinel.core.dropped_file import TAIL_BYTES, DroppedFile, Kind


class FileReader:
    """Reads what was found, without following a link."""

    def tail(self, found: DroppedFile) -> bytes:
        """The last bytes of a file. Raises OSError."""
        with _opened(found) as file:
            file.seek(max(0, found.size - TAIL_BYTES))
            return file.read(TAIL_BYTES)

    def read(self, found: DroppedFile) -> bytes:
        """All bytes of a file. Raises OSError."""
        with _opened(found) as file:
            return file.read()


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
        return seen_at(place.parent, place.name)

    def write_new(self, path: Path, data: bytes) -> None:
        """Writes a file that is not there yet. Raises OSError where it is, or cannot be written."""
        with path.open("xb") as file:
            file.write(data)


class DropFolders(FileReader):
    """One or several folders with all below them, and the folder for what is put aside."""

    def __init__(self, drop: Sequence[Path], put_aside: Path, ignore: Sequence[str]) -> None:
        self.drop = tuple(drop)
        self._put_aside = put_aside
        self._ignore = tuple(ignore)

    def missing(self) -> list[Path]:
        """The drop folders that cannot be listed now, a share that is not mounted for one."""
        return [folder for folder in self.drop if not os.access(folder, os.R_OK | os.X_OK)]

    def identities(self) -> tuple[tuple[int, int], ...]:
        """Device and inode of each folder, (0, 0) for a missing one: they change when a folder is made anew."""
        return tuple(_identity(folder) for folder in self.drop)

    def found(self) -> Iterator[DroppedFile]:
        """Every entry that is not a folder and not ignored, the oldest first."""
        entries: list[DroppedFile] = []
        self.unlisted = {}
        for folder in self.drop:
            try:
                entries += self._below(folder, "")
            except Exception as fault:  # one folder stops no other
                self.unlisted[str(folder)] = fault
        return iter(sorted(entries, key=lambda found: (found.mtime_ns, found.relative)))

    def _below(self, root: Path, relative: str) -> Iterator[DroppedFile]:
        try:
            with os.scandir(root / relative) as entries:
                listed = list(entries)
        except OSError:
            return  # gone, or not for us: `missing` tells of the folders that matter
        for entry in listed:
            path = f"{relative}/{entry.name}" if relative else entry.name
            if any(fnmatch.fnmatch(entry.name, pattern) for pattern in self._ignore):
                continue
            if entry.is_dir(follow_symlinks=False):
                if Path(entry.path) != self._put_aside:
                    yield from self._below(root, path)
            elif found := seen_at(root, path):
                yield found

    def now(self, found: DroppedFile) -> DroppedFile | None:
        """The same entry as it is now, None where it is gone."""
        return seen_at(Path(found.root), found.relative)

    def remove(self, found: DroppedFile) -> bool:
        """Takes a file away if it is still the very one that was read; tells whether it was."""
        path = _path(found)
        if self.now(found) != found:
            return False
        path.unlink()
        sync_folder(path.parent)
        return True

    def free_name(self, name: str) -> str:
        """The name, or one made from it that nothing in the put-aside folder has."""
        stem, dot, ending = name.partition(".")
        candidates = (f"{stem}-{number}{dot}{ending}" for number in itertools.count(2))
        while os.path.lexists(self._put_aside / name):
            name = next(candidates)
        return name

    def explain(self, name: str, reason: str) -> None:
        """Writes why the file that is put aside as `name` was not scored."""
        write_durably(self._put_aside / f"{name}.reason.txt", reason.encode(), PUBLIC)

    def set_aside(self, found: DroppedFile, name: str) -> None:
        """Moves a file, a link itself, under `name` into the put-aside folder, if it is still the one that was read.

        Where another file has that name by now, it gets a further one.
        """
        if self.now(found) == found:
            source = _path(found)
            make_folder(self._put_aside)
            shutil.move(source, self._put_aside / self.free_name(name))
            sync_folder(source.parent)
            sync_folder(self._put_aside)

    def take_back(self, name: str, sha256: str | None) -> None:
        """Removes from the put-aside folder what has been scored after all, unless somebody changed it there."""
        aside = self._put_aside / name
        if aside.is_file() and hashlib.sha256(aside.read_bytes()).hexdigest() != sha256:
            return
        aside.unlink(missing_ok=True)
        (self._put_aside / f"{name}.reason.txt").unlink(missing_ok=True)


def _path(found: DroppedFile) -> Path:
    return Path(found.root) / found.relative


def _opened(found: DroppedFile) -> BinaryIO:
    handle = os.open(_path(found), os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    return os.fdopen(handle, "rb")


def _identity(folder: Path) -> tuple[int, int]:
    try:
        status = folder.stat()
    except OSError:
        return (0, 0)
    return (status.st_dev, status.st_ino)


def seen_at(root: Path, relative: str) -> DroppedFile | None:
    """The entry at this place as it is now, None where there is none."""
    try:
        status = (root / relative).lstat()
    except OSError:
        return None
    return DroppedFile(
        root=str(root),
        relative=relative,
        kind=_kind(status.st_mode),
        inode=status.st_ino,
        size=status.st_size,
        mtime_ns=status.st_mtime_ns,
        ctime_ns=status.st_ctime_ns,
    )


def _kind(mode: int) -> Kind:
    if stat.S_ISREG(mode):
        return "file"
    return "link" if stat.S_ISLNK(mode) else "other"
