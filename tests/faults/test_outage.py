"""An outage of mail and chat that is longer than notices are kept trying, and the day it is over.

By hand, with all that is told: `python -m tests.faults.outage`.
"""

from __future__ import annotations

from collections import Counter
from datetime import timedelta

import pytest

from tests.faults.outage import FAILS_LATE, RECOVERED, STILL_FAILS, Outage, lived_through
from tests.faults.table import record
from tests.support.amount import amount
from tests.support.room import rows

GIVE_UP_HOURS = 72
DAYS = amount(10, long=30)


@pytest.fixture(scope="module")
def outage(tmp_path_factory: pytest.TempPathFactory) -> Outage:
    return lived_through(tmp_path_factory.mktemp("outage"), GIVE_UP_HOURS, DAYS, 24)


def test_what_still_matters_is_told_once_in_few_messages(outage: Outage) -> None:
    opened = _opened(outage, FAILS_LATE)
    for name, letters in outage.inboxes.letters.items():
        told = outage.inboxes.keys(name)
        twice = [key for key, times in told.items() if times > 1]
        lost = [] if told[opened] else [opened]
        record("mail and chat gone for long", name, DAYS, len(lost), len(twice), _seconds(outage, name, opened), None)
        assert (lost, twice) == ([], [])
        assert _seconds(outage, name, opened) <= 24 * 3600
        assert sum(at < outage.back_at + timedelta(days=2) for at, _, _ in letters) <= 10


def test_the_most_pressing_is_told_first(outage: Outage) -> None:
    for letters in outage.inboxes.letters.values():
        assert letters[0][1].startswith("URGENT - Check failed")


def test_what_was_open_all_the_time_is_told_with_its_next_reminder(outage: Outage) -> None:
    """Its first notice was given up; reminders are a week apart at most."""
    first = _opened(outage, STILL_FAILS)
    assert _status(outage, first) == {"given-up"}
    for name in outage.inboxes.letters:
        seconds = _seconds(outage, name, first.removesuffix("opened"))
        record("mail and chat gone for long", f"{name}: what was given up and is still open", DAYS, 0, 0, seconds, None)
        assert seconds <= 8 * 24 * 3600


def test_what_was_over_before_anybody_could_be_told_is_told_to_nobody(outage: Outage) -> None:
    of_the_case = _opened(outage, RECOVERED).removesuffix("opened")
    for name in outage.inboxes.letters:
        assert [key for key in outage.inboxes.keys(name) if key.startswith(of_the_case)] == []


def test_an_outage_of_any_length_lets_no_more_wait_than_the_time_of_giving_up(outage: Outage) -> None:
    assert max(outage.waiting) <= 20
    assert outage.waiting[-1] == 0
    query = """
        SELECT (julianday(max(delivery.at)) - julianday(outbox.created_at)) * 24
        FROM outbox JOIN delivery ON delivery.outbox_seq = outbox.seq AND delivery.site = outbox.site
        WHERE outbox.status = 'given-up' GROUP BY outbox.seq"""
    ages = [float(str(age)) for (age,) in rows(outage.room.store, query)]
    assert ages
    assert min(ages) >= GIVE_UP_HOURS - 0.1


def test_who_is_out_of_reach_is_told_to_the_others_and_when_it_is_over(outage: Outage) -> None:
    for name, letters in outage.inboxes.letters.items():
        other = next(each for each in outage.inboxes.letters if each != name)
        titles = [title for _, title, _ in letters if other in title]
        assert not titles or any(title.startswith("Over: ") for title in titles)  # no end of what nobody heard of


def _seconds(outage: Outage, recipient: str, key: str) -> float:
    """How long after the receivers were back a notice was told whose key begins so."""
    told = (at for at, _, body in outage.inboxes.letters[recipient] if key in body)
    return min((at - outage.back_at).total_seconds() for at in told)


def _opened(outage: Outage, condition: str) -> str:
    """The key of the notice that the case of a failed check was opened."""
    query = f"SELECT seq FROM concern WHERE subject = '{condition}' AND kind = 'check-failed'"  # noqa: S608
    [(seq,)] = rows(outage.room.store, query)
    told = f"SELECT DISTINCT key FROM outbox WHERE key LIKE 'case-{seq}-opened' OR key LIKE 'case-%-{seq}-opened'"  # noqa: S608
    [(key,)] = rows(outage.room.store, told)
    return str(key)


def _status(outage: Outage, key: str) -> set[str]:
    query = f"SELECT status FROM outbox WHERE key = '{key}'"  # noqa: S608
    return set(Counter(str(status) for (status,) in rows(outage.room.store, query)))
