"""What can never become a text that is read is told at once, and nothing that still may."""

from __future__ import annotations

import gzip
import io
import zipfile

import pytest

from sentinel.core.dropped_file import never_whole
from tests.fuzz.hostile import LAB, NUMBERS, table


def _archive() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
    return held.getvalue()


OTHERS = {
    "PNG": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
    "JPEG": b"\xff\xd8\xff\xe0\x00\x10JFIF\x00",
    "GIF": b"GIF89a\x01\x00\x01\x00\x80",
    "TIFF": b"II*\x00\x08\x00\x00\x00",
    "big-endian TIFF": b"MM\x00*\x00\x00\x00\x08",
    "BMP": b"BM6\x00\x0c\x00\x00\x00\x00\x006\x00",
    "WebP": b"RIFF\x24\x00\x00\x00WEBPVP8 ",
    "PDF": b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n",
    "PostScript": b"%!PS-Adobe-3.0\n",
    "RTF": b"{\\rtf1\\ansi",
    "office": _archive(),
    "older office": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16),
    "gzip": gzip.compress(b"CGATS.17"),
    "xz": b"\xfd7zXZ\x00\x00\x04",
    "program": b"\x7fELF\x02\x01\x01\x00",
    "other program": b"MZ\x90\x00\x03\x00\x00\x00",
    "profile": b"\x00\x00\x02\x0clcms\x02\x10\x00\x00mntrRGB XYZ ",
    "XML": b'\xef\xbb\xbf<?xml version="1.0"?>\n',
    "page": b"\n<!DOCTYPE html>\n<html>",
}
WHOLE = table(LAB, [NUMBERS, "2\t50\t\u00fc\t1"])


@pytest.mark.parametrize("beginning", OTHERS.values(), ids=OTHERS)
def test_another_kind_of_file_can_never_become_whole(beginning: bytes) -> None:
    assert never_whole(beginning)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16", "utf-16-le", "utf-16-be"])
def test_every_beginning_of_a_text_may_become_whole(encoding: str) -> None:
    data = WHOLE.encode(encoding)
    assert not any(never_whole(data[:length]) for length in range(len(data)))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_a_text_whose_size_was_set_before_it_was_filled_may_become_whole(encoding: str) -> None:
    """MS-FSCC 2.4.13, FileEndOfFileInformation: what lies between is zero."""
    data = WHOLE.encode(encoding)
    filled = (data[:length] + bytes(len(data) - length) for length in range(len(data)))
    assert not any(map(never_whole, filled))


def test_another_kind_of_file_is_told_where_it_is_filled_in_part() -> None:
    assert all(never_whole(beginning + bytes(4000)) for beginning in OTHERS.values())


@pytest.mark.parametrize(
    "text", [b"", b"kind;printer\n", b'{"kind": "service"}\n', b"\t\x0c", b"CGATS.17\r\n\x1a", b"BM"]
)
def test_short_texts_and_nothing_at_all_may_become_whole(text: bytes) -> None:
    assert not never_whole(text)
