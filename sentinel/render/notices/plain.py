"""A document as plain text."""

from __future__ import annotations

from sentinel.render.notices.document import Document, Section


def rendered(document: Document) -> str:
    """Sections with a blank line between them; the last line is the key."""
    pointer = [document.rest] if document.shortened else []
    return "\n\n".join([*map(_section, document.sections), *pointer, document.last_line])


def _section(section: Section[str]) -> str:
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
