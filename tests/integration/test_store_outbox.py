"""The outbox as a deliverer sees it, on a real store."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from sentinel.adapters.store.read_session import ReadSession
from sentinel.adapters.store.store import Store
from sentinel.core.cases.records import Notice
from sentinel.render.notices import Letters
from tests.support.clock import NOON
from tests.support.records import enqueue, notice
from tests.support.room import SITE, rows

MINUTE = timedelta(minutes=1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "store.sqlite", SITE)
    yield opened
    opened.close()


def put(store: Store, *notices: Notice) -> None:
    with store.transaction() as session:
        enqueue(session, notices)


def test_a_notice_comes_out_as_it_went_in(store: Store) -> None:
    put(store, notice(file_name="grün.txt", reasons=[]))
    with store.transaction() as session:
        waiting = session.outbox.next_for("colour-team", NOON)
    assert waiting is not None
    assert waiting.notice == notice(file_name="grün.txt", reasons=[])
    assert (waiting.created_at, waiting.tries) == (NOON, 0)


def test_the_oldest_notice_of_the_recipient_comes_first(store: Store) -> None:
    put(store, notice("a", "other"), notice("b"), notice("c"))
    with store.transaction() as session:
        waiting = session.outbox.next_for("colour-team", NOON)
    assert waiting is not None
    assert waiting.notice.key == "b"


def test_a_sent_notice_is_not_given_again(store: Store, tmp_path: Path) -> None:
    put(store, notice("a"), notice("b"))
    with store.transaction() as session:
        first = session.outbox.next_for("colour-team", NOON)
    assert first is not None
    with store.transaction() as session:
        session.outbox.sent(first, NOON + MINUTE)
    with store.transaction() as session:
        second = session.outbox.next_for("colour-team", NOON)
    assert second is not None
    assert second.notice.key == "b"
    assert rows(tmp_path / "store.sqlite", "SELECT status, tries FROM outbox ORDER BY seq") == [
        ("sent", 1), ("waiting", 0),
    ]  # fmt: skip
    assert rows(tmp_path / "store.sqlite", "SELECT outbox_seq, arrived, answer, at FROM delivery") == [
        (first.seq, 1, "accepted", "2026-03-02T12:01:00.000000Z")
    ]


def test_a_failed_notice_waits_for_its_time_and_the_next_goes_ahead(store: Store) -> None:
    put(store, notice("a"), notice("b"))
    with store.transaction() as session:
        first = session.outbox.next_for("colour-team", NOON)
    assert first is not None
    with store.transaction() as session:
        session.outbox.failed(first, NOON, "refused", NOON + MINUTE)
    with store.transaction() as session:
        ahead = session.outbox.next_for("colour-team", NOON)
    assert ahead is not None
    assert ahead.notice.key == "b"
    with store.transaction() as session:
        session.outbox.sent(ahead, NOON)
    with store.transaction() as session:
        assert session.outbox.next_for("colour-team", NOON) is None
    with store.transaction() as session:
        assert session.outbox.next_try_at("colour-team") == NOON + MINUTE
    with store.transaction() as session:
        again = session.outbox.next_for("colour-team", NOON + MINUTE)
    assert again is not None
    assert (again.notice.key, again.tries) == ("a", 1)


def test_a_notice_given_up_is_counted_and_not_tried(store: Store, tmp_path: Path) -> None:
    put(store, notice())
    with store.transaction() as session:
        waiting = session.outbox.next_for("colour-team", NOON)
    assert waiting is not None
    with store.transaction() as session:
        session.outbox.given_up(waiting, NOON, "refused")
    with store.transaction() as session:
        assert session.outbox.next_for("colour-team", NOON) is None
    with store.transaction() as session:
        assert session.outbox.next_try_at("colour-team") is None
    assert ReadSession(tmp_path / "store.sqlite", SITE).outbox.counts() == {
        "waiting": 0, "sent": 0, "given-up": 1,
    }  # fmt: skip


def test_what_waited_before_a_restart_waits_after_it(store: Store, tmp_path: Path) -> None:
    put(store, notice("a"))
    store.close()
    reopened = Store(tmp_path / "store.sqlite", SITE)
    with reopened.transaction() as session:
        waiting = session.outbox.next_for("colour-team", NOON)
    assert waiting is not None
    assert waiting.notice.key == "a"
    reopened.close()


@pytest.mark.parametrize("kept", ['{"file_name": "a', "[1]", "7", "null", ""])
def test_a_notice_whose_facts_are_broken_comes_out_with_what_is_there_and_holds_up_no_other(
    store: Store, tmp_path: Path, kept: str
) -> None:
    put(store, notice("a"), notice("b"))
    with closing(sqlite3.connect(tmp_path / "store.sqlite")) as raw, raw:
        raw.execute("UPDATE outbox SET facts = ? WHERE \"key\" = 'a'", (kept,))
    with store.transaction() as session:
        first = session.outbox.next_for("colour-team", NOON)
    assert first is not None
    assert (first.notice.key, list(first.notice.facts)) == ("a", ["unreadable"])
    letter = Letters().letter(first.notice)
    assert letter.message().title == "File not scored"
    assert letter.message().body.endswith("Notice a")
    assert letter.fault is not None
    with store.transaction() as session:
        session.outbox.sent(first, NOON + MINUTE)
        second = session.outbox.next_for("colour-team", NOON)
    assert second is not None
    assert second.notice == notice("b")
