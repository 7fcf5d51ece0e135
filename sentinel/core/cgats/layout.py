"""Which way of cutting the rows fits the list of fields and every row."""

from __future__ import annotations

from sentinel.core.cgats.codes import Refused
from sentinel.core.cgats.document import Statement
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.fields import canonical, unique
from sentinel.core.cgats.rows import Layout
from sentinel.core.cgats.sections import Section


def layouts(raw: bytes, section: Section) -> list[Layout]:
    """Every way in which the rows might be cut, the plainest first; refuses what the counts contradict."""
    has_tabs = raw.find(b"\t", section.start, section.end) >= 0
    names = [_columns(section.format.tabbed), _columns(section.format.spaced)]
    stated = section.counts.get("NUMBER_OF_FIELDS")
    fitting = [columns for columns in dict.fromkeys(names) if _counted(columns, stated)]
    if stated and not fitting:
        named = sum(map(bool, names[1]))
        message = f"expected {stated.value} fields (NUMBER_OF_FIELDS), but {named} are listed"
        raise CgatsError(Refused.FIELD_COUNT, message, stated.line)
    if not names[1]:
        message = "expected at least one field between BEGIN_DATA_FORMAT and END_DATA_FORMAT"
        raise CgatsError(Refused.NO_FORMAT, message, section.format.line)
    return [
        Layout(columns, tabbed, wrapped)
        for wrapped in (False, True)
        for tabbed in ((True, False) if has_tabs else (False,))
        for columns in fitting
    ]


def _columns(names: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(unique([canonical(name) for name in names]))


def _counted(columns: tuple[str, ...], stated: Statement | None) -> bool:
    return stated is None or int(stated.value) in (len(columns), sum(map(bool, columns)))
