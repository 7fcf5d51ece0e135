"""Decimal point or decimal comma: decided for the whole file on the cells that can be read in one way only.

`0,5` and `12,34` have a decimal comma; `1,234` may have one or may group thousands, and so may `1.234` beside commas.
Lab, XYZ, reflectance and densities never reach a thousand: where such fields hold nothing but `52,123` and the like,
no point in sight, the comma is decimal.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from sentinel.core.cgats.chunks import Chunk
from sentinel.core.cgats.fields import is_value

_SMALL = re.compile(r"LAB_[LABC]|XYZ_[XYZ]|D_\w+|SPECTRAL_(?:NM\d+|DEC.*|PCT.*)")
_MARKED = re.compile(r"[+-]?[0-9]*[.,][0-9]*(?:[eE][+-][0-9]+)?")
_GROUPED = {mark: re.compile(rf"^[+-]?[1-9][0-9]{{0,2}}[{mark}][0-9]{{3}}$", re.M) for mark in ",."}


@dataclass(slots=True)
class Marks:
    """The marks of one column: those met, those certainly decimal, and the first row of a cell that is in doubt.

    `doubts` counts the cells in doubt.
    """

    met: set[str] = field(default_factory=set)
    certain: set[str] = field(default_factory=set)
    doubtful: dict[str, int] = field(default_factory=dict)
    doubts: int = 0


@dataclass(frozen=True, slots=True)
class Doubt:
    """A cell whose mark may be a decimal one or may group thousands."""

    table: int
    row: int
    field: str


class MarkSurvey:
    """Looks at the number columns of a table, chunk by chunk; at one certain comma alone where there are no points."""

    def __init__(self, names: tuple[str, ...], points: bool) -> None:
        self._names = names
        self._points = points
        self.rows = 0
        self.marks = {name: Marks() for name in names if is_value(name)}

    def take(self, chunk: Chunk) -> None:
        """Look at the rows of a chunk."""
        for column, name in enumerate(self._names):
            if not self._points and any(marks.certain for marks in self.marks.values()):
                break
            if name in self.marks:
                self._look(self.marks[name], chunk.column(column, len(self._names)))
        self.rows += chunk.rows

    def _look(self, marks: Marks, cells: list[str]) -> None:
        text = "\n".join(cells)
        for mark in ",.":
            if mark not in text:
                continue
            marks.met.add(mark)
            grouped = list(_GROUPED[mark].finditer(text))
            if grouped:
                marks.doubtful.setdefault(mark, self.rows + text.count("\n", 0, grouped[0].start()))
                marks.doubts += len(grouped)
            if any(_is_certain(cell, mark) for cell in cells):
                marks.certain.add(mark)


def _is_certain(cell: str, mark: str) -> bool:
    return mark in cell and _MARKED.fullmatch(cell) is not None and not _GROUPED[mark].fullmatch(cell)


def decide(surveys: list[MarkSurvey]) -> tuple[bool, bool, Doubt | None]:
    """Whether commas are decimal, whether there are points too, and the first cell that stays in doubt.

    A column with one mark, certain somewhere in it, is in no doubt; nor is a file with one mark, certain somewhere.
    """
    columns = [marks for survey in surveys for marks in survey.marks.values()]
    met = set().union(*(marks.met for marks in columns))
    certain = set().union(*(marks.certain for marks in columns))
    if met == {","} and not certain and _are_small(surveys):
        certain = {","}
    for table, survey in enumerate(surveys):
        for name, marks in survey.marks.items():
            for mark, row in marks.doubtful.items():
                alone = marks.met == {mark} and mark in marks.certain
                settled = met == {mark} and (mark in certain or mark == ".")
                if not (alone or settled):
                    return "," in certain, "." in met, Doubt(table, row, name)
    return "," in certain, "." in met, None


def _are_small(surveys: list[MarkSurvey]) -> bool:
    """Whether several cells in doubt, and none elsewhere, are of a kind that never reaches a thousand."""
    doubtful = [(name, marks) for survey in surveys for name, marks in survey.marks.items() if marks.doubts]
    return all(_SMALL.fullmatch(name) for name, _ in doubtful) and sum(marks.doubts for _, marks in doubtful) > 1
