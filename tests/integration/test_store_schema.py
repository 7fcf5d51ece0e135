"""Opening a store: made, brought up to date, refused; journal and durability by SQLite's version."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sentinel.adapters.store.sessions import ReadSession
from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError

from sentinel.adapters.store import connection
from sentinel.adapters.store.schema import metadata
from sentinel.adapters.store.store import Store
from sentinel.adapters.store.version import SCHEMA_VERSION, StoreTooNewError, upgrade
from sentinel.errors import StoreError
from tests.support.records import check
from tests.support.room import SITE


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
    assert connection.journal_mode(version) == mode


@pytest.mark.parametrize("mode", ["delete", "wal"])
def test_a_writer_is_durable_in_either_journal_mode(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mode: str) -> None:
    monkeypatch.setattr(connection, "journal_mode", lambda: mode)
    opened = writer(tmp_path / "store.sqlite")
    assert pragma(opened, "journal_mode") == mode
    assert pragma(opened, "synchronous") == 2


@pytest.mark.parametrize("mode", ["delete", "wal"])
def test_a_reader_cannot_write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mode: str) -> None:
    monkeypatch.setattr(connection, "journal_mode", lambda: mode)
    place = tmp_path / "store.sqlite"
    store = Store(place, SITE)
    with (
        pytest.raises(DBAPIError, match="readonly"),
        engine.reader(place).begin() as connection,
    ):
        connection.exec_driver_sql("DELETE FROM outbox")
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
    assert facts.journal_mode == connection.journal_mode()


@pytest.mark.parametrize("name", ["st%6fre?mode=ro.sqlite", "two words #1.sqlite", "düse.sqlite"])
def test_any_file_name_will_do(tmp_path: Path, name: str) -> None:
    store = Store(tmp_path / name, SITE)
    with store.transaction() as session:
        session.checks.add(check())
    store.close()
    assert (tmp_path / name).stat().st_size > 0
    assert list(ReadSession(tmp_path / name, SITE).checks.latest()) == ["north/satin-240"]


def test_notices_of_an_older_store_stay_tied_to_their_incidents(tmp_path: Path) -> None:
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
