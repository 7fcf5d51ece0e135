"""Folders and files by handles: no path is resolved twice, no link followed below a folder, regular files alone opened.

A folder that the settings name may be a link, as an admin chose; what lies below it may not.
"""

from __future__ import annotations

import errno
import hashlib
import io
import os
import secrets
import stat
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

FOLDER = os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC
FILE = os.O_RDONLY | os.O_NONBLOCK | os.O_NOCTTY | os.O_CLOEXEC
"""Without waiting: a pipe nobody writes to would hold whoever opens it for ever."""

BLOCK = 1 << 20


@contextmanager
def opened(folder: Path, within: Sequence[Path] = (), *, make: bool = False) -> Iterator[int]:
    """A handle on a folder of the settings. Raises OSError.

    Below one of `within`, where others may write, the way to it has no link either. With `make` it is made where it is
    not there, with what is missing above it.
    """
    handle = _made(folder, within) if make else _at(folder, within)
    try:
        yield handle
    finally:
        os.close(handle)


def sync(folder: Path) -> None:
    """Makes a new, renamed or removed entry of a folder of the settings last. Raises OSError."""
    with opened(folder) as handle:
        os.fsync(handle)


@contextmanager
def entered(folder: int, names: Iterable[str]) -> Iterator[int]:
    """A handle on a folder below another, through folders alone. Raises OSError."""
    handle = _below(os.dup(folder), names)
    try:
        yield handle
    finally:
        os.close(handle)


@contextmanager
def shelf(folder: int, name: str) -> Iterator[int]:
    """A handle on a folder in another, made where it is not there. Raises OSError."""
    handle = _made_in(folder, name)
    try:
        yield handle
    finally:
        os.close(handle)


def _at(folder: Path, within: Sequence[Path]) -> int:
    root = _root(folder, within)
    return os.open(folder, FOLDER) if root is None else _below(os.open(root, FOLDER), folder.relative_to(root).parts)


def _made(folder: Path, within: Sequence[Path]) -> int:
    try:
        return _at(folder, within)
    except FileNotFoundError:
        if folder.parent == folder or folder in within:
            raise
        if folder.is_symlink():  # an admin's link to a place that is away: nothing is made instead of it
            raise
    above = _made(folder.parent, within)
    try:
        return _made_in(above, folder.name)
    finally:
        os.close(above)


def _root(folder: Path, within: Sequence[Path]) -> Path | None:
    return next((each for each in within if each in folder.parents), None)


def _below(handle: int, names: Iterable[str]) -> int:
    """Takes over the handle."""
    for name in names:
        try:
            below = os.open(name, FOLDER | os.O_NOFOLLOW, dir_fd=handle)
        finally:
            os.close(handle)
        handle = below
    return handle


def _made_in(folder: int, name: str) -> int:
    try:
        return os.open(name, FOLDER | os.O_NOFOLLOW, dir_fd=folder)
    except FileNotFoundError:
        with suppress(FileExistsError):
            os.mkdir(name, dir_fd=folder)
        os.fsync(folder)
    return os.open(name, FOLDER | os.O_NOFOLLOW, dir_fd=folder)


def look(folder: int, name: str) -> os.stat_result | None:
    """What has this name in a folder, a link as itself; None where nothing has. Raises OSError for anything else."""
    try:
        return os.stat(name, dir_fd=folder, follow_symlinks=False)
    except FileNotFoundError:
        return None


def names_in(folder: int) -> list[str]:
    """The names of what is in a folder, in order. Raises OSError."""
    with os.scandir(folder) as entries:
        return sorted(entry.name for entry in entries)


def file_in(folder: int, name: str) -> BinaryIO:
    """A regular file, opened to be read. Raises OSError."""
    return _regular(os.open(name, FILE | os.O_NOFOLLOW, dir_fd=folder))


def read_at(path: Path, most: int) -> bytes:
    """All of a regular file that the settings name, links followed. Raises OSError, also where it is larger."""
    with _regular(os.open(path, FILE)) as file:
        return _bounded(file, most)


def read_in(folder: int, name: str, most: int) -> bytes:
    """All of a regular file in a folder. Raises OSError, also where it is larger."""
    with file_in(folder, name) as file:
        return _bounded(file, most)


def _regular(handle: int) -> BinaryIO:
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise OSError(errno.EINVAL, "expected a file, got something else")
    return os.fdopen(handle, "rb")


def _bounded(file: BinaryIO, most: int) -> bytes:
    large = os.fstat(file.fileno()).st_size > most
    data = b"" if large else file.read(most + 1)  # it may grow meanwhile
    if large or len(data) > most:
        raise OSError(errno.EFBIG, f"expected at most {most} bytes, got more")
    return data


def hash_of(file: BinaryIO) -> str:
    """SHA-256 of what is still to be read of a file, in blocks."""
    digest = hashlib.sha256()
    while block := file.read(BLOCK):
        digest.update(block)
    return digest.hexdigest()


def write(
    folder: int,
    name: str,
    data: bytes | BinaryIO,
    mode: int,
    *,
    most: int = sys.maxsize,
    read_back: bool = False,
    anew: bool = False,
) -> None:
    """The whole file or none of it, under its final name, on the disk when this returns. Raises OSError.

    `mode` is who may read and write it, less what the umask takes; `most` are the bytes taken of a file that may grow.
    With `read_back` the disk is asked what it has before the file gets its name. `anew` takes the place of no file.
    """
    source = io.BytesIO(data) if isinstance(data, bytes) else data
    temporary = f".{secrets.token_hex(8)}.tmp"
    handle = os.open(temporary, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, mode, dir_fd=folder)
    try:
        with os.fdopen(handle, "w+b", buffering=0) as file:
            written = _copied(source, handle, most)
            os.fsync(handle)
            if read_back:
                _drop_cache(handle)
                file.seek(0)
                if hash_of(file) != written:
                    raise OSError(errno.EIO, "the disk gives back other bytes than it was given")
        if anew and _linked(folder, temporary, name):
            os.unlink(temporary, dir_fd=folder)
        else:
            os.rename(temporary, name, src_dir_fd=folder, dst_dir_fd=folder)
    except BaseException:
        with suppress(OSError):
            os.unlink(temporary, dir_fd=folder)
        raise
    os.fsync(folder)


def _linked(folder: int, temporary: str, name: str) -> bool:
    """Whether the file has this name too now; on file systems on which a file has one name alone the place is held.

    Raises OSError where there is a file of this name.
    """
    try:
        os.link(temporary, name, src_dir_fd=folder, dst_dir_fd=folder)
    except OSError as fault:
        if fault.errno not in (errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK):
            raise
        os.close(os.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o666, dir_fd=folder))
        return False
    return True


def _copied(source: BinaryIO, handle: int, most: int) -> str:
    """The hash of what was copied."""
    digest = hashlib.sha256()
    while block := source.read(min(BLOCK, most)):
        most -= len(block)
        digest.update(block)
        rest = memoryview(block)
        while rest:
            rest = rest[os.write(handle, rest) :]
    return digest.hexdigest()


def _drop_cache(handle: int) -> None:
    """So that what is read comes from the disk; where the system has no such call it comes from memory."""
    with suppress(AttributeError, OSError):
        os.posix_fadvise(handle, 0, 0, os.POSIX_FADV_DONTNEED)
