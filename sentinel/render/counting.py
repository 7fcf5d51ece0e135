"""Numbers of things, in the English of commands."""

from __future__ import annotations


def counted(number: int, one: str, several: str | None = None) -> str:
    """`1 check`, `2 checks`; `several` is for words that do not take an s."""
    return f"{number} {one if number == 1 else several or f'{one}s'}"
