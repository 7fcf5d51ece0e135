"""Bytes to text: which encoding, which line ends, which characters have no place in a CGATS.17 file."""

from __future__ import annotations

import codecs
from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.bounds import Bounds
from sentinel.core.cgats.codes import Assumed, Refused
from sentinel.core.cgats.document import Assumption
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.said import said

_BOM_16 = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}
_CONTROLS = b"\t\n\r\f"
_SPACE = 32
_CHUNK = 64 * 1024
_NO_BREAK_SPACE = "\u00a0".encode()
_END_OF_FILE_MARK = b"\x1a"


@dataclass(frozen=True, slots=True)
class Text:
    """A file's text as UTF-8 with line feeds alone, and what it took to get there."""

    raw: bytes
    encoding: str
    assumptions: tuple[Assumption, ...]


def decode(data: bytes, bounds: Bounds) -> Text:
    """Decide the encoding by rule: byte-order mark, UTF-16 without one, UTF-8, then Latin-1."""
    if len(data) > bounds.file_bytes:
        message = said(
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
        raise CgatsError(Refused.EMPTY_FILE, said("expected a CGATS text, but the file is empty"))
    _note_odd_spaces(raw, assumed)
    return Text(raw, encoding, tuple(assumed))


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
        message = said(
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
    chunks = (letters[low : low + _CHUNK] for low in range(0, len(letters), _CHUNK))
    if all(np.count_nonzero(c < _SPACE) == sum(np.count_nonzero(c == space) for space in met) for c in chunks):
        return
    at = int(np.argmax((letters < _SPACE) & ~np.isin(letters, np.frombuffer(_CONTROLS, np.uint8))))
    before = raw[:at].replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    line, column = before.count(b"\n") + 1, len(before) - before.rfind(b"\n")
    message = said("expected text, but the control character {character:#04x} stands here", character=raw[at])
    raise CgatsError(Refused.CONTROL_CHARACTER, message, line, column)


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
