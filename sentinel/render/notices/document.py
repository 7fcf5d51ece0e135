"""A notice before it has a form: a title, and sections in the order in which they are read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Generic, Literal, NamedTuple, TypeVar

from sentinel.core.message import ENGLISH, HIDDEN, Localizer, Message, Text, msg

TITLE_LENGTH = 60
"""Characters of a title that a locked phone shows in two lines (common practice, no published source)."""

Said = TypeVar("Said", Text, str)
"""What a section holds: what is to be said, and once the reader's language is known what it says."""

Style = Literal["paragraph", "bullets", "steps", "table"]


class SectionRole(StrEnum):
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
    ANSWER = "answer"


FIRST_LEFT_OUT = (
    SectionRole.NOTES,
    SectionRole.FIGURES,
    SectionRole.PREPARATION,
    SectionRole.WHY,
    SectionRole.STEPS,
    SectionRole.CAUTIONS,
    SectionRole.WHO,
)
"""What a text that is too long does without, in this order: nobody is sent to a printer without its cautions."""


@dataclass(frozen=True, slots=True)
class Section(Generic[Said]):
    """A heading, which may be empty, and lines; of a table, rows under `columns`, each as long as these.

    Once it is told, the heading and the first cell of each row end in a colon.
    """

    role: SectionRole
    style: Style
    heading: Said
    lines: tuple[Said, ...] = ()
    columns: tuple[Said, ...] = ()
    rows: tuple[tuple[Said, ...], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.lines or self.rows)


@dataclass(frozen=True, slots=True)
class NoticeDocument:
    """`urgent` notices stand out where a form can do that; `shortened` ones point to the `rest`.

    `last_line` holds the `key`, `place` is the printing condition of the title, where it names one.
    """

    title: str
    sections: tuple[Section[str], ...]
    key: str
    last_line: str
    rest: str
    urgent: bool = False
    shortened: bool = False
    place: str = ""

    def of(self, role: SectionRole) -> tuple[Section[str], ...]:
        """The sections of one role."""
        return tuple(section for section in self.sections if section.role is role)

    def without_last(self, role: SectionRole) -> NoticeDocument:
        """The same without the last section of a role."""
        last = max(number for number, section in enumerate(self.sections) if section.role is role)
        return replace(self, sections=self.sections[:last] + self.sections[last + 1 :], shortened=True)


class Draft(NamedTuple):
    """All of a document but its key, in no language yet: a title that makes sense alone; sections, of which empty ones
    are left out; whether somebody must run; what could not be read of the facts, for the log."""

    title: Text
    sections: Sequence[Section[Text] | None]
    urgent: bool = False
    faults: tuple[str, ...] = ()


KEY = msg("Notice {key}")
HEADED = msg("{words}:")
REST = msg("Shortened. The rest: sentinel notify show {key}")


def document(draft: Draft, key: str, localizer: Localizer = ENGLISH) -> NoticeDocument:
    """A document of the sections that say anything; every text in it is one line that forges nothing."""
    order = list(SectionRole)
    told = sorted((section for section in draft.sections if section), key=lambda section: order.index(section.role))
    key = tidy(key)
    title, place = tidy(localizer.text(draft.title)), tidy(_place(draft.title))
    return NoticeDocument(
        fitted(title, place, max(TITLE_LENGTH, LEAST_WORDS + len(place))),
        tuple(_localized(section, localizer) for section in told),
        key,
        document_line(key, localizer),
        localizer.text(REST.format(key=key)),
        draft.urgent,
        place=place if place in title else "",
    )


def document_line(key: str, localizer: Localizer = ENGLISH) -> str:
    """The last line of a notice, by which a repeat can be told."""
    return localizer.text(KEY.format(key=tidy(key)))


def fitted(title: str, place: str, length: int) -> str:
    """A title of at most this length: its words give way, the printing condition it is about last."""
    if len(title) <= length or not place or place not in title:
        return cut(title, length)
    before, _, after = title.partition(place)
    words, room = f"{before}{after}".strip().rstrip(":").rstrip(), length - len(place) - 2
    return f"{cut(words, room)}: {place}" if room >= FEWEST_LETTERS else cut(place, length)


LEAST_WORDS = 18
"""So many characters a title has beside the name of its printing condition, however long that is."""
FEWEST_LETTERS = 4
"""Fewer letters than these say nothing."""


def _place(title: Text) -> str:
    """The printing condition a title is about."""
    if isinstance(title, str):
        return ""
    values = dict(title.values)
    found = values.get("place")
    return found if isinstance(found, str) else next((_place(v) for v in values.values() if isinstance(v, Message)), "")


def _localized(section: Section[Text], localizer: Localizer) -> Section[str]:
    def text(what: Text) -> str:
        return tidy(localizer.text(what))

    def headed(what: Text) -> str:
        return text(HEADED.format(words=what)) if what else ""

    return Section(
        section.role,
        section.style,
        headed(section.heading),
        tuple(map(text, section.lines)),
        tuple(map(text, section.columns)),
        tuple((headed(row[0]), *map(text, row[1:])) for row in section.rows),
    )


_FORGING = re.compile(f"[\t\n{HIDDEN}]")
_CALLING = re.compile(r"@(?=everyone|here|channel|all\b)", re.IGNORECASE)


def tidy(text: str) -> str:
    """The text as one line, as it is read: a name out of a file must neither forge lines nor call a whole room."""
    return _CALLING.sub("@\u200b", _FORGING.sub("\ufffd", text))


def cut(text: str, length: int) -> str:
    """The text, or its beginning with an ellipsis."""
    return text if len(text) <= length else (text[: max(0, length - 1)].rstrip() + "…")[:length]


def paragraph(role: SectionRole, text: Text, heading: Text = "") -> Section[Text]:
    """One sentence or more."""
    return Section(role, "paragraph", heading, (text,) if text else ())


def bullets(role: SectionRole, heading: Text, lines: Iterable[Text]) -> Section[Text]:
    """Lines in no order."""
    return Section(role, "bullets", heading, tuple(lines))


def steps(role: SectionRole, heading: Text, lines: Iterable[Text]) -> Section[Text]:
    """Lines in their order."""
    return Section(role, "steps", heading, tuple(lines))


def table(role: SectionRole, heading: Text, columns: Iterable[Text], rows: Iterable[Iterable[Text]]) -> Section[Text]:
    """Rows; the first column says what each is of."""
    return Section(role, "table", heading, columns=tuple(columns), rows=tuple(tuple(row) for row in rows))
