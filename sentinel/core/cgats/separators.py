"""Rows that hold tabs, fit one way of cutting, and could just as well mean something else."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from sentinel.core.cgats import words
from sentinel.core.cgats.codes import Refused
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.fields import is_text
from sentinel.core.cgats.lines import Line, lines
from sentinel.core.cgats.rows import Layout
from sentinel.core.cgats.sections import Section
from sentinel.core.said import said

_NOT_ONE_TAB = (b" ", b"\t\t", b"\f", "\u00a0".encode())

_PAD = words.WHITE.replace("\t", "")


def refuse_doubtful(raw: bytes, section: Section, layout: Layout, count: int) -> None:
    """Refuse a section whose rows fit the layout, if they leave a doubt about their separator."""
    if raw.find(b"\t", section.start, section.end) < 0:
        return
    if layout.tabbed and all(raw.find(gap, section.start, section.end) < 0 for gap in _NOT_ONE_TAB):
        return
    source = lines(raw, section.start, section.line, section.end)
    content = (
        Line(text, line.number, line.start, line.after)
        for line in source
        if (text := line.text[: words.comment_start(line.text)]).strip(words.WHITE)
    )
    if layout.tabbed:
        _refuse_both_fitting(content, layout, len(section.format.spaced))
    else:
        _refuse_split_names(content, layout, count)


def _refuse_both_fitting(content: Iterator[Line], layout: Layout, spaced: int) -> None:
    """Cells cut at tabs, where white space would cut every row into as many as its own list of fields, but others."""
    different: Line | None = None
    for line in content:
        spans = words.words(line.text)
        if len(spans) != spaced:
            return
        cells = zip(layout.columns, words.tabbed_cells(line.text), strict=False)
        if different is None and spans != [span for name, span in cells if name]:
            different = line
    if different:
        message = said(
            "both tabs and white space cut every row into {count} cell, but into another",
            "both tabs and white space cut every row into {count} cells, but into others",
            count=spaced,
        )
        raise CgatsError(Refused.SEPARATOR_AMBIGUOUS, message, different.number)


def _refuse_split_names(content: Iterator[Line], layout: Layout, count: int) -> None:
    """Words cut at white space, where tabs in some rows suggest that a name with a space was cut in two."""
    fits_tabs = count == 1
    suspect: Line | None = None
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


def _both_separators(line: Line) -> CgatsError:
    message = said(
        "expected cells separated by tabs or by spaces, but both are there, "
        "so a cell with a space in it cannot be told from two cells"
    )
    return CgatsError(Refused.SEPARATOR_AMBIGUOUS, message, line.number)


def _gaps(text: str) -> list[str]:
    """What stands between the words of a line."""
    return [text[left[1] : right[0]] for left, right in pairwise(words.words(text))]


def _may_split_a_name(gaps: list[str], layout: Layout) -> bool:
    """Whether a gap of spaces alone stands beside a cell of text."""
    names = layout.columns
    return any(
        "\t" not in gap and (is_text(names[index]) or is_text(names[index + 1])) for index, gap in enumerate(gaps)
    )
