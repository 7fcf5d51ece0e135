"""The name of a printing condition, and spellings of it that people use."""

from __future__ import annotations

import unicodedata
from typing import NamedTuple, Self


class ConditionName(NamedTuple):
    """One printer, one substrate, one print mode; written `north/satin-240` or `north/satin-240/fine`."""

    printer: str
    substrate: str
    mode: str | None = None

    @classmethod
    def parse(cls, text: str) -> Self | None:
        """The name written in `text`, or None where it is not one."""
        parts = text.split("/")
        if len(parts) not in (2, 3) or not all(part == part.strip() != "" for part in parts):
            return None
        return cls(*parts)

    def __str__(self) -> str:
        return "/".join(part for part in self if part is not None)


def folded(spelling: str) -> str:
    """The spelling without what people vary: case, composed letters, spaces, hyphens and underscores."""
    text = unicodedata.normalize("NFKC", spelling).casefold()
    return "".join(letter for letter in text if letter not in " -_\t")
