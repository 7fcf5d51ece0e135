"""The words of every kind are whole before anything is sent."""

from __future__ import annotations

from typing import Any

import pytest

from sentinel.core.cases.kinds import NoticeKind
from sentinel.render.notices.kinds import WRITERS, registry
from sentinel.render.notices.kinds.service import NothingArrived
from sentinel.render.notices.kinds.verdicts import CheckFailed
from sentinel.render.notices.writer import NoticeWriter

EVERY: tuple[type[NoticeWriter[Any]], ...] = tuple(type(each) for each in WRITERS.values())


def test_every_kind_has_its_writer() -> None:
    assert set(WRITERS) == set(NoticeKind)
    assert all(WRITERS[kind].kind is kind for kind in NoticeKind)


def test_a_kind_without_words_is_refused() -> None:
    with pytest.raises(TypeError, match="expected a writer of every kind of notice, got none of nothing-arrived"):
        registry(each for each in EVERY if each is not NothingArrived)


def test_a_kind_with_two_writers_is_refused() -> None:
    with pytest.raises(TypeError, match="expected one writer of check-failed, got another: CheckFailed"):
        registry((*EVERY, CheckFailed))


def test_a_writer_that_is_not_whole_is_refused() -> None:
    class Nameless(NoticeWriter):  # type: ignore[type-arg]
        kind = NoticeKind.SUMMARY

    with pytest.raises(TypeError, match="expected Nameless to have name, got none"):
        registry((Nameless,))
    with pytest.raises(TypeError, match="abstract"):
        registry((type("Wordless", (Nameless,), {"name": "x"}),))
