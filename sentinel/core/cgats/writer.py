"""A document to CGATS.17 text that reads back equal."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from sentinel.core.cgats.document import Document, Statement, Table
from sentinel.core.cgats.fields import written
from sentinel.core.cgats.header import COMMENT, DECLARATION
from sentinel.core.cgats.keywords import is_standard
from sentinel.core.cgats.values import numeral

_PLAIN = re.compile(r"[^\x00-\x20\s\"'#.$][^\x00-\x20\s\"'#]*")
_LINE_BREAK = re.compile(r"[\x00-\x08\n\x0b\r-\x1f]")
_IDENTIFIER = "CGATS.17"


def write(document: Document) -> bytes:
    """UTF-8 text with line feeds, tabs between cells, and every private keyword declared.

    Reading it back gives equal ids, numbers, keywords and comments; numbers have a decimal point and missing ones
    are written as they were read, or `NA` for an empty cell. Raises ValueError for text with a line break in it.
    """
    lines = [document.identifier or _IDENTIFIER]
    declared: set[str] = set()
    above: Mapping[str, str] = {}
    for table in document.tables:
        if any(keyword not in table.keywords for keyword in above):
            lines.append(_IDENTIFIER)
            above = {}
        lines += _header(table, above, declared)
        lines += _format(table)
        lines += _data(table)
        above = table.keywords
    written_comments = sum(s.keyword == COMMENT for table in document.tables for s in table.header)
    lines += map(_comment, document.comments[written_comments:])
    return ("\n".join(lines) + "\n").encode()


def _header(table: Table, above: Mapping[str, str], declared: set[str]) -> Iterator[str]:
    own = [s for s in table.header if s.keyword != DECLARATION]
    stated = {s.keyword: s.value for s in own}
    own += [Statement(k, v) for k, v in table.keywords.items() if stated.get(k, above.get(k)) != v]
    for statement in own:
        if statement.keyword == COMMENT:
            yield _comment(statement.value)
            continue
        if not is_standard(statement.keyword) and statement.keyword not in declared:
            declared.add(statement.keyword)
            yield f'{DECLARATION} "{statement.keyword}"'
        yield f"{statement.keyword}\t{_quoted(statement.value)}"


def _format(table: Table) -> Iterator[str]:
    yield f"NUMBER_OF_FIELDS\t{len(table.fields)}"
    yield "BEGIN_DATA_FORMAT"
    yield "\t".join(_cell(written(field)) for field in table.fields)
    yield "END_DATA_FORMAT"


def _data(table: Table) -> Iterator[str]:
    yield f"NUMBER_OF_SETS\t{table.rows}"
    yield "BEGIN_DATA"
    columns = [_column(table, field) for field in table.fields]
    yield from map("\t".join, zip(*columns, strict=True))
    yield "END_DATA"


def _column(table: Table, field: str) -> list[str]:
    if field not in table.number:
        return [_cell(text) for text in table.text[field]]
    return [
        text if text and numeral(text) is not None else _number(value)
        for text, value in zip(table.text[field], table.number[field].tolist(), strict=True)
    ]


def _number(value: float) -> str:
    return "NA" if value != value else repr(value)  # noqa: PLR0124


def _comment(text: str) -> str:
    return "# " + _LINE_BREAK.sub(" ", text)


def _cell(text: str) -> str:
    return text if _PLAIN.fullmatch(text) and "_DATA" not in text.upper() else _quoted(text)


def _quoted(text: str) -> str:
    if _LINE_BREAK.search(text):
        raise ValueError(f"expected text without line breaks and control characters, got {text!r}")
    return '"' + text.replace('"', '""') + '"'
