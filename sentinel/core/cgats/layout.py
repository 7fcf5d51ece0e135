"""Which way of cutting the rows fits the list of fields and every row."""

from __future__ import annotations

from sentinel.core.cgats.codes import Refused
from sentinel.core.cgats.document import Statement
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.fields import canonical, unique
from sentinel.core.cgats.rows import Layout
from sentinel.core.cgats.sections import Section
from sentinel.core.said import said


def layouts(raw: bytes, section: Section) -> list[Layout]:
    """Every way in which the rows might be cut, the plainest first; refuses what the counts contradict."""
    tabbed, spaced = _columns(section.format.tabbed), _columns(section.format.spaced)
    if not all(spaced) or not spaced:
        message = said("expected names of fields between BEGIN_DATA_FORMAT and END_DATA_FORMAT")
        raise CgatsError(Refused.NO_FORMAT, message, section.format.line)
    stated = section.counts.get("NUMBER_OF_FIELDS")
    ways = [(spaced, False)]
    if all(tabbed) and tabbed != spaced:
        ways.insert(0, (tabbed, False))
    if raw.find(b"\t", section.start, section.end) >= 0:
        ways.insert(0, (tabbed, True))
    ways = [(columns, at_tabs) for columns, at_tabs in ways if _counted(columns, stated)]
    if stated and not ways:
        message = said(
            "expected {count} field (NUMBER_OF_FIELDS), but {found} are listed",
            "expected {count} fields (NUMBER_OF_FIELDS), but {found} are listed",
            count=int(stated.value),
            found=len(spaced),
        )
        raise CgatsError(Refused.FIELD_COUNT, message, stated.line)
    return [Layout(columns, at_tabs, wrapped) for wrapped in (False, True) for columns, at_tabs in ways]


def _columns(names: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(unique([canonical(name) for name in names]))


def _counted(columns: tuple[str, ...], stated: Statement | None) -> bool:
    return stated is None or int(stated.value) in (len(columns), sum(map(bool, columns)))
