"""A disk that fails as it is told, and remembers what was changed: faulty.c, and what is shared with it."""

from __future__ import annotations

import errno
import hashlib
import mmap
import os
import shutil
import struct
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import IntFlag
from functools import cache
from pathlib import Path

import pytest

SOURCE = Path(__file__).with_name("faulty.c")
SHORT = -1
"""In the place of an error: half of what was to be written is."""
_BYTES = 64 + 960 + 16 * 16 * 4 + 16 * 640
"""Of `struct control`."""


class Call(IntFlag):
    """Kinds of calls, as in faulty.c."""

    OPEN = 1
    READ = 2
    WRITE = 4
    SYNC = 8
    RENAME = 16
    UNLINK = 32
    LINK = 64
    MKDIR = 128
    TRUNCATE = 256
    STAT = 512
    LIST = 1024


def error_name(error: int) -> str:
    """As the manual pages have it."""
    return "short" if error == SHORT else errno.errorcode[error]


@cache
def library() -> Path:
    """The compiled faulty.c, beside the packages of this Python: temporary folders may be mounted without execution."""
    compiler = shutil.which("cc")
    if compiler is None:
        pytest.fail("expected a C compiler to build tests/faults/faulty.c, got none: apt-get install gcc libc6-dev")
    path = Path(sys.prefix) / f"faulty-{hashlib.sha256(SOURCE.read_bytes()).hexdigest()[:12]}.so"
    if not path.exists():
        own = path.with_suffix(f".{os.getpid()}")
        subprocess.run([compiler, "-O1", "-shared", "-fPIC", "-o", own, SOURCE, "-ldl"], check=True)
        own.replace(path)
    return path


class Disk:
    """The faults of all processes that were started with its environment."""

    def __init__(self, folder: Path, log_below: Path | None = None) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        control, log = folder / "control", folder / "log"
        control.write_bytes(b"\0" * _BYTES)
        with control.open("r+b") as file:
            self._control = mmap.mmap(file.fileno(), _BYTES)
        self.environment = {"LD_PRELOAD": str(library()), "FAULTY_CONTROL": str(control)}
        self.log = log
        if log_below is not None:
            log.touch()
            self.environment |= {"FAULTY_LOG": str(log), "FAULTY_BELOW": str(log_below)}

    def fail(self, below: Path, calls: Call, error: int, first: int = 1, many: int = 0, every: int = 1) -> None:
        """From now on such calls fail at paths that begin so: from the `first`, `many` of them or all, each `every`."""
        self.well()
        path = str(below).encode()
        self._control[64 : 64 + len(path) + 1] = path + b"\0"
        struct.pack_into("<IiIIIII", self._control, 4, calls, error, first, many, every, 0, 0)
        self._control[0] = 1

    def count(self, places: Sequence[Path]) -> None:
        """From now on calls at paths that begin so are counted, and none fails."""
        self.well()
        self._control[1024:] = b"\0" * (_BYTES - 1024)
        for number, place in enumerate(places):
            at, path = 2048 + 640 * number, str(place).encode()
            self._control[at : at + len(path)] = path
        self._control[0] = 2

    def counted(self, place: int, call: Call) -> int:
        """How many there were at one of the places since."""
        return int(struct.unpack_from("<I", self._control, 1024 + 64 * place + 4 * (call.bit_length() - 1))[0])

    def well(self) -> None:
        """Nothing fails any more."""
        self._control[0] = 0

    @property
    def seen(self) -> int:
        """How many such calls there were since `fail`."""
        return int(struct.unpack_from("<I", self._control, 24)[0])

    @property
    def failed(self) -> int:
        """How many of them failed."""
        return int(struct.unpack_from("<I", self._control, 28)[0])


def attached(folder: Path) -> Disk:
    """A disk for this very process, which was started with its environment."""
    disk = Disk.__new__(Disk)
    with (folder / "control").open("r+b") as file:
        disk._control = mmap.mmap(file.fileno(), _BYTES)
    return disk


# --- what was changed -------------------------------------------------------------------------------------------------

_ENTRY = struct.Struct("<IIIIQQQ")
_MARK = 0x59414C46
CREATED, WRITTEN, CUT, SYNCED, RENAMED, REMOVED, LINKED, MADE, UNMADE, NAMED, TOLD = range(1, 12)


@dataclass(frozen=True, slots=True)
class Change:
    """One line of the log. `second` is another path, what a link says, or what was told."""

    op: int
    path: str
    second: str
    inode: int
    offset: int
    data: bytes


def changes(log: Path) -> Iterator[Change]:
    """The log from its beginning."""
    data, at = log.read_bytes(), 0
    while at < len(data):
        mark, op, first, second, inode, offset, length = _ENTRY.unpack_from(data, at)
        assert mark == _MARK, f"no entry at {at}"
        at += _ENTRY.size
        path = os.fsdecode(data[at : at + first])
        other = os.fsdecode(data[at + first : at + first + second])
        at += first + second
        yield Change(op, path, other, inode, offset, data[at : at + length])
        at += length


def note_told(log: Path, matter: str, text: str) -> None:
    """Adds that people were told, while whoever told them waits for the answer. In one write: others append too."""
    first, second = matter.encode(), text.encode()
    with log.open("ab", buffering=0) as file:
        file.write(_ENTRY.pack(_MARK, TOLD, len(first), len(second), 0, 0, 0) + first + second)
