"""Rows of the outbox that another program wrote, or that were damaged: told plainly, and nothing waits behind them."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from typing import Any

import pytest

from sentinel.core.cases.kinds import CaseKind, NoticeKind, Severity
from sentinel.render.notices import Letter
from sentinel.service.deliver import Deliverer, RetryPolicy
from tests.support.records import enqueue, notice
from tests.support.room import Staff

POLICY = RetryPolicy(timedelta(seconds=10), timedelta(seconds=900), timedelta(hours=72))
STRANGE: dict[str, dict[str, Any]] = {
    "a kind of tomorrow": {"kind": "of-tomorrow"},
    "a kind without a name": {"kind": ""},
    "a severity of tomorrow": {"severity": "apocalyptic"},
    "facts that are cut": {"facts": '{"file_name": "scri'},
    "facts that are a list": {"facts": "[1, 2]"},
    "no facts": {"facts": "null"},
    "facts of another kind": {"facts": '{"trouble": {"of": ["yours"]}, "timezone": 7}'},
    "a summary of nothing readable": {"kind": "summary", "facts": '{"notices": [3, null, {"kind": 5}], "files": 4}'},
    "five million characters": {"facts": '{"file_name": "' + "a" * 5_000_000 + '"}'},
    "ten thousand deep": {"facts": '{"a":' * 10_000 + "1" + "}" * 10_000},
}


class Inbox:
    def __init__(self) -> None:
        self.told: list[tuple[str, int]] = []

    def send(self, _recipient: str, _url_no: int, letter: Letter) -> str | None:
        self.told.append((letter.key, len(letter.message().body)))
        return None


@pytest.mark.parametrize("strange", STRANGE.values(), ids=STRANGE.keys())
def test_a_strange_notice_is_told_plainly_and_stops_nothing(staff: Staff, strange: dict[str, Any]) -> None:
    with staff.store.transaction() as session:
        enqueue(session, [notice("a", kind_note="strange"), notice("b")])
    with closing(sqlite3.connect(staff.room.store)) as database, database:
        for column, value in strange.items():
            database.execute(f"UPDATE outbox SET {column} = ? WHERE key = 'a'", (value,))  # noqa: S608 - ours
    inbox = Inbox()
    worker = Deliverer("colour-team", staff.store, inbox, staff.clock, POLICY)
    for _ in range(20):
        staff.clock.advance(worker.step())
    keys = [key for key, _ in inbox.told]
    assert "a" in keys or any(key.startswith("file-unscored-") for key in keys), keys
    assert set(staff.room.statuses()) == {"sent"}
    assert all(length < 100_000 for _, length in inbox.told)
    assert list(worker.troubles()) == []


def test_a_kind_that_nobody_knows_keeps_its_name_and_is_no_kind_of_ours() -> None:
    stranger, case = NoticeKind.kept("of-tomorrow"), CaseKind.kept("of-tomorrow")
    assert (stranger.value, stranger.severity, stranger.grouped, stranger.paced) == (
        "of-tomorrow", Severity.ALARM, False, False,
    )  # fmt: skip
    assert stranger not in list(NoticeKind)
    assert not case.known
    assert all(kind.known for kind in CaseKind)
    assert NoticeKind.kept("summary") is NoticeKind.SUMMARY
    assert Severity.kept("nonsense") is Severity.ALARM
