"""Adding and changing records of one site inside a transaction."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Table, insert, select, update

from sentinel.adapters.store.schema import counter


class RowWriter:
    """The one place where a record gets its number."""

    def __init__(self, connection: Connection, site: str) -> None:
        self._connection = connection
        self._site = site

    def add(self, table: Table, **values: Any) -> int:
        """A new record; returns its seq."""
        seq = self._next_seq()
        self._connection.execute(insert(table).values(site=self._site, seq=seq, **values))
        return seq

    def change(self, table: Table, seq: int, **values: Any) -> None:
        """Other values in an existing record."""
        self._connection.execute(update(table).where(table.c.site == self._site, table.c.seq == seq).values(**values))

    def _next_seq(self) -> int:
        mine = counter.c.site == self._site
        raised = self._connection.execute(update(counter).where(mine).values(last_seq=counter.c.last_seq + 1))
        if raised.rowcount == 0:
            self._connection.execute(insert(counter).values(site=self._site, last_seq=1))
        return int(self._connection.execute(select(counter.c.last_seq).where(mine)).scalar_one())
