"""How much of a file a reader takes in. Light: no numpy."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReaderBounds:
    """Upper bounds; what exceeds one is refused.

    `file_bytes` the whole file, `rows` and `columns` of one table, `tables` of a file, `token_bytes` one cell or one
    header line, `header_lines` all keywords and comments above the tables of a file, and the comments in one table.
    """

    file_bytes: int = 64 * 1024 * 1024
    rows: int = 100_000
    columns: int = 2_000
    tables: int = 64
    token_bytes: int = 1024 * 1024
    header_lines: int = 20_000
