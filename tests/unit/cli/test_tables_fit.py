"""Tables of a terminal are as wide as it is; programs that read them get one line a row."""

from __future__ import annotations

import io
import sys

import pytest

from sentinel.cli.terminal import table

HEADERS = ("check", "measured", "printing condition", "verdict", "file")
ROWS = [(18, "2026-11-30 09:39", "north-44-inch/satin-240/photo", "pass", "a file with rather a long name.txt")] * 2


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("width", [60, 80, 100])
def test_a_table_is_no_wider_than_its_terminal_and_loses_no_word(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", _Terminal())
    monkeypatch.setenv("COLUMNS", str(width))
    lines = table(HEADERS, ROWS).splitlines()
    assert max(map(len, lines)) <= width
    squeezed = "".join("".join(lines).split())
    assert all(squeezed.count(letter) >= 2 for letter in "filename")
    assert len(lines) > 4


def test_a_wide_terminal_and_a_program_get_one_line_a_row(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    read = table(HEADERS, ROWS)
    assert len(read.splitlines()) == 4
    monkeypatch.setattr(sys, "stdout", _Terminal())
    monkeypatch.setenv("COLUMNS", "200")
    assert table(HEADERS, ROWS) == read
