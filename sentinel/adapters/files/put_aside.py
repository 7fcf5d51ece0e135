"""The put-aside folder: files that were not taken, each with its reason beside it."""

from __future__ import annotations

import errno
import itertools
import os
import re
import stat
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from sentinel.adapters.files import handles
from sentinel.adapters.files.archive import PUBLIC
from sentinel.core.dropped_file import MEGABYTE, NotPutAsideError, StaysError

REASON = ".reason.txt"
NO_REASON = ".file"
"""Added to the name of a file that is called like a reason, so that no reason ever replaces a file."""

LARGEST_COPY = 1000 * MEGABYTE
"""A larger file is not copied to another disk: the work would stand still meanwhile. It stays where it is."""

NOT_OURS = (errno.EACCES, errno.EPERM, errno.EROFS)
"""What the system says where a file may not be taken away."""


class PutAside:
    """One folder, flat. Below a drop folder, where others may write, no link leads to it."""

    def __init__(self, folder: Path, within: Sequence[Path]) -> None:
        self._folder = folder
        self._within = within
        self._tidied = False

    def identity(self) -> tuple[int, int]:
        """Device and inode, (0, 0) where it is not there."""
        try:
            with handles.opened(self._folder, self._within) as folder:
                status = os.fstat(folder)
        except OSError:
            return (0, 0)
        return status.st_dev, status.st_ino

    def free_name(self, name: str) -> str:
        """The name, or one made from it, that nothing has."""
        try:
            with handles.opened(self._folder, self._within) as folder:
                return _free(folder, name)
        except OSError:
            return next(_names(name))

    def explain(self, name: str, reason: str) -> None:
        """Writes why the file that is put aside as `name` was not taken. Raises NotPutAsideError."""
        with self._opened() as folder:
            handles.write(folder, f"{name}{REASON}", reason.encode(), PUBLIC)

    def take(self, source: int, own_name: str, seen: os.stat_result, name: str) -> None:
        """Moves what was `seen` in the folder `source` under `name` to here; where that name is taken, under a further
        one.

        On another disk the whole of it is there, read back from it, before it is taken away. What has taken its place
        meanwhile goes back. Raises NotPutAsideError, and StaysError where it cannot be taken away or copied.
        """
        with self._opened() as folder, suppress(FileNotFoundError):  # gone by now: so nothing is to be moved
            free = _free(folder, name)
            try:
                os.rename(own_name, free, src_dir_fd=source, dst_dir_fd=folder)
            except OSError as fault:
                if fault.errno in NOT_OURS:
                    raise StaysError(_said(fault)) from fault
                if fault.errno != errno.EXDEV:
                    raise
                _copied(source, own_name, seen, folder, free)
                try:
                    _unlinked(source, own_name, seen)
                except BaseException:
                    with suppress(OSError):
                        os.unlink(free, dir_fd=folder)
                    raise
            else:
                _returned(source, own_name, seen, folder, free)
            os.fsync(folder)
            os.fsync(source)

    def take_back(self, name: str, sha256: str | None) -> None:
        """Removes what has been scored after all, and its reason, unless somebody changed it here. Raises OSError."""
        try:
            with handles.opened(self._folder, self._within) as folder:
                if handles.look(folder, name) is not None:
                    try:
                        with handles.file_in(folder, name) as file:
                            if handles.hash_of(file) != sha256:
                                return
                    except OSError as fault:
                        if fault.errno in (errno.ELOOP, errno.EINVAL, errno.ENXIO):  # a link, or no file
                            return
                        raise
                    os.unlink(name, dir_fd=folder)
                with suppress(FileNotFoundError):
                    os.unlink(f"{name}{REASON}", dir_fd=folder)
        except FileNotFoundError:
            return

    def let_go(self, before: datetime) -> int:
        """Removes what was put here before that, with its reasons; returns how many files. What has no reason beside it
        is not ours. Raises OSError."""
        removed = 0
        with suppress(FileNotFoundError), handles.opened(self._folder, self._within) as folder:
            for reason in [name for name in handles.names_in(folder) if name.endswith(REASON)]:
                told = handles.look(folder, reason)
                if told is None or not stat.S_ISREG(told.st_mode) or told.st_mtime >= before.timestamp():
                    continue
                name = reason.removesuffix(REASON)
                put = handles.look(folder, name)
                if put is not None and not stat.S_ISDIR(put.st_mode):
                    os.unlink(name, dir_fd=folder)
                    removed += 1
                os.unlink(reason, dir_fd=folder)
            os.fsync(folder)
        return removed

    def _tidy(self, folder: int) -> None:
        """Once: what a copy left that was cut off with the service itself. Its original is where it came."""
        if not self._tidied:
            for name in filter(_is_temporary, handles.names_in(folder)):
                os.unlink(name, dir_fd=folder)
            self._tidied = True

    @contextmanager
    def _opened(self) -> Iterator[int]:
        try:
            with handles.opened(self._folder, self._within, make=True) as folder:
                self._tidy(folder)
                yield folder
        except OSError as fault:
            raise NotPutAsideError(_said(fault)) from fault


def _is_temporary(name: str) -> bool:
    return re.fullmatch(r"\.[0-9a-f]{16}\.tmp", name) is not None


def _names(name: str) -> Iterator[str]:
    """The name, and further ones, none of them like that of a reason."""
    if name.lower().endswith(REASON):
        name += NO_REASON
    yield name
    stem, dot, ending = name.partition(".")
    yield from (f"{stem}-{number}{dot}{ending}" for number in itertools.count(2))


def _free(folder: int, name: str) -> str:
    return next(each for each in _names(name) if handles.look(folder, each) is None)


def _said(fault: OSError) -> str:
    return fault.strerror or str(fault)


def _same(one: os.stat_result | None, other: os.stat_result) -> bool:
    """Whether it is the very same, moved at most."""
    return one is not None and _mark(one) == _mark(other)


def _mark(status: os.stat_result) -> tuple[int, int, int, int]:
    return status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns


def _returned(source: int, own_name: str, seen: os.stat_result, folder: int, name: str) -> None:
    """Moves back what took the place of what was seen, at the last moment; it is looked at anew."""
    if _same(handles.look(folder, name), seen):
        return
    free = _free(source, own_name)
    os.rename(name, free, src_dir_fd=folder, dst_dir_fd=source)


def _copied(source: int, own_name: str, seen: os.stat_result, folder: int, name: str) -> None:
    """The whole of it on the other disk under this name, or nothing. Raises OSError, StaysError."""
    if stat.S_ISLNK(seen.st_mode):
        try:
            os.symlink(os.readlink(own_name, dir_fd=source), name, dir_fd=folder)
        except PermissionError as fault:  # a disk without links
            raise StaysError(_said(fault)) from fault
        return
    if not stat.S_ISREG(seen.st_mode) or seen.st_nlink > 1:
        raise StaysError("the put-aside folder is on another disk, and this is no file that may be copied there")
    if seen.st_size > LARGEST_COPY:
        raise StaysError("the put-aside folder is on another disk, and the file too large to be copied there")
    room = os.fstatvfs(folder)
    if seen.st_size > room.f_bavail * room.f_frsize:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    try:
        file = handles.file_in(source, own_name)
    except PermissionError as fault:
        raise StaysError(_said(fault)) from fault
    with file:
        now = os.fstat(file.fileno())
        if not _same(now, seen) or now.st_nlink > 1:
            raise FileNotFoundError(errno.ENOENT, "another file has its name by now")
        mode = stat.S_IMODE(seen.st_mode) & 0o777 | 0o600
        handles.write(folder, name, file, mode, most=seen.st_size, read_back=True)


def _unlinked(source: int, own_name: str, seen: os.stat_result) -> None:
    if not _same(handles.look(source, own_name), seen):
        raise FileNotFoundError(errno.ENOENT, "another file has its name by now")
    try:
        os.unlink(own_name, dir_fd=source)
    except OSError as fault:
        raise StaysError(_said(fault)) from fault
