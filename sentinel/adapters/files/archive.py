"""Writing files so that they are there after a power cut; every file that was read, kept for good under its SHA-256."""

from __future__ import annotations

import errno
import hashlib
import os
import secrets
from pathlib import Path

PRIVATE = 0o640
PUBLIC = 0o666


def write_durably(path: Path, data: bytes, mode: int = PRIVATE) -> None:
    """The whole file or none of it, under its final name, on the disk when this returns.

    `mode` is who may read and write it, less what the umask takes.
    """
    made = make_folder(path.parent)
    temporary = path.with_name(f".{secrets.token_hex(8)}.tmp")
    try:
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, mode)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    for folder in (path.parent, *(new.parent for new in made)):
        sync_folder(folder)


def make_folder(folder: Path) -> list[Path]:
    """Makes the folder with all above it; returns those that are new, whose parents are yet to be synced."""
    made = [new for new in (folder, *folder.parents) if not new.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return made


def sync_folder(folder: Path) -> None:
    """Makes a new, renamed or removed entry of a folder last."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


class Archive:
    """A folder of files named by their content, spread over 256 sub-folders."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, data: bytes) -> str:
        """The bytes' hash; they are on the disk when this returns. Raises OSError where they cannot be."""
        name = hashlib.sha256(data).hexdigest()
        path = self._path(name)
        if not self._is_sound(path, name):
            write_durably(path, data)
        return name

    def fetch(self, name: str) -> bytes:
        """The bytes of this hash. Raises OSError where they are not there, or no longer the same."""
        try:
            data = self._path(name).read_bytes()
        except FileNotFoundError:
            if not any(
                self._folder.glob("[0-9a-f][0-9a-f]")
            ):  # a mount point without its disk: what is gone may be back
                raise OSError(errno.ENODEV, "the archive is empty, or its disk is not mounted") from None
            raise
        if hashlib.sha256(data).hexdigest() != name:
            raise OSError(errno.EIO, f"other bytes under the name {name}")
        return data

    def _is_sound(self, path: Path, name: str) -> bool:
        """Whether what stands there is what it is called: its size alone does not tell."""
        try:
            return hashlib.sha256(path.read_bytes()).hexdigest() == name
        except OSError:
            return False

    def _path(self, name: str) -> Path:
        return self._folder / name[:2] / name
