"""New stores without their migrations, which take a tenth of a second and are the same each time."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from functools import cache
from pathlib import Path
from unittest import mock

from sqlalchemy import Engine

from sentinel.adapters.store import store
from sentinel.adapters.store.connection import SCHEMA_VERSION
from sentinel.adapters.store.store import revision, transaction, upgrade, writer


@contextmanager
def made_at_once() -> Iterator[None]:
    """Makes each new store by the statements that the migrations came to; earlier ones are brought up to date by them.

    `by_migrations` is for tests of how it is made.
    """
    with mock.patch.object(store, "upgrade", _made_at_once):
        yield


@contextmanager
def by_migrations() -> Iterator[None]:
    with mock.patch.object(store, "upgrade", upgrade):
        yield


def _made_at_once(engine: Engine, to: str = SCHEMA_VERSION) -> None:
    if to != SCHEMA_VERSION or revision(engine) is not None:
        upgrade(engine, to)
        return
    with transaction(engine) as connection:
        for statement in _statements():
            connection.exec_driver_sql(statement)


@cache
def _statements() -> Sequence[str]:
    """What makes a store as the migrations leave it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "store.sqlite"
        upgrade(writer(path))
        with closing(sqlite3.connect(path)) as connection:
            return [each for each in connection.iterdump() if each not in ("BEGIN TRANSACTION;", "COMMIT;")]
