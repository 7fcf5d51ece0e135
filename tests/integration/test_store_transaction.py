"""One transaction on a real store: all of it or nothing, and what it answers."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta, timezone
from pathlib import Path

import pytest

from sentinel.adapters.store.connection import StoreBusyError, StoreFullError
from sentinel.adapters.store.read_session import ReadSession
from sentinel.adapters.store.store import Store
from sentinel.core.cases.kinds import CaseKind, CaseStep
from sentinel.core.cases.lifecycle import CaseTransition, OpenCase
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.message import msg
from sentinel.core.verdict import Code, Reason, Verdict
from tests.support.clock import NOON
from tests.support.records import check, digest, enqueue, notice, refused
from tests.support.room import SITE, rows

HOUR = timedelta(hours=1)
DUE = StateReport(
    State.DUE, (Reason(Code.TOO_OLD, msg("old")), Reason(Code.LAST_CHECK_FAILED, msg("failed"))), None, NOON
)
CURRENT = StateReport(State.CURRENT, (), None, NOON)
NORTH, SOUTH = "north/satin-240", "south/satin-240"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "store.sqlite"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    opened = Store(path, SITE)
    yield opened
    opened.close()


def all_seqs(path: Path) -> list[int]:
    tables = [name for (name,) in rows(path, "SELECT name FROM sqlite_schema WHERE type = 'table'")]
    kept = [name for name in tables if name not in ("counter", "alembic_version", "concern_notice", "moment")]
    return sorted(int(str(seq)) for name in kept for (seq,) in rows(path, f'SELECT seq FROM "{name}"'))  # noqa: S608


def latest(store: Store, *conditions: str) -> dict[str, list[PastCheck]]:
    with store.transaction() as session:
        return session.checks.latest(conditions)


def test_a_transaction_that_breaks_leaves_nothing_of_itself(store: Store, path: Path) -> None:
    with pytest.raises(RuntimeError, match="broke"), store.transaction() as session:  # noqa: PT012
        session.checks.add(check())
        session.files.refuse(refused(), "f" * 64)
        session.service.announce(NORTH, DUE, NOON)
        enqueue(session, [notice()])
        session.files.remember_left("origin")
        raise RuntimeError("broke")
    assert all_seqs(path) == []
    assert rows(path, "SELECT * FROM counter") == []


def test_seq_rises_over_all_tables_without_a_gap(store: Store, path: Path) -> None:
    with store.transaction() as session:
        session.checks.add(check())
        session.files.refuse(refused(), "f" * 64)
        session.service.announce(NORTH, DUE, NOON)
    with pytest.raises(RuntimeError), store.transaction() as session:  # noqa: PT012
        enqueue(session, [notice("lost")])
        raise RuntimeError
    with store.transaction() as session:
        enqueue(session, [notice("a"), notice("b")])
    assert all_seqs(path) == [1, 2, 3, 4, 5, 6]
    assert rows(path, "SELECT key, seq FROM outbox ORDER BY seq") == [("a", 5), ("b", 6)]


def test_each_site_counts_for_itself(store: Store, path: Path) -> None:
    other = Store(path, "annexe")
    for opened in (store, other, store):
        with opened.transaction() as session:
            enqueue(session, [notice(f"key-{opened is other}-{len(all_seqs(path))}")])
    assert rows(path, "SELECT site, seq FROM outbox ORDER BY site, seq") == [
        ("annexe", 1), ("hall", 1), ("hall", 2),
    ]  # fmt: skip
    other.close()


def test_a_site_does_not_see_the_records_of_another(store: Store, path: Path) -> None:
    with store.transaction() as session:
        session.checks.add(check())
        session.service.announce(NORTH, DUE, NOON)
        session.files.remember_left("origin")
    other = Store(path, "annexe")
    with other.transaction() as session:
        assert session.checks.latest([NORTH]) == {}
        assert session.service.announced() == {}
        assert session.files.left() == set()
        assert not session.checks.has(digest("sheet"), 1, NORTH)
    other.close()
    assert ReadSession(path, "annexe").checks.latest() == {}


def test_a_check_is_kept_with_everything_needed_to_judge_it_again(store: Store, path: Path) -> None:
    lisbon_summer = timezone(timedelta(hours=1))
    with store.transaction() as session:
        session.checks.add(check(measured_at=NOON.astimezone(lisbon_summer)))
    [row] = rows(
        path,
        "SELECT sha256, table_no, measured_at, measured_offset_minutes, target_hash, limits, rules_version,"
        ' instrument, m_condition, chart_hash FROM "check"',
    )
    assert row == (
        digest("sheet"), 1, "2026-03-02T12:00:00.000000Z", 60, "d" * 64,
        '{"all": {"de00_mean": [2.0, 3.0, null]}}', 1, "0042", "M1", "c" * 64,
    )  # fmt: skip


def test_a_chart_is_kept_once(store: Store, path: Path) -> None:
    with store.transaction() as session:
        session.checks.add(check("one"))
        session.checks.add(check("two"))
    assert rows(path, "SELECT count(*) FROM chart") == [(1,)]


def test_the_same_measurement_is_not_kept_twice_for_a_condition(store: Store, path: Path) -> None:
    with store.transaction() as session:
        session.checks.add(check())
        assert session.checks.has(digest("sheet"), 1, NORTH)
        assert not session.checks.has(digest("sheet"), 2, NORTH)
        assert not session.checks.has(digest("sheet"), 1, SOUTH)
        assert not session.checks.has(digest("other"), 1, NORTH)
    with pytest.raises(StoreBusyError, match="UNIQUE"), store.transaction() as session:
        session.checks.add(check())
    assert rows(path, 'SELECT count(*) FROM "check"') == [(1,)]


def test_the_same_bytes_for_another_condition_supersede_visibly(store: Store, path: Path) -> None:
    with store.transaction() as session:
        assert session.checks.add(check()) == []
        assert session.checks.add(check(condition=SOUTH)) == [NORTH]
    assert list(latest(store, NORTH, SOUTH)) == [SOUTH]
    [(seq,)] = rows(path, f"SELECT seq FROM \"check\" WHERE condition = '{NORTH}'")  # noqa: S608
    [(by,)] = rows(path, f"SELECT seq FROM \"check\" WHERE condition = '{SOUTH}'")  # noqa: S608
    assert rows(path, "SELECT check_seq, kind, by_check_seq, note FROM check_counter_entry") == [
        (seq, "superseded", by, f"the same measurement was sent again for {SOUTH}")
    ]


def test_another_table_of_the_same_file_supersedes_nothing(store: Store) -> None:
    with store.transaction() as session:
        session.checks.add(check())
        assert session.checks.add(check(condition=SOUTH, table=2)) == []
    assert sorted(latest(store, NORTH, SOUTH)) == [NORTH, SOUTH]


def newest(store: Store) -> PastCheck:
    return max(latest(store, NORTH)[NORTH], key=lambda past: past.order)


def verdicts(store: Store) -> set[Verdict]:
    return {past.verdict for past in latest(store, NORTH)[NORTH]}


def test_the_latest_check_is_the_one_measured_last(store: Store) -> None:
    with store.transaction() as session:
        session.checks.add(check("late", measured_at=NOON, verdict=Verdict.WARN))
        session.checks.add(check("early", measured_at=NOON - HOUR))
    found = newest(store)
    assert (found.verdict, found.measured_at) == (Verdict.WARN, NOON)


def test_of_two_checks_of_one_moment_the_later_record_counts(store: Store) -> None:
    with store.transaction() as session:
        session.checks.add(check("one"))
        session.checks.add(check("two", verdict=Verdict.FAIL))
    assert newest(store).verdict is Verdict.FAIL


def test_the_latest_check_is_none_that_was_countered(store: Store) -> None:
    with store.transaction() as session:
        session.checks.add(check("early", measured_at=NOON - HOUR, verdict=Verdict.WARN))
        session.checks.add(check("late"))
        session.checks.add(check("late", SOUTH))
    assert verdicts(store) == {Verdict.WARN}


def test_a_failure_that_no_later_check_recovered_from_is_told_with_the_latest(store: Store) -> None:
    with store.transaction() as session:
        session.checks.add(check("good", measured_at=NOON - 3 * HOUR))
        session.checks.add(check("bad", measured_at=NOON - 2 * HOUR, verdict=Verdict.FAIL))
        session.checks.add(check("near", measured_at=NOON - HOUR, verdict=Verdict.WARN, recovered=False))
        session.checks.add(check("nearer", measured_at=NOON, verdict=Verdict.PASS, recovered=False))
    decided = {(past.verdict, past.measured_at) for past in latest(store, NORTH)[NORTH] if past.measured_at < NOON}
    assert decided == {(Verdict.FAIL, NOON - 2 * HOUR), (Verdict.PASS, NOON - 3 * HOUR)}  # the last two of these
    assert verdicts(store) == {Verdict.FAIL, Verdict.PASS}


def test_only_the_conditions_asked_for_are_answered(store: Store, path: Path) -> None:
    with store.transaction() as session:
        session.checks.add(check("one"))
        session.checks.add(check("two", SOUTH))
    assert list(latest(store, SOUTH)) == [SOUTH]
    assert latest(store) == {}
    assert sorted(ReadSession(path, SITE).checks.latest()) == [NORTH, SOUTH]


def test_the_state_announced_last_is_remembered_with_its_codes(store: Store) -> None:
    with store.transaction() as session:
        session.service.announce(NORTH, CURRENT, NOON)
        session.service.announce(SOUTH, CURRENT, NOON)
        session.service.announce(NORTH, DUE, NOON)
        assert session.service.announced() == {
            NORTH: ("due", ["too-old", "last-check-failed"]),
            SOUTH: ("current", []),
        }


def test_a_case_is_open_until_it_is_closed(store: Store) -> None:
    kind = CaseKind.CHECK_FAILED
    with store.transaction() as session:
        seq = session.cases.apply(NORTH, None, CaseTransition(kind, CaseStep.OPENED, None, 7, 1), NOON)
        opened = OpenCase(seq, 7, 1, NOON, NOON, case=seq)
        assert session.cases.open() == {NORTH: {kind: opened}}
        assert session.cases.apply(NORTH, opened, CaseTransition(kind, CaseStep.REPEATED, None, 8, 2), NOON) == seq
        assert session.cases.open() == {NORTH: {kind: OpenCase(seq, 8, 2, NOON, NOON, case=seq)}}
        session.cases.apply(NORTH, OpenCase(seq, 8, 2), CaseTransition(kind, CaseStep.CLOSED, None, 9, 2), NOON)
        assert session.cases.open() == {}


def test_a_notice_of_the_same_step_is_not_put_in_twice(store: Store, path: Path) -> None:
    with store.transaction() as session:
        enqueue(session, [notice(), notice(url_no=1), notice(recipient="other")])
    with pytest.raises(StoreBusyError, match="UNIQUE"), store.transaction() as session:
        enqueue(session, [notice()])
    assert ReadSession(path, SITE).outbox.counts()["waiting"] == 3


def test_unscored_files_come_back_as_they_were(store: Store) -> None:
    record = refused()
    with store.transaction() as session:
        seq = session.files.refuse(record, "old")
        assert session.files.refused(record.origin) == record
        assert session.files.refused("another") is None
        assert session.files.to_retry("new") == [(seq, record)]
        assert session.files.to_retry("old") == []
        session.files.mark_retried(seq, "new")
        assert session.files.to_retry("new") == []


def test_a_settled_file_is_not_tried_again(store: Store) -> None:
    with store.transaction() as session:
        session.files.refuse(refused("one", origin="a"), "old")
        session.files.refuse(refused("one", origin="b"), "old")
        session.files.refuse(refused("two"), "old")
        assert [each.origin for each in session.files.settle(digest("one"), NOON)] == ["a", "b"]
        assert session.files.settle(digest("one"), NOON) == []
        assert [each.file_name for _, each in session.files.to_retry("new")] == ["two.txt"]


def test_files_left_in_place_are_remembered_once(store: Store, path: Path) -> None:
    with store.transaction() as session:
        session.files.remember_left("a")
        session.files.remember_left("b")
        session.files.remember_left("a")
        assert session.files.left() == {"a", "b"}
    assert rows(path, "SELECT count(*) FROM left_file") == [(2,)]


def test_settings_in_force_are_noted_when_they_change(store: Store, path: Path) -> None:
    for fingerprint in ("one", "one", "two", "one"):
        with store.transaction() as session:
            session.service.note_settings("/etc/s.toml", fingerprint, {"site": {}}, NOON)
    assert rows(path, "SELECT fingerprint FROM settings_in_force ORDER BY seq") == [("one",), ("two",), ("one",)]
    assert ReadSession(path, SITE).service.settings() == ("/etc/s.toml", "one")


def test_notices_for_recipients_that_are_gone_are_given_up(store: Store, path: Path) -> None:
    with store.transaction() as session:
        enqueue(session, [notice("a"), notice("b", "gone"), notice("c", "gone")])
        assert session.outbox.give_up_for_absent(["colour-team"], NOON) == 2
        assert session.outbox.give_up_for_absent(["colour-team"], NOON) == 0
    assert rows(path, "SELECT key, status FROM outbox ORDER BY seq") == [
        ("a", "waiting"), ("b", "given-up"), ("c", "given-up"),
    ]  # fmt: skip
    assert rows(path, "SELECT arrived, answer FROM delivery") == [(0, "the recipient was removed")] * 2


def test_without_any_recipient_every_notice_is_given_up(store: Store, path: Path) -> None:
    with store.transaction() as session:
        enqueue(session, [notice()])
        assert session.outbox.give_up_for_absent([], NOON) == 1


@pytest.mark.parametrize("spends", [True, False])
def test_the_reserve_is_spent_on_what_may_be_news_of_trouble_alone(store: Store, path: Path, spends: bool) -> None:
    reserve = path.with_name(f"{path.name}.reserve")
    assert reserve.stat().st_size == 1 << 20
    with pytest.raises(StoreFullError), store.transaction(spends_reserve=spends):
        raise StoreFullError("full")
    assert reserve.exists() is not spends
