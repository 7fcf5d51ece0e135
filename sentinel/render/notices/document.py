"""A notice before it has a form: a title, and sections in the order in which they are read."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Literal

TITLE_LENGTH = 60
"""Characters of a title that a locked phone shows in two lines (common practice, no published source)."""

Style = Literal["paragraph", "bullets", "steps", "table"]


class Part(StrEnum):
    """What a section is for, in the order of reading."""

    WHO = "who"
    PRODUCTION = "production"
    WHAT = "what"
    WHY = "why"
    FIGURES = "figures"
    STEPS = "steps"
    PREPARATION = "preparation"
    CAUTIONS = "cautions"
    NOTES = "notes"


FIRST_LEFT_OUT = (Part.NOTES, Part.FIGURES, Part.PREPARATION, Part.WHY, Part.STEPS, Part.CAUTIONS, Part.WHO)
"""What a text that is too long does without, in this order: nobody is sent to a printer without its cautions."""


@dataclass(frozen=True, slots=True)
class Section:
    """A heading, which may be empty, and lines; of a table, rows under `columns`, each as long as these."""

    part: Part
    style: Style
    heading: str
    lines: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.lines or self.rows)


@dataclass(frozen=True, slots=True)
class Document:
    """`urgent` notices stand out where a form can do that; `shortened` ones point to the rest."""

    title: str
    sections: tuple[Section, ...]
    key: str
    urgent: bool = False
    shortened: bool = False

    def of(self, part: Part) -> tuple[Section, ...]:
        """The sections of one part."""
        return tuple(section for section in self.sections if section.part is part)

    def without_last(self, part: Part) -> Document:
        """The same without the last section of a part."""
        last = max(number for number, section in enumerate(self.sections) if section.part is part)
        return replace(self, sections=self.sections[:last] + self.sections[last + 1 :], shortened=True)


def document(title: str, sections: Iterable[Section | None], key: str, urgent: bool = False) -> Document:
    """A document of the sections that say anything; every text in it is one line that forges nothing."""
    order = list(Part)
    said = sorted((section for section in sections if section), key=lambda section: order.index(section.part))
    return Document(cut(tidy(title), TITLE_LENGTH), tuple(_tidied(section) for section in said), tidy(key), urgent)


def _tidied(section: Section) -> Section:
    return replace(
        section,
        heading=tidy(section.heading),
        lines=tuple(tidy(line) for line in section.lines),
        columns=tuple(tidy(column) for column in section.columns),
        rows=tuple(tuple(tidy(cell) for cell in row) for row in section.rows),
    )


# C0 and C1 controls, line and paragraph separators, and the marks that turn the direction of writing
_FORGING = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
_CALLING = re.compile(r"@(?=everyone|here|channel|all\b)", re.IGNORECASE)


def tidy(text: str) -> str:
    """The text as one line, as it is read: a name out of a file must neither forge lines nor call a whole room."""
    return _CALLING.sub("@\u200b", _FORGING.sub("\ufffd", text))


def cut(text: str, length: int) -> str:
    """The text, or its beginning with an ellipsis."""
    return text if len(text) <= length else (text[: max(0, length - 1)].rstrip() + "…")[:length]


def paragraph(part: Part, text: str, heading: str = "") -> Section:
    """One sentence or more."""
    return Section(part, "paragraph", heading, (text,) if text else ())


def bullets(part: Part, heading: str, lines: Iterable[str]) -> Section:
    """Lines in no order."""
    return Section(part, "bullets", heading, tuple(lines))


def steps(part: Part, heading: str, lines: Iterable[str]) -> Section:
    """Lines in their order."""
    return Section(part, "steps", heading, tuple(lines))


def table(part: Part, heading: str, columns: Iterable[str], rows: Iterable[Iterable[str]]) -> Section:
    """Rows; the first column says what each is of."""
    return Section(part, "table", heading, columns=tuple(columns), rows=tuple(tuple(row) for row in rows))
