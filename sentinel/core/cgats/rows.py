"""The careful way from a table's bytes to its rows: every line looked at, every doubt refused with its place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from sentinel.core.cgats import words
from sentinel.core.cgats.bounds import Bounds
from sentinel.core.cgats.codes import Refused
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.lines import Line, lines
from sentinel.core.cgats.notes import Notes
from sentinel.core.cgats.sections import INCLUDES, Section
from sentinel.core.cgats.values import numeral
from sentinel.core.said import Sentence, said


@dataclass(frozen=True, slots=True)
class Layout:
    """How the rows of a table are cut: their columns' names ('' for a blank column), and the way cells are told apart.

    `wrapped` rows go on over several lines, each row beginning a line of its own.
    """

    columns: tuple[str, ...]
    tabbed: bool
    wrapped: bool


@dataclass(frozen=True, slots=True)
class Row:
    """The unquoted cells of one row, and the lines they stand on with the cells of each."""

    cells: list[str]
    lines: tuple[tuple[Line, int], ...]


@dataclass(slots=True)
class _Tail:
    """What the ends of tab-separated rows look like: a lost cell can hide behind a trailing tab."""

    widths: set[int] = field(default_factory=set)
    empty: Row | None = None


def rows(raw: bytes, section: Section, layout: Layout, bounds: Bounds, notes: Notes) -> Iterator[Row]:
    """The rows of a section in file order; raises at the first that does not fit the layout."""
    width = len(layout.columns)
    count, comments, tail = 0, 0, _Tail()
    waiting: list[tuple[Line, list[str]]] = []
    for line in lines(raw, section.start, section.line, section.end):
        cells = _cells(line, layout, bounds, notes)
        if not cells:
            comments += 1
            if comments > bounds.header_lines:
                message = said(
                    "expected at most {count} comment among rows",
                    "expected at most {count} comments among rows",
                    count=bounds.header_lines,
                )
                raise CgatsError(Refused.TOO_MANY_COMMENTS, message, line.number)
            continue
        waiting.append((line, cells))
        cells = [cell for _, some in waiting for cell in some] if len(waiting) > 1 else cells
        if len(cells) < width and layout.wrapped:
            continue
        row = Row(cells, tuple((line, len(some)) for line, some in waiting))
        _fit(row, layout, tail)
        waiting.clear()
        count += 1
        if count > bounds.rows:
            message = said(
                "expected at most {count} row in a table", "expected at most {count} rows in a table", count=bounds.rows
            )
            raise CgatsError(Refused.TOO_MANY_ROWS, message, line.number)
        yield row
    if waiting:
        raise _short(waiting[0][0], sum(len(cells) for _, cells in waiting), width)
    _judge_tail(tail, count, width)


def _cells(line: Line, layout: Layout, bounds: Bounds, notes: Notes) -> list[str]:
    """The unquoted cells of a line, none for a comment."""
    text = line.text
    end = words.comment_start(text)
    content = text[:end]
    if not content.strip(words.WHITE):
        return []
    if content.lstrip(words.WHITE)[0] in ".$" and words.first(content.lstrip(words.WHITE)).upper() in INCLUDES:
        message = said("a line that includes another file is never followed; put its text in its place")
        raise CgatsError(Refused.INCLUDE_LINE, message, line.number)
    if words.are_more_than(bounds.columns, content, layout.tabbed):
        message = said(
            "expected {count} cell, but this line has more than {most}",
            "expected {count} cells, but this line has more than {most}",
            count=len(layout.columns),
            most=bounds.columns,
        )
        raise CgatsError(Refused.LONG_ROW, message, line.number)
    cells = words.split(content, layout.tabbed, line.number, notes)
    if line.after - line.start > bounds.token_bytes and max(len(c.encode()) for c in cells) > bounds.token_bytes:
        message = said(
            "expected cells of at most {count} byte",
            "expected cells of at most {count} bytes",
            count=bounds.token_bytes,
        )
        raise CgatsError(Refused.TOKEN_TOO_LONG, message, line.number)
    if layout.tabbed and end < len(text):
        _refuse_doubtful_comment(line, content, cells, layout)
    return cells


def _refuse_doubtful_comment(line: Line, content: str, cells: list[str], layout: Layout) -> None:
    """Between tabs `Patch #1` may be a name or a name and a comment."""
    last = len(cells) - 1
    name = layout.columns[last] if last < len(layout.columns) else ""
    if name and (not cells[-1] or (content[-1:] != "\t" and numeral(cells[-1].replace(",", ".")) is None)):
        message = said("expected no '#' in an unquoted cell: it may be a comment or a part of the text")
        raise CgatsError(Refused.COMMENT_AMBIGUOUS, message, line.number, len(content) + 1)


def _fit(row: Row, layout: Layout, tail: _Tail) -> None:
    """Bring a row to the width of the layout, or refuse it."""
    cells, width = row.cells, len(layout.columns)
    first, last = row.lines[0][0], row.lines[-1][0]
    if len(cells) < width or (len(row.lines) > 1 and len(cells) > width):
        raise _short(first, row.lines[0][1], width)
    if len(cells) > width + (_empty_ends(last) if layout.tabbed else 0):
        raise CgatsError(Refused.LONG_ROW, _other_width(width, len(cells)), last.number)
    tail.widths.add(len(cells))
    if layout.tabbed and tail.empty is None and not cells[width - 1] and _empty_ends(last):
        tail.empty = row
    del cells[width:]
    if not all(layout.columns):
        _refuse_unnamed(row, layout)


def _empty_ends(line: Line) -> int:
    """How many cells a line's trailing tabs may stand for."""
    content = line.text[: words.comment_start(line.text)]
    return content[len(content.rstrip(words.WHITE)) :].count("\t")


def _refuse_unnamed(row: Row, layout: Layout) -> None:
    for name, cell in zip(layout.columns, row.cells, strict=True):
        if not name and cell:
            message = said(
                "expected an empty cell in a column without a name, but {cell} stands here", cell=words.shown(cell)
            )
            raise CgatsError(Refused.UNNAMED_COLUMN, message, row.lines[0][0].number)


def _short(line: Line, came: int, width: int) -> CgatsError:
    return CgatsError(Refused.SHORT_ROW, _other_width(width, came), line.number)


def _other_width(width: int, came: int) -> Sentence:
    return said(
        "expected {count} cell, but this row has {came}",
        "expected {count} cells, but this row has {came}",
        count=width,
        came=came,
    )


def _judge_tail(tail: _Tail, count: int, width: int) -> None:
    """An empty last cell is a missing value only where rows of one width vouch for it."""
    if tail.empty is None or (count > 1 and len(tail.widths) == 1):
        return
    message = said(
        "this row ends in an empty cell: it may hold {count} cell with the last one missing, "
        "or have lost one before a trailing tab; rows of one width would tell",
        "this row ends in an empty cell: it may hold {count} cells with the last one missing, "
        "or have lost one before a trailing tab; rows of one width would tell",
        count=width,
    )
    raise CgatsError(Refused.ROW_AMBIGUOUS, message, tail.empty.lines[-1][0].number)


def place(row: Row, column: int, layout: Layout) -> tuple[int, int]:
    """Line and column, from 1, of a cell of a row."""
    for line, count in row.lines:
        if column < count:
            content = line.text[: words.comment_start(line.text)]
            spans = words.tabbed_cells(content) if layout.tabbed else words.words(content)
            return line.number, spans[column][0] + 1
        column -= count
    return row.lines[0][0].number, 0
