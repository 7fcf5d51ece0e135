"""Reading a file's bytes once, or saying why they are not read."""

from __future__ import annotations

from typing import Protocol

from sentinel.core.files import Found
from sentinel.core.reasons import Code, Unscored

MEGABYTE = 1_000_000


class Reader(Protocol):
    def read(self, found: Found) -> bytes: ...  # all its bytes, or OSError


def read_bytes(reader: Reader, found: Found, largest_mb: float) -> bytes:
    """All bytes of a file. Raises Unscored for what must not be read, OSError for what cannot be read just now."""
    if found.kind == "link":
        raise Unscored(Code.LINK_NOT_FOLLOWED, "expected a file, got a link: links are not followed")
    if found.kind == "other":
        raise Unscored(Code.NOT_A_FILE, "expected a file, got a folder, pipe, socket or device")
    if found.size > largest_mb * MEGABYTE:
        raise Unscored(
            Code.TOO_LARGE, f"expected a file of at most {largest_mb:g} MB, got {found.size / MEGABYTE:.9g} MB"
        )
    try:
        return reader.read(found)
    except PermissionError:
        raise Unscored(Code.NO_PERMISSION, "expected a file that may be read, got: permission denied") from None
