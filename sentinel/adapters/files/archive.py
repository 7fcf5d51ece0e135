"""Writing files so that they are there after a power cut; every file that was read, kept for good under its SHA-256."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import secrets
from collections.abc import Iterator
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

from sentinel.core.dropped_file import Came

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


CAME = "came"
"""The sub-folder of the notes of what came, a file a month, a line a file; nothing in it is ever changed."""
MOST_REMEMBERED = 10_000


def _line(came: Came) -> bytes:
    times = {"at": came.at.isoformat(), "written_at": came.written_at.isoformat()}
    return json.dumps({**asdict(came), **times}).encode() + b"\n"


def _came(line: bytes) -> Came | None:
    """What a line says; None for half a one, and for what another program wrote."""
    try:
        told = json.loads(line)
        at, written_at = datetime.fromisoformat(told["at"]), datetime.fromisoformat(told["written_at"])
        texts = {name: str(told[name]) for name in ("sha256", "name", "folder", "origin")}
        return Came(at=at, written_at=written_at, events=bool(told["events"]), **texts)
    except (LookupError, TypeError, ValueError, RecursionError):
        return None


def _is_hash(name: str) -> bool:
    return len(name) == 64 and set(name) <= set("0123456789abcdef")


class Archive:
    """A folder of files named by their content, spread over 256 sub-folders."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._noted: set[tuple[str, str]] = set()

    def keep(self, data: bytes) -> str:
        """The bytes' hash; they are on the disk when this returns. Raises OSError where they cannot be."""
        name = hashlib.sha256(data).hexdigest()
        path = self._path(name)
        if not self._is_sound(path, name):
            write_durably(path, data)
        return name

    def note(self, came: Came) -> None:
        """Writes down how a file came, durably, and beside the bytes: so a store that is lost can be read again from
        here. One that is tried again and again is noted once. Raises OSError."""
        mark = (came.sha256, came.origin)
        if mark in self._noted:
            return
        path = self._folder / CAME / f"{came.at.astimezone(UTC):%Y-%m}.jsonl"
        made = make_folder(path.parent)
        fresh = not path.exists()
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, PRIVATE)
        with os.fdopen(handle, "r+b") as file:
            size = file.seek(0, os.SEEK_END)
            torn = size > 0 and os.pread(file.fileno(), 1, size - 1) != b"\n"  # a power cut left half a line
            file.write(b"\n" * torn + _line(came))
            file.flush()
            os.fsync(file.fileno())
        for folder in (*([path.parent] if fresh else []), *(new.parent for new in made)):
            sync_folder(folder)
        if len(self._noted) > MOST_REMEMBERED:
            self._noted.clear()
        self._noted.add(mark)

    def came(self) -> list[Came]:
        """Every file that was noted, once each, in the order in which they came first. Raises OSError."""
        found: dict[tuple[str, str], Came] = {}
        for path in sorted((self._folder / CAME).glob("*.jsonl")):
            for line in path.read_bytes().splitlines():
                if (came := _came(line)) is not None:
                    found.setdefault((came.sha256, came.origin), came)
        return list(found.values())

    def names(self, after: str = "") -> Iterator[str]:
        """The hashes of everything in it behind this one, in their order. Raises OSError."""
        for folder in sorted(self._folder.glob("[0-9a-f][0-9a-f]")):
            if folder.name >= after[:2]:
                yield from (
                    name for name in sorted(each.name for each in folder.iterdir()) if _is_hash(name) and name > after
                )

    def size(self, name: str) -> int | None:
        """How many bytes stand under this hash; None where there is no such file. Raises OSError."""
        try:
            return self._path(name).stat().st_size
        except FileNotFoundError:
            return None

    def holds(self, name: str) -> bool:
        """Whether what stands under this hash is what it says, read whole. Raises OSError where it cannot be read."""
        with self._path(name).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == name

    def is_there(self) -> bool:
        """Whether it can be looked at: a disk that is not mounted is no damage."""
        return any(self._folder.glob("[0-9a-f][0-9a-f]"))

    def temporaries(self) -> Iterator[Path]:
        """Files that were begun and may have been broken off."""
        yield from self._folder.glob(".*.tmp")
        yield from self._folder.glob("*/.*.tmp")

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
