"""Decimal point or decimal comma: decided for the whole file on the cells that can be read in one way only."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from sentinel.core.cgats.chunks import Chunk
from sentinel.core.cgats.fields import is_value

_MARKED = re.compile(r"[+-]?[0-9]*[.,][0-9]*(?:[eE][+-][0-9]+)?")
_GROUPED = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")


@dataclass(slots=True)
class Marks:
    """The marks of one column: which are certainly decimal, and the first row of a cell that may group thousands."""

    certain: set[str] = field(default_factory=set)
    met: set[str] = field(default_factory=set)
    doubtful: dict[str, int] = field(default_factory=dict)


class MarkSurvey:
    """Looks at the number columns of a table, chunk by chunk."""

    def __init__(self, names: tuple[str, ...]) -> None:
        self._names = names
        self.rows = 0
        self.marks = {name: Marks() for name in names if is_value(name)}

    def take(self, chunk: Chunk) -> None:
        """Look at the rows of a chunk."""
        for column, name in enumerate(self._names):
            if name in self.marks:
                self._look(self.marks[name], chunk.column(column, len(self._names)))
        self.rows += chunk.rows

    def _look(self, marks: Marks, cells: list[str]) -> None:
        for row, cell in enumerate(cells):
            if ("," in cell or "." in cell) and _MARKED.fullmatch(cell):
                mark = "," if "," in cell else "."
                marks.met.add(mark)
                if _GROUPED.fullmatch(cell):
                    marks.doubtful.setdefault(mark, self.rows + row)
                else:
                    marks.certain.add(mark)


@dataclass(frozen=True, slots=True)
class Doubt:
    """A cell whose mark may be a decimal one or may group thousands."""

    table: int
    row: int
    field: str


def decide(surveys: list[MarkSurvey]) -> tuple[bool, bool, Doubt | None]:
    """Whether commas are decimal, whether points are too, and the first cell that stays in doubt.

    A column with one mark, certain somewhere in it, is in no doubt; nor is a file with one mark, certain somewhere.
    """
    columns = [marks for survey in surveys for marks in survey.marks.values()]
    certain = set().union(*(marks.certain for marks in columns))
    met = set().union(*(marks.met for marks in columns))
    comma, point = "," in certain, "." in met
    for table, survey in enumerate(surveys):
        for name, marks in survey.marks.items():
            for mark, row in marks.doubtful.items():
                alone = marks.met == {mark} and mark in marks.certain
                settled = met == {mark} and (mark in certain or mark == ".")
                if not (alone or settled):
                    return comma, point, Doubt(table, row, name)
    return comma, point, None
