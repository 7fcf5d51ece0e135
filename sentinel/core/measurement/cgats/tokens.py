"""Bytes to text to lines to words: encodings, line ends, the search for the lines that end a table's rows; quotes,
comments, and the two ways cells are told apart.

A double quote opens a quoted word at the word's start alone; inside, a doubled one stands for itself. Apostrophes
around a whole word quote it too, as other readers hold; anywhere else both are ordinary characters. `#` at a word's
start begins a comment. Words are separated by white space, or cells by single tabs.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

import numpy as np

from sentinel.core.measurement.cgats.document import Notes
from sentinel.core.measurement.cgats.faults import Assumed, CgatsError, Refused
from sentinel.core.measurement.measurement import Assumption
from sentinel.core.measurement.reading import ReaderBounds
from sentinel.core.message import msg

_BOM_16 = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}
_CONTROLS = b"\t\n\r\f"
_SPACE = 32
_CHUNK = 64 * 1024
_NO_BREAK_SPACE = "\u00a0".encode()
_END_OF_FILE_MARK = b"\x1a"
_MOST_SHOWN = 40


@dataclass(frozen=True, slots=True)
class DecodedText:
    """A file's text as UTF-8 with line feeds alone, and what it took to get there."""

    raw: bytes
    encoding: str
    assumptions: tuple[Assumption, ...]


def decode(data: bytes, bounds: ReaderBounds) -> DecodedText:
    """Decide the encoding by rule: byte-order mark, UTF-16 without one, UTF-8, then Latin-1."""
    if len(data) > bounds.file_bytes:
        message = msg(
            "expected at most {count} byte, but the file has {found}",
            "expected at most {count} bytes, but the file has {found}",
            count=bounds.file_bytes,
            found=len(data),
        )
        raise CgatsError(Refused.FILE_TOO_LARGE, message)
    assumed: list[Assumption] = []
    raw, encoding = _to_utf8(data, assumed)
    raw = _without_end_of_file_mark(raw, assumed)
    _refuse_control_characters(raw)
    raw = _with_line_feeds(raw, assumed)
    if raw.isspace() or not raw:
        raise CgatsError(Refused.EMPTY_FILE, msg("expected a CGATS text, but the file is empty"))
    _note_odd_spaces(raw, assumed)
    return DecodedText(raw, encoding, tuple(assumed))


def _to_utf8(data: bytes, assumed: list[Assumption]) -> tuple[bytes, str]:
    sixteen = _utf_16(data)
    if sixteen:
        return _from_utf_16(data, sixteen, assumed), sixteen
    if data.startswith(codecs.BOM_UTF8):
        assumed.append(Assumption(Assumed.BYTE_ORDER_MARK, "a UTF-8 byte-order mark was left out"))
        data = data[len(codecs.BOM_UTF8) :]
    if data.isascii() or _is_utf_8(data):
        return data, "utf-8"
    message = "the text is not UTF-8, so it was read as Latin-1"
    assumed.append(Assumption(Assumed.ENCODING_LATIN_1, message))
    return data.decode("latin-1").encode(), "latin-1"


def _utf_16(data: bytes) -> str | None:
    """The UTF-16 byte order: from the mark, else from where the NULs of the first two characters are."""
    marked = _BOM_16.get(data[:2])
    if marked:
        return marked
    nuls = [byte == 0 for byte in data[:4]]
    return {(False, True, False, True): "utf-16-le", (True, False, True, False): "utf-16-be"}.get(
        tuple(nuls)  # type: ignore[arg-type]
    )


def _from_utf_16(data: bytes, encoding: str, assumed: list[Assumption]) -> bytes:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as fault:
        message = msg(
            "expected {encoding} text, but byte {byte} does not belong to it",
            encoding=encoding.upper(),
            byte=fault.start + 1,
        )
        raise CgatsError(Refused.BROKEN_ENCODING, message) from fault
    assumed.append(Assumption(Assumed.ENCODING_UTF_16, f"the text was read as {encoding.upper()}"))
    return text.removeprefix("\ufeff").encode()


def _is_utf_8(data: bytes) -> bool:
    try:
        data.decode()
    except UnicodeDecodeError:
        return False
    return True


def _without_end_of_file_mark(raw: bytes, assumed: list[Assumption]) -> bytes:
    if _END_OF_FILE_MARK not in raw:
        return raw
    kept = raw.rstrip(_END_OF_FILE_MARK + b" \t\r\n\f")
    if len(kept) == len(raw.rstrip()):
        return raw
    message = "an end-of-file mark (Ctrl-Z) at the end was left out"
    assumed.append(Assumption(Assumed.END_OF_FILE_MARK, message))
    return kept + b"\n"


def _refuse_control_characters(raw: bytes) -> None:
    letters = np.frombuffer(raw, np.uint8)
    met = [space for space in _CONTROLS if space in raw]
    for low in range(0, len(letters), _CHUNK):
        chunk = letters[low : low + _CHUNK]
        if np.count_nonzero(chunk < _SPACE) != sum(np.count_nonzero(chunk == space) for space in met):
            odd = (chunk < _SPACE) & ~np.isin(chunk, np.frombuffer(_CONTROLS, np.uint8))
            raise _control_character(raw, low + int(np.argmax(odd)))


def _control_character(raw: bytes, at: int) -> CgatsError:
    before = raw[:at].replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    line, column = before.count(b"\n") + 1, len(before) - before.rfind(b"\n")
    message = msg("expected text, but the control character {character:#04x} stands here", character=raw[at])
    return CgatsError(Refused.CONTROL_CHARACTER, message, line, column)


def _with_line_feeds(raw: bytes, assumed: list[Assumption]) -> bytes:
    if b"\r" not in raw:
        return raw
    both = raw.count(b"\r\n")
    kinds = (both, raw.count(b"\r") - both, raw.count(b"\n") - both)
    if sum(map(bool, kinds)) > 1:
        message = "lines end in more than one way (CR, LF, CR LF); each was taken as a line end"
        assumed.append(Assumption(Assumed.LINE_ENDS_MIXED, message))
    return raw.replace(b"\r\n", b"\n").replace(b"\r", b"\n")


def _note_odd_spaces(raw: bytes, assumed: list[Assumption]) -> None:
    if not raw.isascii():
        _note_space(raw, _NO_BREAK_SPACE, Assumed.NO_BREAK_SPACE, "no-break space", assumed)
    _note_space(raw, b"\f", Assumed.FORM_FEED, "form feed", assumed)


def _note_space(raw: bytes, space: bytes, code: Assumed, name: str, assumed: list[Assumption]) -> None:
    at = raw.find(space)
    if at >= 0:
        line = raw.count(b"\n", 0, at) + 1
        assumed.append(Assumption(code, f"a {name} was met; outside quotes it was taken as a space", line))


_BLANKS = re.compile(rb"(?:(?>[ \t\f]*)\n)*+")
_STRUCTURE = re.compile(rb"[ \t\f]*(?:BEGIN|END)_DATA(?:_FORMAT)?(?=[ \t\f\n#]|\xc2\xa0|\Z)", re.I)


@dataclass(frozen=True, slots=True)
class TextLine:
    """A line without its line feed: its number from 1, where it starts, and where the next one does."""

    text: str
    number: int
    start: int
    after: int


def lines(raw: bytes, start: int, number: int, end: int | None = None) -> Iterator[TextLine]:
    """The lines from `start` to `end`, blank ones left out; `number` is the first one's."""
    stop = len(raw) if end is None else end
    while start < stop:
        blanks = _BLANKS.match(raw, start, stop)
        if blanks and blanks.end() > start:
            number += raw.count(b"\n", start, blanks.end())
            start = blanks.end()
            continue
        feed = raw.find(b"\n", start, stop)
        after = stop if feed < 0 else feed + 1
        text = raw[start : stop if feed < 0 else feed].decode()
        yield TextLine(text, number, start, after)
        start, number = after, number + 1


def next_structure(raw: bytes, start: int, number: int) -> TextLine | None:
    """The next line that begins with BEGIN_DATA, END_DATA or one of their formats, in any case.

    All of these words have a low line in them, and rows seldom do.
    """
    at = start
    while (low_line := raw.find(b"_", at)) >= 0:
        begin = raw.rfind(b"\n", at, low_line) + 1 or at
        if _STRUCTURE.match(raw, begin):
            return next(lines(raw, begin, number + raw.count(b"\n", start, begin)))
        at = raw.find(b"\n", low_line) + 1
        if at == 0:
            break
    return None


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
    return list(each_word(text))


def each_word(text: str) -> Iterator[Span]:
    """The same one by one: a header line can have as many as it has room for."""
    return (match.span() for match in _WORD.finditer(text))


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
    """Whether a line has more than so many cells, empty ones at its end among them; looks no further than that."""
    if len(text) <= limit:
        return False
    if tabbed:
        return text.count("\t") >= limit and len(tabbed_cells(text, limit + 1)) > limit
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
    return repr(shortened(text))


def shortened(text: str) -> str:
    """As much of a text as a message has room for."""
    return text if len(text) <= _MOST_SHOWN else text[:_MOST_SHOWN] + "…"


def first(content: str) -> str:
    """The first word of a stripped line, as written."""
    word = _NOT_WHITE.match(content)
    return word[0] if word else ""
