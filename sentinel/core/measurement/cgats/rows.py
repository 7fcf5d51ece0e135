"""The careful way from a table's bytes to its rows: every line looked at, every doubt refused with its place."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

from sentinel.core.measurement.cgats import tokens
from sentinel.core.measurement.cgats.document import Notes, Statement
from sentinel.core.measurement.cgats.faults import CgatsError, Refused
from sentinel.core.measurement.cgats.fields import canonical, is_text, unique
from sentinel.core.measurement.cgats.numbers import numeral
from sentinel.core.measurement.cgats.sections import INCLUDES, TableSection
from sentinel.core.measurement.cgats.tokens import TextLine, lines
from sentinel.core.measurement.reading import ReaderBounds
from sentinel.core.message import Message, msg


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
    lines: tuple[tuple[TextLine, int], ...]


@dataclass(slots=True)
class _Tail:
    """What the ends of tab-separated rows look like: a lost cell can hide behind a trailing tab."""

    widths: set[int] = field(default_factory=set)
    empty: Row | None = None


@dataclass(frozen=True, slots=True)
class SureRows:
    """So many rows, each on a line of its own, that are known to fit; what comes behind them begins at `after`."""

    count: int
    after: int


_LONGEST_SURE = 1000


@lru_cache(maxsize=32)
def _sure(width: int, tabbed: bool) -> re.Pattern[bytes]:
    """Rows of plain cells: no quotes, comments, empty cells or line that may include a file."""
    cell = rf"[!$-&(-~]{{1,{_LONGEST_SURE}}}+"
    gap = r"\t" if tabbed else r"[\t ]++"
    return re.compile(rf"(?:(?![.$]){cell}(?:{gap}{cell}){{{width - 1}}}+\n)*+".encode())


def sure_rows(raw: bytes, section: TableSection, layout: Layout) -> SureRows:
    """The rows at the beginning of a section that fit the layout without any doubt, found at once."""
    if not all(layout.columns):
        return SureRows(0, section.start)
    found = _sure(len(layout.columns), layout.tabbed).match(raw, section.start, section.end)
    after = found.end() if found else section.start
    return SureRows(raw.count(b"\n", section.start, after), after)


def rows(
    raw: bytes,
    section: TableSection,
    layout: Layout,
    bounds: ReaderBounds,
    notes: Notes,
    behind: SureRows | None = None,
) -> Iterator[Row]:
    """The rows of a section in file order, those `behind` the sure ones alone where such are given.

    Raises at the first that does not fit the layout.
    """
    width = len(layout.columns)
    behind = behind or SureRows(0, section.start)
    count, comments, tail = behind.count, 0, _Tail({width} if behind.count else set())
    waiting: list[tuple[TextLine, int]] = []
    cells: list[str] = []
    for line in lines(raw, behind.after, section.line + behind.count, section.end):
        found = _cells(line, layout, bounds, notes)
        if not found:
            comments += 1
            if comments > bounds.header_lines:
                message = msg(
                    "expected at most {count} comment among rows",
                    "expected at most {count} comments among rows",
                    count=bounds.header_lines,
                )
                raise CgatsError(Refused.TOO_MANY_COMMENTS, message, line.number)
            continue
        if layout.wrapped and not any(map(str.strip, found)):
            raise _nothing_on_line(line)
        waiting.append((line, len(found)))
        cells += found
        if len(cells) < width and layout.wrapped:
            continue
        row = Row(cells, tuple(waiting))
        _fit(row, layout, tail)
        waiting, cells = [], []
        count += 1
        if count > bounds.rows:
            message = msg(
                "expected at most {count} row in a table", "expected at most {count} rows in a table", count=bounds.rows
            )
            raise CgatsError(Refused.TOO_MANY_ROWS, message, line.number)
        yield row
    if waiting:
        raise _short(waiting[0][0], len(cells), width)
    _judge_tail(tail, count, width)


def _cells(line: TextLine, layout: Layout, bounds: ReaderBounds, notes: Notes) -> list[str]:
    """The unquoted cells of a line, none for a comment."""
    text = line.text
    end = tokens.comment_start(text)
    content = text[:end]
    if not content.strip(tokens.WHITE):
        return []
    if content.lstrip(tokens.WHITE)[0] in ".$" and tokens.first(content.lstrip(tokens.WHITE)).upper() in INCLUDES:
        message = msg("a line that includes another file is never followed; put its text in its place")
        raise CgatsError(Refused.INCLUDE_LINE, message, line.number)
    if tokens.are_more_than(bounds.columns, content, layout.tabbed):
        message = msg(
            "expected {count} cell, but this line has more than {most}",
            "expected {count} cells, but this line has more than {most}",
            count=len(layout.columns),
            most=bounds.columns,
        )
        raise CgatsError(Refused.LONG_ROW, message, line.number)
    cells = tokens.split(content, layout.tabbed, line.number, notes)
    if line.after - line.start > bounds.token_bytes and max(len(c.encode()) for c in cells) > bounds.token_bytes:
        message = msg(
            "expected cells of at most {count} byte",
            "expected cells of at most {count} bytes",
            count=bounds.token_bytes,
        )
        raise CgatsError(Refused.TOKEN_TOO_LONG, message, line.number)
    if layout.tabbed and end < len(text):
        _refuse_doubtful_comment(line, content, cells, layout)
    return cells


def _refuse_doubtful_comment(line: TextLine, content: str, cells: list[str], layout: Layout) -> None:
    """Between tabs `Patch #1` may be a name or a name and a comment."""
    last = len(cells) - 1
    name = layout.columns[last] if last < len(layout.columns) else ""
    if name and (not cells[-1] or (content[-1:] != "\t" and numeral(cells[-1].replace(",", ".")) is None)):
        message = msg("expected no '#' in an unquoted cell: it may be a comment or a part of the text")
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
    if layout.tabbed and tail.empty is None and len(cells) - width < _empty_ends(last):  # not one of empty quotes
        tail.empty = row
    del cells[width:]
    if not all(layout.columns):
        _refuse_unnamed(row, layout)


def _empty_ends(line: TextLine) -> int:
    """How many cells a line's trailing tabs may stand for."""
    content = line.text[: tokens.comment_start(line.text)]
    return content[len(content.rstrip(tokens.WHITE)) :].count("\t")


def _refuse_unnamed(row: Row, layout: Layout) -> None:
    for name, cell in zip(layout.columns, row.cells, strict=True):
        if not name and cell:
            message = msg(
                "expected an empty cell in a column without a name, but {cell} stands here", cell=tokens.shown(cell)
            )
            raise CgatsError(Refused.UNNAMED_COLUMN, message, row.lines[0][0].number)


def _nothing_on_line(line: TextLine) -> CgatsError:
    """Else a line of empty quotes would make up for a cell that was lost."""
    message = msg("expected cells with something in them on a line that goes on with a row, but empty ones stand here")
    return CgatsError(Refused.SHORT_ROW, message, line.number)


def _short(line: TextLine, came: int, width: int) -> CgatsError:
    return CgatsError(Refused.SHORT_ROW, _other_width(width, came), line.number)


def _other_width(width: int, came: int) -> Message:
    return msg(
        "expected {count} cell, but this row has {came}",
        "expected {count} cells, but this row has {came}",
        count=width,
        came=came,
    )


def _judge_tail(tail: _Tail, count: int, width: int) -> None:
    """An empty last cell is a missing value only where rows of one width vouch for it."""
    if tail.empty is None or (count > 1 and len(tail.widths) == 1):
        return
    message = msg(
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
            content = line.text[: tokens.comment_start(line.text)]
            spans = tokens.tabbed_cells(content) if layout.tabbed else tokens.words(content)
            return line.number, spans[column][0] + 1
        column -= count
    return row.lines[0][0].number, 0


def layouts(raw: bytes, section: TableSection) -> list[Layout]:
    """Every way in which the rows might be cut, the plainest first; refuses what the counts contradict."""
    tabbed, spaced = _columns(section.format.tabbed), _columns(section.format.spaced)
    if not all(spaced) or not spaced:
        message = msg("expected names of fields between BEGIN_DATA_FORMAT and END_DATA_FORMAT")
        raise CgatsError(Refused.NO_FORMAT, message, section.format.line)
    stated = section.counts.get("NUMBER_OF_FIELDS")
    ways = [(spaced, False)]
    if all(tabbed) and tabbed != spaced:
        ways.insert(0, (tabbed, False))
    if raw.find(b"\t", section.start, section.end) >= 0:
        ways.insert(0, (tabbed, True))
    ways = [(columns, at_tabs) for columns, at_tabs in ways if _counted(columns, stated)]
    if stated and not ways:
        message = msg(
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


_NOT_ONE_TAB = (b" ", b"\t\t", b"\f", "\u00a0".encode())

_PAD = tokens.WHITE.replace("\t", "")


def refuse_doubtful(raw: bytes, section: TableSection, layout: Layout, count: int) -> None:
    """Refuse a section whose rows fit the layout, if they leave a doubt about their separator."""
    if raw.find(b"\t", section.start, section.end) < 0:
        return
    if layout.tabbed and all(raw.find(gap, section.start, section.end) < 0 for gap in _NOT_ONE_TAB):
        return
    source = lines(raw, section.start, section.line, section.end)
    content = (
        TextLine(text, line.number, line.start, line.after)
        for line in source
        if (text := line.text[: tokens.comment_start(line.text)]).strip(tokens.WHITE)
    )
    if layout.tabbed:
        _refuse_both_fitting(content, layout, len(section.format.spaced))
    else:
        _refuse_split_names(content, layout, count)


def _refuse_both_fitting(content: Iterator[TextLine], layout: Layout, spaced: int) -> None:
    """Cells cut at tabs, where white space would cut every row into as many as its own list of fields, but others."""
    different: TextLine | None = None
    for line in content:
        spans = tokens.words(line.text)
        if len(spans) != spaced:
            return
        cells = zip(layout.columns, tokens.tabbed_cells(line.text), strict=False)
        if different is None and spans != [span for name, span in cells if name]:
            different = line
    if different:
        message = msg(
            "both tabs and white space cut every row into {count} cell, but into another",
            "both tabs and white space cut every row into {count} cells, but into others",
            count=spaced,
        )
        raise CgatsError(Refused.SEPARATOR_AMBIGUOUS, message, different.number)


def _refuse_split_names(content: Iterator[TextLine], layout: Layout, count: int) -> None:
    """Words cut at white space, where tabs in some rows suggest that a name with a space was cut in two."""
    fits_tabs = count == 1
    suspect: TextLine | None = None
    for line in content:
        gaps = _gaps(line.text)
        tabs = sum(gap.count("\t") for gap in gaps)
        if layout.wrapped and (tabs or line.text.rstrip(_PAD)[-1:] == "\t"):
            raise _both_separators(line)
        fits_tabs = fits_tabs or tabs + 1 == len(layout.columns)
        if suspect is None and tabs and _may_split_a_name(gaps, layout):
            suspect = line
        if fits_tabs and suspect:
            raise _both_separators(suspect)


def _both_separators(line: TextLine) -> CgatsError:
    message = msg(
        "expected cells separated by tabs or by spaces, but both are there, "
        "so a cell with a space in it cannot be told from two cells"
    )
    return CgatsError(Refused.SEPARATOR_AMBIGUOUS, message, line.number)


def _gaps(text: str) -> list[str]:
    """What stands between the words of a line."""
    return [text[left[1] : right[0]] for left, right in pairwise(tokens.words(text))]


def _may_split_a_name(gaps: list[str], layout: Layout) -> bool:
    """Whether a gap of spaces alone stands beside a cell of text."""
    names = layout.columns
    return any(
        "\t" not in gap and (is_text(names[index]) or is_text(names[index + 1])) for index, gap in enumerate(gaps)
    )
