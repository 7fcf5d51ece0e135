"""The edge between the database's faults and ours."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError

from sentinel.errors import PassingError


class StoreBusyError(PassingError):
    """A read or write did not go through - a full disk, a lock held too long - and nothing of it is kept."""


@contextmanager
def transaction(engine: Engine) -> Iterator[Connection]:
    """Committed when the block ends well, rolled back otherwise. Raises StoreBusyError where it was not taken."""
    try:
        with engine.begin() as connection:
            yield connection
    except DBAPIError as fault:
        raise StoreBusyError(f"the store did not take a transaction: {fault.orig}") from fault
