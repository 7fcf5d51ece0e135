"""Writing files so that they are there after a power cut; every file that was read, kept for good under its SHA-256."""

from __future__ import annotations

import errno
import hashlib
import itertools
import json
import os
import re
import secrets
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

from sentinel.adapters.files import handles
from sentinel.core.dropped_file import Came, LetGoError
from sentinel.core.shedding import is_hash

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


CAME = "came"
"""The sub-folder of the notes of what came, a file a month, a line a file; nothing in it is ever changed."""
LET_GO = "let-go"
"""The same of files that were removed for their age."""
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


class Archive:
    """A folder of files named by their content, spread over 256 sub-folders.

    `mark` is the file, elsewhere, in which the mark of this archive is noted when it is first used. From then on a
    folder without that mark is another one, and neither filled nor believed to have lost its files.
    """

    def __init__(self, folder: Path, mark: Path | None = None) -> None:
        self._folder = folder
        self._mark = mark
        self._known: tuple[int, int] | None = None
        self._noted: set[tuple[str, str]] = set()

    def keep(self, data: bytes) -> str:
        """The bytes' hash; they are on the disk, and were read back from it, when this returns.

        Raises OSError where they cannot be.
        """
        name = hashlib.sha256(data).hexdigest()
        with self._opened() as archive, handles.shelf(archive, name[:2]) as folder:
            if not self._is_sound(archive, folder, name) or handles.look(folder, name) is None:  # let go meanwhile
                handles.write(folder, name, data, PRIVATE, read_back=True)
        return name

    def note(self, came: Came) -> None:
        """Writes down how a file came, durably, and beside the bytes: so a store that is lost can be read again from
        here. One that is tried again and again is noted once. Raises OSError."""
        mark = (came.sha256, came.origin)
        if mark in self._noted:
            return
        with self._opened() as archive:
            _appended(archive, CAME, came.at, _line(came))
        if len(self._noted) > MOST_REMEMBERED:
            self._noted.clear()
        self._noted.add(mark)

    def came(self) -> list[Came]:
        """Every file that was noted, once each, in the order in which they came first. Raises OSError."""
        found: dict[tuple[str, str], Came] = {}
        for line in self._notes(CAME):
            if (came := _came(line)) is not None:
                found.setdefault((came.sha256, came.origin), came)
        return list(found.values())

    def gone(self) -> dict[str, datetime]:
        """The files that were let go for their age, and when; not those that came again since. Raises OSError."""
        found: dict[str, datetime] = {}
        for line in self._notes(LET_GO):
            with suppress(LookupError, TypeError, ValueError, RecursionError):
                told = json.loads(line)
                found[str(told["sha256"])] = datetime.fromisoformat(told["at"])
        for came in self.came() if found else ():
            if came.sha256 in found and found[came.sha256] < came.at:
                del found[came.sha256]
        return found

    def let_go(self, names: Sequence[str], before: datetime, at: datetime) -> int:
        """Removes these files for good, but for those that were kept again since `before`; returns how many.

        That they go is noted first, on the disk; then each is looked at once more under another name, so that one which
        comes again at this moment is either there or written anew. Raises OSError.
        """
        removed, young = 0, before.timestamp()
        with self._opened() as archive:
            going = [name for name in names if self._is_older(archive, name, young)]
            if going:
                lines = (json.dumps({"sha256": name, "at": at.isoformat()}).encode() + b"\n" for name in going)
                _appended(archive, LET_GO, at, b"".join(lines))
            for shelf, own in itertools.groupby(going, lambda name: name[:2]):
                with handles.entered(archive, [shelf]) as folder:
                    removed += sum(_removed(folder, name, young) for name in own)
                    os.fsync(folder)
        return removed

    def _is_older(self, archive: int, name: str, young: float) -> bool:
        with suppress(FileNotFoundError), handles.entered(archive, [name[:2]]) as folder:
            found = handles.look(folder, name)
            return found is not None and found.st_mtime < young
        return False

    def forget_came(self, before: datetime) -> int:
        """Removes the notes of whole months before that of which every file is gone; returns of how many months."""
        months, last = 0, f"{before.astimezone(UTC):%Y-%m}.jsonl"
        with (
            suppress(FileNotFoundError),
            self._opened() as archive,
            handles.entered(archive, [CAME]) as folder,
        ):
            for name in handles.names_in(folder):
                if name.endswith(".jsonl") and name < last:
                    with handles.file_in(folder, name) as file:
                        found = [came for line in file if (came := _came(line)) is not None]
                    if all(self.size(came.sha256) is None for came in found):
                        os.unlink(name, dir_fd=folder)
                        months += 1
            os.fsync(folder)
        return months

    def _notes(self, kind: str) -> Iterator[bytes]:
        with (
            suppress(FileNotFoundError),
            handles.opened(self._folder) as archive,
            handles.entered(archive, [kind]) as folder,
        ):
            for name in handles.names_in(folder):
                if name.endswith(".jsonl"):
                    with handles.file_in(folder, name) as file:
                        yield from file

    def names(self, after: str = "") -> Iterator[str]:
        """The hashes of everything in it behind this one, in their order. Raises OSError."""
        with handles.opened(self._folder) as archive:
            for shelf in filter(_is_shelf, handles.names_in(archive)):
                if shelf >= after[:2]:
                    with handles.entered(archive, [shelf]) as folder:
                        yield from (name for name in handles.names_in(folder) if is_hash(name) and name > after)

    def size(self, name: str) -> int | None:
        """How many bytes stand under this hash; None where there is no such file. Raises OSError."""
        try:
            with handles.opened(self._folder) as archive, handles.entered(archive, [name[:2]]) as folder:
                found = handles.look(folder, name)
        except FileNotFoundError:
            return None
        return None if found is None else found.st_size

    def holds(self, name: str) -> bool:
        """Whether what stands under this hash is what it says, read whole. Raises OSError where it cannot be read."""
        with (
            handles.opened(self._folder) as archive,
            handles.entered(archive, [name[:2]]) as folder,
            handles.file_in(folder, name) as file,
        ):
            return handles.hash_of(file) == name

    def is_there(self) -> bool:
        """Whether this is the archive, and not what is left where it was mounted: a disk that is away is no damage."""
        try:
            noted = self._mark_noted()
            with handles.opened(self._folder) as archive:
                if noted is not None:
                    return _mark_in(archive) == noted
                return any(_is_shelf(name) for name in handles.names_in(archive))
        except OSError:
            return False

    def temporaries(self) -> Iterator[Path]:
        """Files that were begun and may have been broken off."""
        yield from self._folder.glob(".*.tmp")
        yield from self._folder.glob("*/.*.tmp")

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
            if not self.is_there():  # a mount point without its disk: what is gone may be back
                raise OSError(errno.ENODEV, "the archive is empty, or its disk is not mounted") from None
            if (at := self.gone().get(name)) is not None:
                raise LetGoError(at) from None
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
        noted = self._mark_noted()
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

    def _mark_noted(self) -> str | None:
        """The mark of the archive that was used before. Raises OSError where that cannot be told."""
        if self._mark is None:
            return None
        try:
            return _first_line(handles.read_at(self._mark, LONGEST_MARK))
        except FileNotFoundError:
            return None

    def _is_sound(self, archive: int, folder: int, name: str) -> bool:
        """Whether what stands there is what it is called, which its size alone does not tell.

        What is something else is kept in a folder of its own.
        """
        if handles.look(folder, name) is None:
            return False
        try:
            with handles.file_in(folder, name) as file:
                if handles.hash_of(file) == name:
                    with suppress(OSError):
                        os.utime(file.fileno())  # so that it is not let go now as one that is old
                    return True
        except OSError as fault:
            if fault.errno not in NO_FILE:
                raise
        with handles.shelf(archive, DAMAGED) as damaged:
            os.rename(name, f"{name}.{secrets.token_hex(4)}", src_dir_fd=folder, dst_dir_fd=damaged)
            os.fsync(damaged)
        return False


def _appended(archive: int, kind: str, at: datetime, lines: bytes) -> None:
    """Whole lines at the end of the notes of a month, on the disk when this returns."""
    name = f"{at.astimezone(UTC):%Y-%m}.jsonl"
    flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC | os.O_NOFOLLOW
    with handles.shelf(archive, kind) as folder:
        with os.fdopen(os.open(name, flags, PRIVATE, dir_fd=folder), "r+b") as file:
            size = file.seek(0, os.SEEK_END)
            torn = size > 0 and os.pread(file.fileno(), 1, size - 1) != b"\n"  # a power cut left half a line
            file.write(b"\n" * torn + lines)
            file.flush()
            os.fsync(file.fileno())
        if not size:
            os.fsync(folder)


def _removed(folder: int, name: str, young: float) -> bool:
    """Whether it is gone; one that was kept again at this moment goes back."""
    away = f".{name}.tmp"
    try:
        os.rename(name, away, src_dir_fd=folder, dst_dir_fd=folder)
    except FileNotFoundError:
        return False
    found = handles.look(folder, away)
    if found is not None and found.st_mtime >= young:
        os.rename(away, name, src_dir_fd=folder, dst_dir_fd=folder)
        return False
    os.unlink(away, dir_fd=folder)
    return True


def _is_shelf(name: str) -> bool:
    return re.fullmatch("[0-9a-f]{2}", name) is not None


def _mark_in(archive: int) -> str | None:
    try:
        return _first_line(handles.read_in(archive, MARK, LONGEST_MARK))
    except FileNotFoundError:
        return None


def _first_line(text: bytes) -> str | None:
    return text.decode("ascii", "replace").partition("\n")[0].strip() or None
