"""Opening a store: made, brought up to date, refused; journal and durability by SQLite's version."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Engine

from sentinel.adapters.store import connection as files
from sentinel.adapters.store.connection import SCHEMA_VERSION, StoreTooNewError
from sentinel.adapters.store.read_session import ReadSession
from sentinel.adapters.store.schema import metadata
from sentinel.adapters.store.store import Store, revision, upgrade, writer
from sentinel.core.scoring.policy import ScoringOptions
from sentinel.core.verdict import Verdict
from sentinel.errors import StoreError
from tests.support.new_stores import by_migrations
from tests.support.records import check
from tests.support.room import SITE, rows


@pytest.fixture(autouse=True)
def _by_migrations() -> Iterator[None]:
    with by_migrations():
        yield


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A store that was opened and closed again."""
    place = tmp_path / "store.sqlite"
    Store(place, SITE).close()
    return place


def pragma(opened: Engine, name: str) -> Any:
    with opened.connect() as connection:
        return connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()


def changed(path: Path, statement: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(statement)
        connection.commit()


def test_the_migrations_make_the_very_tables_of_the_schema(path: Path) -> None:
    with writer(path).connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, metadata) == []


def test_a_new_store_is_of_the_newest_schema(path: Path) -> None:
    assert revision(writer(path)) == SCHEMA_VERSION


def test_opening_again_changes_nothing(path: Path) -> None:
    before = path.read_bytes()
    Store(path, SITE).close()
    assert path.read_bytes() == before


def test_a_store_of_a_newer_program_is_refused_untouched(path: Path) -> None:
    changed(path, "UPDATE alembic_version SET version_num = '9999'")
    before = path.read_bytes()
    with pytest.raises(StoreTooNewError, match="got 9999 of a newer program"):
        Store(path, SITE)
    assert path.read_bytes() == before


def test_a_reader_of_another_schema_is_refused(path: Path) -> None:
    changed(path, "UPDATE alembic_version SET version_num = '0000'")
    with pytest.raises(StoreError, match=f"expected a store of schema {SCHEMA_VERSION} at .*, got 0000"):
        ReadSession(path, SITE)


def test_a_reader_of_a_newer_store_is_not_told_to_start_the_service(path: Path) -> None:
    changed(path, "UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises((StoreError, StoreTooNewError)) as refusal:
        ReadSession(path, SITE)
    assert "start the service" not in str(refusal.value)


def test_a_migration_that_is_cut_off_leaves_an_empty_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from alembic.operations import Operations

    real, made = Operations.create_table, []

    def cut_off(self: Operations, name: str, *columns: Any, **options: Any) -> Any:
        made.append(name)
        if len(made) == 5:
            raise OSError(5, "Input/output error")
        return real(self, name, *columns, **options)

    monkeypatch.setattr(Operations, "create_table", cut_off)
    place = tmp_path / "store.sqlite"
    with pytest.raises(StoreError, match="Input/output error"):
        Store(place, SITE)
    monkeypatch.undo()
    with closing(sqlite3.connect(place)) as connection:
        assert connection.execute("SELECT name FROM sqlite_schema").fetchall() == []
    Store(place, SITE).close()


UNOPENABLE = {
    "other bytes": lambda path: path.write_bytes(b"scribble" * 200),
    "a folder": lambda path: path.mkdir(),
    "below a file": lambda path: path.parent.rmdir() or path.parent.write_text("in the way"),
}


@pytest.mark.parametrize("make", UNOPENABLE.values(), ids=UNOPENABLE)
def test_what_is_no_store_is_refused_with_its_path(tmp_path: Path, make: Any) -> None:
    place = tmp_path / "state" / "store.sqlite"
    place.parent.mkdir()
    make(place)
    with pytest.raises(StoreError, match=f"expected a store that can be opened at {place}, got: "):
        Store(place, SITE)


@pytest.mark.parametrize(
    ("version", "mode"),
    [((3, 40, 1), "delete"), ((3, 51, 2), "delete"), ((3, 51, 3), "wal"), ((3, 53, 0), "wal")],
)
def test_the_journal_mode_goes_by_the_version(version: tuple[int, ...], mode: str) -> None:
    """WAL before 3.51.3 can be corrupted at its reset: SQLite's release notes of that version."""
    assert files.journal_mode(version) == mode


@pytest.mark.parametrize("mode", ["delete", "wal"])
def test_a_writer_is_durable_in_either_journal_mode(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mode: str) -> None:
    monkeypatch.setattr(files, "journal_mode", lambda: mode)
    opened = writer(tmp_path / "store.sqlite")
    assert pragma(opened, "journal_mode") == mode
    assert pragma(opened, "synchronous") == 3  # EXTRA: the end of a journal is on the disk, too


@pytest.mark.parametrize("mode", ["delete", "wal"])
def test_a_reader_cannot_write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mode: str) -> None:
    monkeypatch.setattr(files, "journal_mode", lambda: mode)
    place = tmp_path / "store.sqlite"
    store = Store(place, SITE)
    with (
        closing(files.connected_to_read(place)) as connection,
        pytest.raises(sqlite3.OperationalError, match="readonly"),
    ):
        connection.execute("DELETE FROM outbox")
    store.close()


def test_a_store_that_is_not_there_yet_reads_as_an_empty_one(tmp_path: Path) -> None:
    place = tmp_path / "store.sqlite"
    session = ReadSession(place, SITE)
    assert session.checks.latest() == {}
    assert session.outbox.counts() == {"waiting": 0, "sent": 0, "given-up": 0}
    assert session.service.settings() is None
    assert session.facts().schema_version == "none yet"
    assert not place.exists()


def test_the_facts_are_what_sqlite_says(path: Path) -> None:
    facts = ReadSession(path, SITE).facts()
    assert facts.path == path
    assert facts.sqlite == sqlite3.sqlite_version
    assert facts.schema_version == SCHEMA_VERSION
    assert facts.journal_mode == files.journal_mode()


@pytest.mark.parametrize("name", ["st%6fre?mode=ro.sqlite", "two words #1.sqlite", "düse.sqlite"])
def test_any_file_name_will_do(tmp_path: Path, name: str) -> None:
    store = Store(tmp_path / name, SITE)
    with store.transaction() as session:
        session.checks.add(check())
    store.close()
    assert (tmp_path / name).stat().st_size > 0
    assert list(ReadSession(tmp_path / name, SITE).checks.latest()) == ["north/satin-240"]


def test_notices_of_an_older_store_stay_tied_to_what_they_told_of(tmp_path: Path) -> None:
    place = tmp_path / "store.sqlite"
    upgrade(writer(place), "0003")
    changed(
        place,
        'INSERT INTO outbox (site, seq, "key", kind, recipient, url_no, facts, created_at, next_try_at, tries, status) '
        "VALUES ('hall', 9, 'incident-7-repeated-2', 'check-failed', 'team', 0, '{}', '2026-03-02T12:00:00.000000Z', "
        "'2026-03-02T12:00:00.000000Z', 0, 'waiting')",
    )
    store = Store(place, SITE)
    with store.transaction() as session:
        assert session.outbox.reached(7) == {("team", 0): "waiting"}
        assert session.outbox.reached(2) == {}
    store.close()


def test_what_was_said_of_several_things_of_a_condition_is_said_of_its_one_case(tmp_path: Path) -> None:
    """The word on the most pressing becomes the newest, whichever was said last; nothing that was said is lost."""
    place = tmp_path / "store.sqlite"
    upgrade(writer(place), "0007")
    for seq, kind, severity, closed in (
        (3, "check-failed", "alarm", f"'{AT}'"),
        (5, "check-due", "routine", "NULL"),
        (9, "check-failed", "alarm", "NULL"),
    ):
        changed(
            place,
            "INSERT INTO incident (site, seq, subject, kind, times, opened_at, closed_at, severity) "  # noqa: S608
            f"VALUES ('{SITE}', {seq}, 'north/satin-240', '{kind}', 1, '{AT}', {closed}, '{severity}')",
        )
    for seq, of, by in ((20, 9, "Ana"), (21, 5, "Ben"), (22, 3, "Cleo")):
        changed(
            place,
            'INSERT INTO incident_silence (site, seq, incident_seq, acknowledged, "by", severity, at, until) '  # noqa: S608
            f"VALUES ('{SITE}', {seq}, {of}, 1, '{by}', 'alarm', '{AT}', '2099-01-01T00:00:00.000000Z')",
        )
    Store(place, SITE).close()
    assert rows(place, "SELECT seq, case_seq FROM concern ORDER BY seq") == [(3, 3), (5, 5), (9, 5)]
    assert rows(place, 'SELECT seq, case_seq, "by" FROM case_silence ORDER BY seq') == [
        (20, 5, "Ben"), (21, 5, "Ana"), (22, 3, "Cleo"),
    ]  # fmt: skip
    listed = ReadSession(place, SITE).cases.listed()
    assert [(each.case.number, each.silencing.by if each.silencing else None) for each in listed] == [(5, "Ana")] * 2


FIRST_EVENTS = """CREATE TABLE event (site VARCHAR NOT NULL, seq INTEGER NOT NULL, kind TEXT NOT NULL, printer TEXT,
condition TEXT, facts TEXT NOT NULL, told_by TEXT, at VARCHAR(27) NOT NULL, recorded_at VARCHAR(27) NOT NULL,
undoes_seq INTEGER, PRIMARY KEY (site, seq))"""
"""As revision 0001 made it before events were told."""


@pytest.fixture
def of_the_first_day(tmp_path: Path) -> Path:
    """A store as the first programs made it: three columns fewer in a check, other ones in an event; with rows."""
    place = tmp_path / "first.sqlite"
    store = Store(place, SITE)
    with store.transaction() as session:
        session.checks.add(check("good"))
        session.checks.add(check("bad", verdict=Verdict.FAIL, recovered=False))
    store.close()
    with closing(sqlite3.connect(place)) as connection:
        connection.execute("DROP INDEX check_by_pair")
        for name in ("target_table", "reckoning", "recovered", "diagnosis", "moved", "sheet_pair"):
            connection.execute(f'ALTER TABLE "check" DROP COLUMN {name}')
        connection.execute("DROP TABLE event")
        connection.execute(FIRST_EVENTS)
        for seq, printer, condition, undoes in ((8, "north", None, None), (9, None, "north/satin-240/fine", 8)):
            values = (SITE, seq, "heads", printer, condition, '{"why": "wrong"}', "Ana", AT, AT, undoes)
            connection.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", values)
        for table in (
            "target_version",
            "target_retirement",
            "outlook",
            "risk_outlook",
            "concern_notice",
            "case_silence",
            "moment",
            "check_rescored",
        ):
            connection.execute(f"DROP TABLE {table}")
        for index in ("outbox_within", "check_by_rules"):
            connection.execute(f"DROP INDEX {index}")
        connection.execute("ALTER TABLE concern RENAME TO incident")
        connection.execute("DROP INDEX concern_open")
        connection.execute("CREATE INDEX incident_open ON incident (site, closed_at, subject)")
        for table, names in LATER.items():
            for name in names:
                connection.execute(f'ALTER TABLE {table} DROP COLUMN "{name}"')
        connection.execute("UPDATE alembic_version SET version_num = '0001'")
        connection.commit()
    return place


AT = "2026-03-02T12:00:00.000000Z"
LATER = {
    "incident": ("case_seq", "severity", "told_at", "reminded", "escalated", "gone_since"),
    "outbox": ("step", "severity", "summary_seq", "retried_at"),
    "check_counter_entry": ("by",),
}


def test_a_store_of_the_first_day_gets_the_very_tables_of_the_schema(of_the_first_day: Path) -> None:
    Store(of_the_first_day, SITE).close()
    with writer(of_the_first_day).connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, metadata) == []
    with closing(sqlite3.connect(of_the_first_day)) as again, pytest.raises(sqlite3.IntegrityError, match="UNIQUE"):
        again.execute('INSERT INTO "check" SELECT * FROM (SELECT * FROM "check" LIMIT 1)')


def test_checks_of_the_first_day_are_as_they_were_meant(of_the_first_day: Path) -> None:
    Store(of_the_first_day, SITE).close()
    session = ReadSession(of_the_first_day, SITE)
    bad, good = session.checks.recorded()
    assert (good.target_table, good.reckoning) == (bad.target_table, bad.reckoning) == (1, ScoringOptions())
    assert [(past.verdict, past.recovered) for past in session.checks.latest(recent=9)["north/satin-240"]] == [
        (Verdict.FAIL, False), (Verdict.PASS, True),
    ]  # fmt: skip


def test_events_of_the_first_day_are_kept(of_the_first_day: Path) -> None:
    Store(of_the_first_day, SITE).close()
    kept = "SELECT seq, kind, at, printer, substrate, mode, facts, told_by, recorded_at, undoes_seq, source FROM event"
    assert rows(of_the_first_day, kept) == [
        (8, "heads", AT, "north", None, None, '{"why": "wrong"}', "Ana", AT, None, None),
        (9, "heads", AT, "north", "satin-240", "fine", '{"why": "wrong"}', "Ana", AT, 8, None),
    ]


def test_open_trouble_of_a_recipient_takes_the_name_of_today(tmp_path: Path) -> None:
    place = tmp_path / "store.sqlite"
    upgrade(writer(place), "0005")
    for seq, subject, closed in (
        (1, "service:recipient-dead:recipient night-desk, URL 1", "NULL"),
        (2, "service:recipient-dead:recipient buyer, URL 2", f"'{AT}'"),
        (3, "service:recipient-dead:team, URL 1", "NULL"),
        (4, "service:recipient-dead:recipient team, URL 1", "NULL"),
    ):
        changed(
            place,
            "INSERT INTO incident (site, seq, subject, kind, times, opened_at, closed_at) "  # noqa: S608
            f"VALUES ('{SITE}', {seq}, '{subject}', 'service-trouble', 1, '{AT}', {closed})",
        )
    Store(place, SITE).close()
    assert [subject for (subject,) in rows(place, "SELECT subject FROM concern ORDER BY seq")] == [
        "service:recipient-dead:night-desk, URL 1",
        "service:recipient-dead:recipient buyer, URL 2",
        "service:recipient-dead:team, URL 1",
        "service:recipient-dead:recipient team, URL 1",
    ]
