"""A document as Markdown, as CommonMark has it."""

from __future__ import annotations

import re

from sentinel.render.notices.document import Document, Section
from sentinel.render.notices.plain import row_words

_MARKS = re.compile(r"([\\`*_\[\]<>~|#&!])")
_LINE_START = re.compile(r"^(\s*)([-+=]|\d+(?=[.)]))")


def escaped(text: str) -> str:
    """Text that stays text: CommonMark takes a backslash before any ASCII punctuation."""
    text = _MARKS.sub(r"\\\1", text)
    found = _LINE_START.match(text)
    if found is None:
        return text
    at = found.end() if found[2][0].isdigit() else found.start(2)
    return f"{text[:at]}\\{text[at:]}"


def rendered(document: Document) -> str:
    """Sections with a blank line between them; the last line is the key."""
    pointer = [escaped(document.rest)] if document.shortened else []
    return "\n\n".join([*map(_section, document.sections), *pointer, escaped(document.last_line)])


def _section(section: Section[str]) -> str:
    if section.style == "paragraph":
        text = escaped(section.lines[0])
        return f"**{escaped(section.heading)}** {text}" if section.heading else text
    heading = f"**{escaped(section.heading)}**\n"
    if section.style == "steps":
        return "\n".join([heading, *(f"{number}. {escaped(line)}" for number, line in enumerate(section.lines, 1))])
    lines = section.lines or tuple(row_words(section))
    return "\n".join([heading, *(f"- {escaped(line)}" for line in lines)])
