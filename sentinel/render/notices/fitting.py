"""The text of a document in a form, cut where a service takes no more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from html import escape

from sentinel.render.notices import html, markdown, plain
from sentinel.render.notices.document import FIRST_LEFT_OUT, Document, Part, Section, cut


class Form(StrEnum):
    """How a text is marked up; the values are the endings of template files."""

    TEXT = "txt"
    MARKDOWN = "md"
    HTML = "html"


@dataclass(frozen=True, slots=True)
class Limits:
    """The most characters a service takes; `title` 0 where it has none, and the title then leads the body."""

    title: int = 250
    body: int = 32_768


_RENDERERS: dict[Form, Callable[[Document], str]] = {
    Form.TEXT: plain.rendered,
    Form.MARKDOWN: markdown.rendered,
    Form.HTML: html.rendered,
}


def fitted(document: Document, form: Form, length: int) -> str:
    """The document in at most `length` characters, the last of them the key.

    Sections are left out whole, so that markup stays whole, with a pointer to the rest. Where even what happened is
    too long, it is cut; where there is no room for that, the key stands alone.
    """
    render = _RENDERERS[form]
    while len(text := render(document)) > length:
        part = next((part for part in FIRST_LEFT_OUT if document.of(part)), None)
        if part is None:
            return _pressed(document, render, length)
        document = document.without_last(part)
    return text


def _pressed(document: Document, render: Callable[[Document], str], length: int) -> str:
    """What happened alone, in ever fewer characters."""
    lines = [section.lines[0] for section in document.of(Part.WHAT) if section.lines]
    what = lines[0] if lines else document.title
    room = min(len(what), length)
    while room > 8:
        text = render(replace(document, sections=(Section(Part.WHAT, "paragraph", "", (cut(what, room),)),)))
        if len(text) <= length:
            return text
        room -= max(1, (len(text) - length) // 2)
    return cut(document.last_line, length)


def leading(title: str, form: Form) -> str:
    """The title as the first line of a body, for services that have no titles."""
    if form is Form.HTML:
        return f"<b>{escape(title)}</b><br>\n"
    return f"**{markdown.escaped(title)}**\n\n" if form is Form.MARKDOWN else f"{title}\n\n"
