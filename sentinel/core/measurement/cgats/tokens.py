"""One line to its words: quotes, comments, and the two ways cells are told apart.

A double quote opens a quoted word at the word's start alone; inside, a doubled one stands for itself. Apostrophes
around a whole word quote it too, as other readers hold; anywhere else both are ordinary characters. `#` at a word's
start begins a comment. Words are separated by white space, or cells by single tabs.
"""

from __future__ import annotations

import re
from itertools import islice

from sentinel.core.measurement.cgats.document import Notes
from sentinel.core.measurement.cgats.faults import Assumed, CgatsError, Refused
from sentinel.core.message import msg

WHITE = " \t\f\u00a0"
Span = tuple[int, int]

_QUOTED = (
    r'""[^"{w}][^"]*""(?={end})'  # the whole word quoted twice: ""Paper white""
    r'|"(?:[^"]|"")*+"(?={end})'
    r"|'[^']*'(?={end})"
)
_PAD = WHITE.replace("\t", "")
_WORD = re.compile(_QUOTED.format(w=WHITE, end=f"[{WHITE}]|$") + f"|[^{WHITE}]+")
_CELL_END = rf"[{_PAD}]*(?:\t|$)"
_CELL = re.compile(rf"[{_PAD}]*({_QUOTED.format(w=WHITE, end=_CELL_END)}|[^\t]*)[^\t]*")
_NOT_WHITE = re.compile(f"[^{WHITE}]+")


def words(text: str) -> list[Span]:
    """Where the words of a line stand, separated by white space."""
    return [match.span() for match in _WORD.finditer(text)]


def tabbed_cells(text: str, limit: int | None = None) -> list[Span]:
    """Where the cells of a line stand, separated by single tabs; a cell between two tabs is empty."""
    spans: list[Span] = []
    at = 0
    while at <= len(text) and len(spans) != limit:
        cell = _CELL.match(text, at)
        if cell is None:
            break
        start, end = cell.span(1)
        spans.append((start, start + len(text[start:end].rstrip(WHITE))))
        at = cell.end() + 1
    return spans


def comment_start(text: str) -> int:
    """Where the line's comment begins, or its length."""
    if "#" not in text:
        return len(text)
    return next((word.start() for word in _WORD.finditer(text) if word[0][0] == "#"), len(text))


def are_more_than(limit: int, text: str, tabbed: bool) -> bool:
    """Whether a line has more than so many cells; looks no further than that."""
    if len(text) <= limit:
        return False
    if tabbed:
        return text.count("\t") >= limit and len(tabbed_cells(text.rstrip(WHITE), limit + 1)) > limit
    return next(islice(_WORD.finditer(text), limit, None), None) is not None


def split(text: str, tabbed: bool, line: int, notes: Notes) -> list[str]:
    """The unquoted cells of a line that holds no comment."""
    if tabbed:
        cells = [cell.strip(WHITE) for cell in text.split("\t")]
    else:
        cells = text.split() if text.isascii() else _NOT_WHITE.findall(text)
    if "'" not in text and ('"' not in text or _unquote_whole(cells)):
        return cells
    spans = tabbed_cells(text) if tabbed else words(text)
    return [unquoted(text, span, line, notes) for span in spans]


def _unquote_whole(cells: list[str]) -> bool:
    """Take the quotes off cells that are quoted as a whole, in place; False if any quote is not of this kind."""
    for index, cell in enumerate(cells):
        if '"' in cell:
            inner = cell[1:-1]
            if len(cell) < 2 or cell[0] != '"' or cell[-1] != '"' or '"' in inner:
                return False
            cells[index] = inner
    return True


def unquoted(text: str, span: Span, line: int, notes: Notes) -> str:
    """The word at `span` without its quotes; refuses an unclosed one."""
    word = text[slice(*span)]
    if word[:1] == "'" and len(word) > 1 and word.find("'", 1) == len(word) - 1:
        message = "apostrophes around a whole word were taken as quotes"
        notes.add(Assumed.APOSTROPHES_QUOTE, message, line)
        return word[1:-1]
    if word[:1] != '"':
        return word
    if re.fullmatch(r'"(?:[^"]|"")*+"', word):
        return word[1:-1].replace('""', '"')
    if re.fullmatch(r'""[^"]+""', word):
        message = 'a word quoted twice (""word"") was taken without its quotes'
        notes.add(Assumed.QUOTES_DOUBLED, message, line)
        return word[2:-2]
    raise _bad_quote(text, span, line)


def _bad_quote(text: str, span: Span, line: int) -> CgatsError:
    start = span[0]
    closing = text.find('"', start + 1)
    if closing < 0:
        message = msg("expected a closing quote on this line, but {text} has none", text=shown(text[start:]))
        return CgatsError(Refused.UNCLOSED_QUOTE, message, line, start + 1)
    rest = shown(text[closing + 1 :])
    message = msg("expected a separator after the closing quote, but {text} follows", text=rest)
    return CgatsError(Refused.TEXT_AFTER_QUOTE, message, line, closing + 2)


def shown(text: str) -> str:
    """A text as it stands in a message: in quotes, and not too long."""
    return repr(text if len(text) <= 40 else text[:40] + "…")


def first(content: str) -> str:
    """The first word of a stripped line, as written."""
    word = _NOT_WHITE.match(content)
    return word[0] if word else ""
