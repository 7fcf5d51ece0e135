"""The drop folders: what lies in them, reading it, taking it away. Never follows a link."""

from __future__ import annotations

import errno
import fnmatch
import hashlib
import itertools
import os
import re
import secrets
import shutil
import stat
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path, PurePosixPath
from typing import BinaryIO

import structlog

from sentinel.adapters.files.archive import PUBLIC, make_folder, write_durably
from sentinel.core.dropped_file import BEGINNING_BYTES, TAIL_BYTES, DroppedFile, Kind, shown

log = structlog.get_logger()

FOLDER = os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC

MOST_DEPTH = 64
"""So many folders below a drop folder are looked into: each is held open while those in it are."""


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
        self.unlisted: Mapping[str, Exception] = {}
        self._ignored = re.compile("|".join(map(fnmatch.translate, ignore)) or r"(?!)").match

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
                entries += self._below(folder)
            except Exception as fault:  # one folder stops no other
                self.unlisted[str(folder)] = fault
        return iter(sorted(entries, key=lambda found: (found.mtime_ns, found.relative)))

    def _below(self, root: Path) -> list[DroppedFile]:
        """Folder by folder, each entered from the one above it, so that none can be swapped for a link meanwhile."""
        found: list[DroppedFile] = []
        aside = _identity(self._put_aside)
        levels: list[tuple[int, str, list[str]]] = []
        try:
            self._enter(os.open(root, FOLDER), root, "", levels, found)
            while levels:
                handle, relative, folders = levels[-1]
                if not folders:
                    levels.pop()
                    os.close(handle)
                    continue
                name = folders.pop()
                path = f"{relative}/{name}" if relative else name
                if len(levels) > MOST_DEPTH:
                    log.warning("folder not looked into: it lies too deep", folder=shown(path), most=MOST_DEPTH)
                    continue
                try:
                    below = os.open(name, FOLDER | os.O_NOFOLLOW, dir_fd=handle)
                except OSError:
                    continue  # gone, swapped for a link, or not for us
                status = os.fstat(below)
                if (status.st_dev, status.st_ino) == aside:
                    os.close(below)
                    continue
                self._enter(below, root, path, levels, found)
        except OSError:
            pass  # gone, or not for us: `missing` tells of the folders that matter
        finally:
            for handle, _, _ in levels:
                os.close(handle)
        return found

    def _enter(
        self, handle: int, root: Path, relative: str, levels: list[tuple[int, str, list[str]]], found: list[DroppedFile]
    ) -> None:
        """Lists one folder; takes over its handle."""
        folders: list[str] = []
        levels.append((handle, relative, folders))
        try:
            with os.scandir(handle) as entries:
                for entry in entries:
                    if self._ignored(entry.name):
                        continue
                    if entry.is_dir(follow_symlinks=False):
                        folders.append(entry.name)
                    elif one := _seen_in(handle, root, f"{relative}/{entry.name}" if relative else entry.name):
                        found.append(one)
        except OSError:
            return

    def now(self, found: DroppedFile) -> DroppedFile | None:
        """The same entry as it is now, None where it is gone."""
        return seen_at(Path(found.root), found.relative)

    def remove(self, found: DroppedFile) -> bool:
        """Takes a file away if it is still the very one that was read; tells whether it was."""
        try:
            with _folder_of(Path(found.root), found.relative) as folder:
                if _seen_in(folder, Path(found.root), found.relative) != found:
                    return False
                os.unlink(found.name, dir_fd=folder)
                os.fsync(folder)
        except (FileNotFoundError, NotADirectoryError):
            return False
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
        make_folder(self._put_aside)
        with _folder_of(Path(found.root), found.relative) as folder, _opened_folder(self._put_aside) as aside:
            if _seen_in(folder, Path(found.root), found.relative) != found:
                return
            free = self.free_name(name)
            try:
                os.rename(found.name, free, src_dir_fd=folder, dst_dir_fd=aside)
            except OSError as fault:
                if fault.errno != errno.EXDEV:
                    raise
                _copied(found, folder, aside, free)
                if _seen_in(folder, Path(found.root), found.relative) != found:
                    os.unlink(free, dir_fd=aside)
                    return
                os.fsync(aside)
                os.unlink(found.name, dir_fd=folder)
            os.fsync(aside)
            os.fsync(folder)

    def take_back(self, name: str, sha256: str | None) -> None:
        """Removes from the put-aside folder what has been scored after all, unless somebody changed it there."""
        aside = self._put_aside / name
        if aside.is_file() and hashlib.sha256(aside.read_bytes()).hexdigest() != sha256:
            return
        aside.unlink(missing_ok=True)
        (self._put_aside / f"{name}.reason.txt").unlink(missing_ok=True)


@contextmanager
def _opened_folder(folder: Path) -> Iterator[int]:
    """A handle on a folder of the settings, which may be a link."""
    handle = os.open(folder, FOLDER)
    try:
        yield handle
    finally:
        os.close(handle)


@contextmanager
def _folder_of(root: Path, relative: str) -> Iterator[int]:
    """A handle on the folder of an entry; below the root no link is followed. Raises OSError."""
    handle = os.open(root, FOLDER)
    try:
        for name in PurePosixPath(relative).parts[:-1]:
            below = os.open(name, FOLDER | os.O_NOFOLLOW, dir_fd=handle)
            os.close(handle)
            handle = below
        yield handle
    finally:
        os.close(handle)


def _copied(found: DroppedFile, folder: int, aside: int, name: str) -> None:
    """The whole of it on the other disk under this name, or nothing and OSError. Only files and links are copied."""
    if found.kind == "link":
        os.symlink(os.readlink(found.name, dir_fd=folder), name, dir_fd=aside)
        return
    with _opened(found) as source:
        mode = stat.S_IMODE(os.fstat(source.fileno()).st_mode) & 0o777
        temporary = f".{secrets.token_hex(8)}.tmp"
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600, dir_fd=aside)
        try:
            with os.fdopen(handle, "wb") as copy:
                shutil.copyfileobj(source, copy)
                copy.flush()
                os.fchmod(copy.fileno(), mode)
                os.fsync(copy.fileno())
            os.rename(temporary, name, src_dir_fd=aside, dst_dir_fd=aside)
        except BaseException:
            with suppress(FileNotFoundError):
                os.unlink(temporary, dir_fd=aside)
            raise


def _opened(found: DroppedFile) -> BinaryIO:
    """The very file that was found, and a regular one. Raises OSError."""
    with _folder_of(Path(found.root), found.relative) as folder:
        handle = os.open(
            found.name, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_NOCTTY | os.O_CLOEXEC, dir_fd=folder
        )
    file = os.fdopen(handle, "rb")
    status = os.fstat(handle)
    if not stat.S_ISREG(status.st_mode):
        file.close()
        raise OSError(errno.EINVAL, "expected a file, got something else")
    if status.st_ino != found.inode:
        file.close()
        raise FileNotFoundError(errno.ENOENT, "another file has its name by now")
    return file


def _identity(folder: Path) -> tuple[int, int]:
    try:
        status = folder.stat()
    except OSError:
        return (0, 0)
    return (status.st_dev, status.st_ino)


def seen_at(root: Path, relative: str) -> DroppedFile | None:
    """The entry at this place as it is now, None where there is none."""
    try:
        with _folder_of(root, relative) as folder:
            return _seen_in(folder, root, relative)
    except OSError:
        return None


def _seen_in(folder: int, root: Path, relative: str) -> DroppedFile | None:
    try:
        status = os.stat(relative.rpartition("/")[2], dir_fd=folder, follow_symlinks=False)
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
