"""A file as it lies in a drop folder, and whether its text looks whole."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Literal

Kind = Literal["file", "link", "other"]

TAIL_BYTES = 4096
"""How much of a file's end decides whether it is whole."""

CTRL_Z = "\x1a"


@dataclass(frozen=True, slots=True)
class Found:
    """One entry of a drop folder, not opened yet. Equal ones are the same file, untouched.

    `root` is the drop folder, `relative` the path below it; `inode`, `size` and `mtime_ns` as the system tells.
    """

    root: str
    relative: str
    kind: Kind
    inode: int
    size: int
    mtime_ns: int

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
        return f"{self.root}|{self.relative}|{self.inode}|{self.size}|{self.mtime_ns}"


def looks_whole(tail: bytes) -> bool:
    """Whether the last bytes of a CGATS text end a table, in whichever encoding."""
    text = tail.replace(b"\0", b"").decode("latin-1").rstrip(" \t\r\n\f" + CTRL_Z)
    return text.upper().endswith("END_DATA")
