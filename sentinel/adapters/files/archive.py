"""Writing files so that they are there after a power cut; every file that was read, kept for good under its SHA-256."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import structlog

from sentinel.adapters.files import handles

log = structlog.get_logger()

PRIVATE = 0o640
PUBLIC = 0o666

MARK = "archive-mark.txt"
"""In the archive, so that an empty mount point is not taken for it."""
MARK_TEXT = "\nThis is the sentinel's archive. The line above tells it from an empty mount point: leave it here.\n"

LONGEST_MARK = 4096

DAMAGED = "damaged"
"""The folder of the archive for files that were not what they are called."""

NO_FILE = (errno.EIO, errno.ELOOP, errno.EINVAL, errno.ENXIO, errno.EISDIR)
"""What the system says of what cannot be read any more, or is no file at all."""


def write_durably(path: Path, data: bytes, mode: int = PRIVATE) -> None:
    """The whole file or none of it, under its final name, on the disk when this returns.

    `mode` is who may read and write it, less what the umask takes.
    """
    with handles.opened(path.parent, make=True) as folder:
        handles.write(folder, path.name, data, mode)


class Archive:
    """A folder of files named by their content, spread over 256 sub-folders.

    `mark` is the file, elsewhere, in which the mark of this archive is noted when it is first used. From then on a
    folder without that mark is another one, and neither filled nor believed to have lost its files.
    """

    def __init__(self, folder: Path, mark: Path | None = None) -> None:
        self._folder = folder
        self._mark = mark
        self._known: tuple[int, int] | None = None

    def keep(self, data: bytes) -> str:
        """The bytes' hash; they are on the disk, and were read back from it, when this returns.

        Raises OSError where they cannot be.
        """
        name = hashlib.sha256(data).hexdigest()
        with self._opened() as archive, handles.shelf(archive, name[:2]) as folder:
            if not self._is_sound(archive, folder, name):
                handles.write(folder, name, data, PRIVATE, read_back=True)
        return name

    def fetch(self, name: str) -> bytes:
        """The bytes of this hash. Raises OSError where they are not there, or no longer the same."""
        try:
            with (
                handles.opened(self._folder) as archive,
                handles.entered(archive, [name[:2]]) as folder,
                handles.file_in(folder, name) as file,
            ):
                data = file.read()
        except FileNotFoundError:
            if not self._is_there():  # a mount point without its disk: what is gone may be back
                raise OSError(errno.ENODEV, "the archive is empty, or its disk is not mounted") from None
            raise
        if hashlib.sha256(data).hexdigest() != name:
            raise OSError(errno.EIO, f"other bytes under the name {name}")
        return data

    def damaged(self) -> list[str]:
        """The names of files that were not what they are called, and lie in a folder of their own now."""
        try:
            with handles.opened(self._folder) as archive, handles.entered(archive, [DAMAGED]) as folder:
                return handles.names_in(folder)
        except OSError:
            return []

    @contextmanager
    def _opened(self) -> Iterator[int]:
        """The archive, to be written to, made where none was used before. Raises OSError where it is another one."""
        noted = self._noted()
        try:
            opening = handles.opened(self._folder, make=noted is None)
            with opening as archive:
                self._recognise(archive, noted)
                yield archive
        except FileNotFoundError as fault:
            if noted is not None and not self._folder.exists():
                raise self._another() from fault
            raise

    def _recognise(self, archive: int, noted: str | None) -> None:
        status = os.fstat(archive)
        identity = (status.st_dev, status.st_ino)
        if self._mark is None or (noted is not None and identity == self._known):
            return
        found = _mark_in(archive)
        if noted is None:
            if found is None:
                found = secrets.token_hex(16)
                handles.write(archive, MARK, (found + MARK_TEXT).encode(), PUBLIC)
            write_durably(self._mark, f"{found}\n".encode(), PUBLIC)
        elif found != noted:
            raise self._another()
        self._known = identity

    def _another(self) -> OSError:
        return OSError(
            errno.ENODEV,
            f"expected the archive that was used before, got a folder without its mark: is its disk mounted? "
            f"Where a new archive is meant, remove {self._mark}",
        )

    def _noted(self) -> str | None:
        """The mark of the archive that was used before. Raises OSError where that cannot be told."""
        if self._mark is None:
            return None
        try:
            return _first_line(handles.read_at(self._mark, LONGEST_MARK))
        except FileNotFoundError:
            return None

    def _is_there(self) -> bool:
        """Whether this is the archive, and not what is left where it was mounted."""
        try:
            noted = self._noted()
            with handles.opened(self._folder) as archive:
                if noted is not None:
                    return _mark_in(archive) == noted
                return any(_is_shelf(name) for name in handles.names_in(archive))
        except OSError:
            return False

    def _is_sound(self, archive: int, folder: int, name: str) -> bool:
        """Whether what stands there is what it is called, which its size alone does not tell.

        What is something else is kept in a folder of its own.
        """
        if handles.look(folder, name) is None:
            return False
        try:
            with handles.file_in(folder, name) as file:
                if handles.hash_of(file) == name:
                    return True
        except OSError as fault:
            if fault.errno not in NO_FILE:
                raise
        with handles.shelf(archive, DAMAGED) as damaged:
            os.rename(name, f"{name}.{secrets.token_hex(4)}", src_dir_fd=folder, dst_dir_fd=damaged)
            os.fsync(damaged)
        log.error("damaged file of the archive replaced, and kept beside", name=name, folder=DAMAGED)
        return False


def _is_shelf(name: str) -> bool:
    return re.fullmatch("[0-9a-f]{2}", name) is not None


def _mark_in(archive: int) -> str | None:
    try:
        return _first_line(handles.read_in(archive, MARK, LONGEST_MARK))
    except FileNotFoundError:
        return None


def _first_line(text: bytes) -> str | None:
    return text.decode("ascii", "replace").partition("\n")[0].strip() or None
