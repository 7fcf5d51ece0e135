"""The words of every kind of notice: one writer each, found by its kind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sentinel.core.cases.kinds import NoticeKind
from sentinel.render.notices.kinds.pages import HandOver, OnReturn
from sentinel.render.notices.kinds.summary import SINGLE, Summary
from sentinel.render.notices.writer import NoticeWriter

__all__ = ["WRITERS", "registry"]


def registry(writers: Iterable[type[NoticeWriter[Any]]]) -> Mapping[NoticeKind, NoticeWriter[Any]]:
    """Each by its kind. Raises TypeError where a kind has none, or two, or one that is not whole."""
    found: dict[NoticeKind, NoticeWriter[Any]] = {}
    for each in writers:
        if missing := [piece for piece in ("kind", "name") if not hasattr(each, piece)]:
            raise TypeError(f"expected {each.__name__} to have {' and '.join(missing)}, got none")
        if each.kind in found:
            raise TypeError(f"expected one writer of {each.kind.value}, got another: {each.__name__}")
        found[each.kind] = each()
    if kinds := set(NoticeKind) - found.keys():
        raise TypeError(f"expected a writer of every kind of notice, got none of {', '.join(sorted(kinds))}")
    return found


WRITERS = registry((*SINGLE, Summary, OnReturn, HandOver))
