"""Freezes the text of the questions that the light commands ask: `python -m sentinel.adapters.store.freeze`.

A test holds frozen.py equal to what the statements compile to now.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from textwrap import fill
from typing import Any

from sqlalchemy import Boolean
from sqlalchemy.dialects.sqlite import dialect

from sentinel.adapters.store.connection import Asked, FrozenQuestion
from sentinel.adapters.store.schema import Kept
from sentinel.adapters.store.statements import statement

LIGHT: tuple[Asked, ...] = (
    ("cases", ()),
    ("cases", ("since",)),
    ("check_before", ("at", "condition", "seq")),
    ("forecasts", ()),
    ("risk_outlooks", ()),
    ("given_up_by_url", ()),
    ("late_arrivals", ("since",)),
    ("latest_checks", ("recent",)),
    ("moments", ()),
    ("newest_settings", ()),
    ("outbox_counts", ()),
    ("recorded_checks", ("seq",)),
    ("recorded_events", ()),
    ("recorded_events", ("kinds",)),
    ("recorded_events", ("printers",)),
    ("recorded_events", ("since",)),
    ("target_versions", ("name",)),
    ("unscored_places", ("keys",)),
)
"""What `status`, `health`, `round` and `cases` ask."""

WIDTH = 105


@cache
def frozen(asked: Asked) -> FrozenQuestion:
    """A question as SQLite's text."""
    found = statement(asked).compile(dialect=dialect(paramstyle="named"))
    binds = {name: bind for bind, name in found.bind_names.items()}
    return FrozenQuestion(
        sql=fill(" ".join(found.string.split()), WIDTH, break_on_hyphens=False, break_long_words=False),
        constants={name: bind.value for name, bind in binds.items() if not bind.required},
        lists=tuple(name for name, bind in binds.items() if bind.expanding),
        columns=tuple((each.name, _kind(each.type)) for each in statement(asked).selected_columns),
    )


def _kind(column: Any) -> str:
    if isinstance(column, Kept):
        return column.kind
    return "flag" if isinstance(column, Boolean) else ""


def module() -> str:
    """The text of frozen.py."""
    lines = [
        '"""The questions of the light commands as SQL. Written by `python -m sentinel.adapters.store.freeze`."""',
        "",
        "from sentinel.adapters.store.connection import Asked, FrozenQuestion",
        "",
        "# fmt: off",
        "FROZEN: dict[Asked, FrozenQuestion] = {",
    ]
    for asked in LIGHT:
        found = frozen(asked)
        lines += [f"    {asked!r}: FrozenQuestion(", f'        """{found.sql}""",']
        lines += [f"        {_text(part)}," for part in found[1:]]
        lines += ["    ),"]
    return "\n".join([*lines, "}", ""])


def _text(part: Any) -> str:
    return fill(repr(part), WIDTH, subsequent_indent=" " * 9, break_on_hyphens=False, break_long_words=False)


if __name__ == "__main__":
    Path(__file__).with_name("frozen.py").write_text(module(), encoding="utf-8")
