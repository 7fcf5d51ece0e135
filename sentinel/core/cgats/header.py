"""Header lines to the keywords in force for each table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sentinel.core.cgats.codes import Assumed
from sentinel.core.cgats.document import Statement
from sentinel.core.cgats.keywords import is_standard
from sentinel.core.cgats.notes import Notes
from sentinel.core.cgats.sections import Section

COMMENT = "#"
DECLARATION = "KEYWORD"
_SEVERAL_VALUES = ("WEIGHTING_FUNCTION", "COMPUTATIONAL_PARAMETER", DECLARATION)


def keywords_in_force(sections: Iterable[Section], notes: Notes) -> list[Mapping[str, str]]:
    """Each table's keywords, upper-cased: its own over those of the tables above it on the same sheet."""
    found: list[Mapping[str, str]] = []
    inherited: dict[str, str] = {}
    declared: set[str] = set()
    for section in sections:
        declared |= {s.value.upper() for s in section.statements if s.keyword == DECLARATION}
        own: dict[str, str] = {}
        for statement in section.statements:
            if statement.keyword not in (COMMENT, DECLARATION):
                _note(statement, own, declared, notes)
                own[statement.keyword] = statement.value
        inherited = own if section.fresh else inherited | own
        found.append(inherited)
    return found


def _note(statement: Statement, own: dict[str, str], declared: set[str], notes: Notes) -> None:
    keyword = statement.keyword
    if own.get(keyword, statement.value) != statement.value and keyword not in _SEVERAL_VALUES:
        message = f"{keyword} is given twice with different values; the later one was taken"
        notes.add(Assumed.KEYWORD_REPEATED, message, statement.line)
    if not is_standard(keyword) and keyword not in declared:
        message = f"{keyword} is no standard keyword and was not declared; it was taken as one"
        notes.add(Assumed.KEYWORD_UNDECLARED, message, statement.line)
        declared.add(keyword)
