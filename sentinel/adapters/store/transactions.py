"""The edge between the database's faults and ours."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError

from sentinel.errors import PassingError


class StoreBusyError(PassingError):
    """A read or write did not go through - a full disk, a lock held too long - and nothing of it is kept."""


class StoreFullError(StoreBusyError):
    """The disk has no room for it."""


@contextmanager
def transaction(engine: Engine) -> Iterator[Connection]:
    """Committed when the block ends well, rolled back otherwise. Raises StoreBusyError where it was not taken."""
    try:
        with engine.begin() as connection:
            yield connection
    except DBAPIError as fault:
        if getattr(fault.orig, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL:
            raise StoreFullError(f"the store did not take a transaction, its disk is full: {fault.orig}") from fault
        raise StoreBusyError(f"the store did not take a transaction: {fault.orig}") from fault
