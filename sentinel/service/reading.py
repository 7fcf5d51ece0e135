"""Reading a file's bytes once, or saying why they are not read."""

from __future__ import annotations

from typing import Protocol

from sentinel.core.files import Found
from sentinel.core.reasons import Code, Unscored
from sentinel.core.said import said

MEGABYTE = 1_000_000


class Reader(Protocol):
    def read(self, found: Found) -> bytes: ...  # all its bytes, or OSError


def read_bytes(reader: Reader, found: Found, largest_mb: float) -> bytes:
    """All bytes of a file. Raises Unscored for what must not be read, OSError for what cannot be read just now."""
    if found.kind == "link":
        raise Unscored(Code.LINK_NOT_FOLLOWED, said("expected a file, got a link: links are not followed"))
    if found.kind == "other":
        raise Unscored(Code.NOT_A_FILE, said("expected a file, got a folder, pipe, socket or device"))
    if found.size > largest_mb * MEGABYTE:
        raise Unscored(
            Code.TOO_LARGE,
            said(
                "expected a file of at most {largest:g} MB, got {size:.9g} MB",
                largest=largest_mb,
                size=found.size / MEGABYTE,
            ),
        )
    try:
        return reader.read(found)
    except PermissionError:
        message = said("expected a file that may be read, got: permission denied")
        raise Unscored(Code.NO_PERMISSION, message) from None
