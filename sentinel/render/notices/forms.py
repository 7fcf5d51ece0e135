"""A document as plain text, as HTML that mail programs show, as Markdown; cut where a service takes no more."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from html import escape

from sentinel.render.notices.document import FIRST_LEFT_OUT, NoticeDocument, Section, SectionRole, cut


def plain_text(document: NoticeDocument) -> str:
    """Sections with a blank line between them; the last line is the key."""
    pointer = [document.rest] if document.shortened else []
    return "\n\n".join([*map(_plain_section, document.sections), *pointer, document.last_line])


def _plain_section(section: Section[str]) -> str:
    if section.style == "paragraph":
        return f"{section.heading} {section.lines[0]}" if section.heading else section.lines[0]
    heading = section.heading
    if section.style == "steps":
        return "\n".join([heading, *(f"{number}. {line}" for number, line in enumerate(section.lines, 1))])
    lines = section.lines or tuple(row_words(section))
    return "\n".join([heading, *(f"- {line}" for line in lines)])


def row_words(section: Section[str]) -> list[str]:
    """Each row of a table in a line: 'paper: mean ΔE00 1.20, maximum 1.20'."""
    return [
        f"{row[0]} " + ", ".join(f"{column} {cell}" for column, cell in zip(section.columns[1:], row[1:], strict=True))
        for row in section.rows
    ]


_BASE = "font-family:sans-serif;font-size:16px;line-height:1.4;color:#1a1a1a;max-width:42em"
_STEP = "margin:0 0 4px;padding-left:1.3em;text-indent:-1.3em"
_CALM = "margin:0 0 12px;padding:8px 12px;background:#eef3f8;border-left:4px solid #2a6496"
_URGENT = "margin:0 0 12px;padding:8px 12px;background:#fdecea;border-left:4px solid #b00020"
_SMALL = "margin:16px 0 0;color:#5a5a5a;font-size:13px"


def html_text(document: NoticeDocument) -> str:
    """Sections; the last line is the key."""
    top = [section for section in document.sections if section.role in (SectionRole.WHO, SectionRole.PRODUCTION)]
    rest = [section for section in document.sections if section not in top]
    lines = "<br>".join(_paragraph(section) for section in top)
    box = [f'<p style="{_URGENT if document.urgent else _CALM}">{lines}</p>'] if top else []
    pointer = [f"<p>{escape(document.rest)}</p>"] if document.shortened else []
    key = f'<p style="{_SMALL}">{escape(document.last_line)}</p>'
    return "\n".join([f'<div style="{_BASE}">', *box, *map(_html_section, rest), *pointer, key, "</div>"])


def _html_section(section: Section[str]) -> str:
    if section.style == "paragraph":
        return f'<p style="margin:8px 0 12px">{_paragraph(section)}</p>'
    heading = f'<p style="margin:12px 0 4px"><strong>{escape(section.heading)}</strong></p>'
    if section.style == "steps":
        steps = enumerate(section.lines, 1)
        return "".join([heading, *(f'<p style="{_STEP}">{number}. {escape(line)}</p>' for number, line in steps)])
    items = "".join(f'<li style="margin:0 0 4px">{escape(line)}</li>' for line in section.lines or row_words(section))
    return f'{heading}<ul style="margin:0 0 12px;padding-left:1.6em">{items}</ul>'


def _paragraph(section: Section[str]) -> str:
    text = escape(section.lines[0])
    return f"<strong>{escape(section.heading)}</strong> {text}" if section.heading else text


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


def markdown_text(document: NoticeDocument) -> str:
    """Sections with a blank line between them; the last line is the key."""
    pointer = [escaped(document.rest)] if document.shortened else []
    return "\n\n".join([*map(_markdown_section, document.sections), *pointer, escaped(document.last_line)])


def _markdown_section(section: Section[str]) -> str:
    if section.style == "paragraph":
        text = escaped(section.lines[0])
        return f"**{escaped(section.heading)}** {text}" if section.heading else text
    heading = f"**{escaped(section.heading)}**\n"
    if section.style == "steps":
        return "\n".join([heading, *(f"{number}. {escaped(line)}" for number, line in enumerate(section.lines, 1))])
    lines = section.lines or tuple(row_words(section))
    return "\n".join([heading, *(f"- {escaped(line)}" for line in lines)])


class Form(StrEnum):
    """How a text is marked up; the values are the endings of template files."""

    TEXT = "txt"
    MARKDOWN = "md"
    HTML = "html"


@dataclass(frozen=True, slots=True)
class ServiceLimits:
    """The most characters a service takes; `title` 0 where it has none, and the title then leads the body."""

    title: int = 250
    body: int = 32_768


_RENDERERS: dict[Form, Callable[[NoticeDocument], str]] = {
    Form.TEXT: plain_text,
    Form.MARKDOWN: markdown_text,
    Form.HTML: html_text,
}


def fit_to_length(document: NoticeDocument, form: Form, length: int) -> str:
    """The document in at most `length` characters, the last of them the key.

    Sections are left out whole, so that markup stays whole, with a pointer to the rest. Where even what happened is
    too long, it is cut; where there is no room for that, the key stands alone.
    """
    render = _RENDERERS[form]
    while len(text := render(document)) > length:
        role = next((role for role in FIRST_LEFT_OUT if document.of(role)), None)
        if role is None:
            return _cut_to_length(document, render, length)
        document = document.without_last(role)
    return text


def _cut_to_length(document: NoticeDocument, render: Callable[[NoticeDocument], str], length: int) -> str:
    """What happened alone, in ever fewer characters."""
    lines = [section.lines[0] for section in document.of(SectionRole.WHAT) if section.lines]
    what = lines[0] if lines else document.title
    room = min(len(what), length)
    while room > 8:
        text = render(replace(document, sections=(Section(SectionRole.WHAT, "paragraph", "", (cut(what, room),)),)))
        if len(text) <= length:
            return text
        room -= max(1, (len(text) - length) // 2)
    return cut(document.last_line, length)


def leading(title: str, form: Form) -> str:
    """The title as the first line of a body, for services that have no titles."""
    if form is Form.HTML:
        return f"<b>{escape(title)}</b><br>\n"
    return f"**{escaped(title)}**\n\n" if form is Form.MARKDOWN else f"{title}\n\n"
