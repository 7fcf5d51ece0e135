"""A file as it lies in a drop folder."""

from __future__ import annotations

import errno
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import PurePosixPath
from typing import Literal

from sentinel.errors import PassingError

Kind = Literal["file", "link", "hard link", "folder", "other"]
"""A hard link is a file with several names: any of them may be private, and who has which nobody can tell."""

TAIL_BYTES = 4096
"""How much of a file's end decides whether it is whole."""

BEGINNING_BYTES = 4096
"""How much of its beginning decides whether it can ever be."""

EMPTY_SECONDS = 15.0
"""How long an empty file is waited for: exporters make a file first and write then, within seconds."""

FOREIGN_SECONDS = 15.0
"""How long a text of no known format is waited for after it was closed: exporters that open a file again do so soon."""

LONGEST_NAME = 200
"""Bytes of a name in the put-aside folder: file systems take 255, the reason's name is longer."""

MEGABYTE = 1_000_000


class NotPutAsideError(PassingError):
    """The put-aside folder did not take what belongs there; the message is what the system said."""


class StaysError(PassingError):
    """A file cannot be taken away from where it lies; the message is why."""


class NotListedError(PassingError):
    """A drop folder was not looked through whole; the message is what was expected, and what came."""


class LetGoError(FileNotFoundError):
    """A file of the archive was removed for its age."""

    def __init__(self, at: datetime) -> None:
        self.at = at
        self.said = f"it was removed on {at:%Y-%m-%d} for its age, as the settings say"
        super().__init__(errno.ENOENT, self.said)


@dataclass(frozen=True, slots=True)
class StabilityTimes:
    """How long to wait, in seconds: for a whole file to stay quiet, and for an unfinished one to grow."""

    quiet: float
    give_up: float


class FolderUse(StrEnum):
    """What the service does with a folder."""

    TAKEN_FROM = "files are taken from it"
    LOOKED_AT = "files in it are read and stay"
    WRITTEN = "it is written to, and made where it is not there"


@dataclass(frozen=True, slots=True)
class FolderRules:
    """How files are taken: after which waits, up to which size; whether a taken one `stays` there."""

    patience: StabilityTimes
    largest_mb: float
    stays: bool = False


@dataclass(frozen=True, slots=True)
class DroppedFile:
    """One entry of a drop folder, not opened yet. Equal ones are the same file, untouched.

    `root` is the drop folder, `relative` the path below it; the rest is as the system tells. `ctime_ns` changes when a
    file is moved, so one that was moved away and back is another one.
    """

    root: str
    relative: str
    kind: Kind
    inode: int
    size: int
    mtime_ns: int
    ctime_ns: int

    @property
    def name(self) -> str:
        """The file's own name."""
        return PurePosixPath(self.relative).name

    @property
    def folder(self) -> str:
        """The folder below the drop folder, '' at its top."""
        parent = str(PurePosixPath(self.relative).parent)
        return "" if parent == "." else parent

    @property
    def origin(self) -> str:
        """Tells this very file apart from any other, also after a restart."""
        return f"{shown(self.root)}|{shown(self.relative)}|{self.inode}|{self.size}|{self.mtime_ns}|{self.ctime_ns}"


@dataclass(frozen=True, slots=True)
class Came:
    """What a kept file's bytes do not tell: when it came, as what, from where; `events` where it tells some."""

    at: datetime
    sha256: str
    name: str
    folder: str
    origin: str
    written_at: datetime
    events: bool = False

    @property
    def size(self) -> int | None:
        """How large it was, as its origin says; None where that is of another form."""
        parts = self.origin.rsplit("|", 4)
        return int(parts[2]) if len(parts) == 5 and parts[2].isdecimal() else None


_OTHER_KINDS = (b"%pdf-", b"%!ps", b"{\\rtf", b"<?xml", b"<!doctype", b"<html", b"<svg")
"""How pages and markup begin, in lower case; pictures, archives and programs have control characters."""
_TEXT_CONTROLS = b"\t\n\r\f\x1a"
_CONTROLS = frozenset(range(32)) - frozenset(_TEXT_CONTROLS)
_BYTE_ORDER_MARKS = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
_NULS = {"utf-16-le": (False, True, False, True), "utf-16-be": (True, False, True, False)}
"""Which of the first four bytes are NUL, as the reader tells UTF-16 without a mark."""


def never_whole(beginning: bytes) -> bool:
    """Whether a file that begins so can never become a text that is read, whatever is still written to it.

    Pictures, pages, archives and programs are told at once instead of being waited for. An empty file is none of them,
    nor is one that ends in NULs: a PC that copies to a share sets the file's size first and fills it then.
    """
    beginning = beginning.rstrip(b"\0")
    if beginning.lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith(_OTHER_KINDS):
        return True
    if len(beginning) < len(_NULS["utf-16-le"]):
        return False
    nuls = tuple(byte == 0 for byte in beginning[:4])
    by_nuls = next((encoding for encoding, pattern in _NULS.items() if pattern == nuls), None)
    wide = _BYTE_ORDER_MARKS.get(beginning[:2]) or by_nuls
    text = beginning.decode(wide, "ignore") if wide else beginning.decode("latin-1")
    return any(ord(letter) in _CONTROLS for letter in set(text))


def shown(name: str) -> str:
    """A file's name as it can be stored and shown: bytes that are no UTF-8 and control characters as escapes."""
    if name.isprintable():
        return name
    text = name.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    return "".join(letter if letter.isprintable() else letter.encode("unicode_escape").decode() for letter in text)


def shortened(name: str) -> str:
    """The name cut so far that an ending may be added to it, its own ending kept."""
    stem, ending = PurePosixPath(name).stem, PurePosixPath(name).suffix[:20]
    room = LONGEST_NAME - len(ending.encode())
    return stem.encode()[:room].decode("utf-8", "ignore") + ending
