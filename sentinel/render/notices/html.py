"""A document as HTML that mail programs show: no style sheet, no script, nothing fetched from elsewhere.

Steps carry their numbers as text and figures stand in sentences, not in lists and tables of HTML: the plain part of a
mail is made from it by dropping the tags. White space between two tags becomes a blank line there, so that stands
between sections and nowhere else.
"""

from __future__ import annotations

from html import escape

from sentinel.render.notices.document import Document, Part, Section
from sentinel.render.notices.plain import row_words

_BASE = "font-family:sans-serif;font-size:16px;line-height:1.4;color:#1a1a1a;max-width:42em"
_STEP = "margin:0 0 4px;padding-left:1.3em;text-indent:-1.3em"
_CALM = "margin:0 0 12px;padding:8px 12px;background:#eef3f8;border-left:4px solid #2a6496"
_URGENT = "margin:0 0 12px;padding:8px 12px;background:#fdecea;border-left:4px solid #b00020"
_SMALL = "margin:16px 0 0;color:#5a5a5a;font-size:13px"


def rendered(document: Document) -> str:
    """Sections; the last line is the key."""
    top = [section for section in document.sections if section.part in (Part.WHO, Part.PRODUCTION)]
    rest = [section for section in document.sections if section not in top]
    lines = "<br>".join(_paragraph(section) for section in top)
    box = [f'<p style="{_URGENT if document.urgent else _CALM}">{lines}</p>'] if top else []
    pointer = [f"<p>{escape(document.rest)}</p>"] if document.shortened else []
    key = f'<p style="{_SMALL}">{escape(document.last_line)}</p>'
    return "\n".join([f'<div style="{_BASE}">', *box, *map(_section, rest), *pointer, key, "</div>"])


def _section(section: Section[str]) -> str:
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
