from __future__ import annotations

import dataclasses

import pytest

from sentinel.core.dropped_file import LONGEST_NAME, DroppedFile, shortened, shown
from sentinel.core.measurement.formats import looks_whole

CHART = "CGATS.17\nBEGIN_DATA\n1 0 0 0 0\nEND_DATA"
FOUND = DroppedFile("/drop", "north/satin-240/a b.txt", "file", inode=5, size=60, mtime_ns=7, ctime_ns=8)


@pytest.mark.parametrize("ending", ["", "\n", "\r\n", "\r", "\n\n  \t\n", "\n\f", "\n\x1a"])
@pytest.mark.parametrize("encoding", ["ascii", "utf-8-sig", "utf-16-le", "utf-16-be", "utf-16"])
def test_a_text_that_ends_with_its_table_is_whole_in_any_encoding(ending: str, encoding: str) -> None:
    assert looks_whole((CHART + ending).encode(encoding))


def test_lower_case_ends_a_table_too() -> None:
    assert looks_whole(CHART.lower().encode())


@pytest.mark.parametrize("tail", ["", "CGATS.17\n", CHART[:-1], CHART[:-9], CHART + "\n2 0 0", CHART + "\nBEGIN_DATA"])
def test_a_text_cut_short_is_not_whole(tail: str) -> None:
    assert not looks_whole(tail.encode())


@pytest.mark.parametrize(
    ("relative", "name", "folder"),
    [
        ("a.txt", "a.txt", ""),
        ("north/a.txt", "a.txt", "north"),
        ("north/satin-240/a b.txt", "a b.txt", "north/satin-240"),
    ],
)
def test_name_and_folder_are_parts_of_the_path_below_the_drop_folder(relative: str, name: str, folder: str) -> None:
    found = dataclasses.replace(FOUND, relative=relative)
    assert (found.name, found.folder) == (name, folder)


@pytest.mark.parametrize(
    "change", [{"root": "/other"}, {"relative": "b.txt"}, {"inode": 6}, {"size": 61}, {"mtime_ns": 8}, {"ctime_ns": 9}]
)
def test_origin_tells_a_file_apart_from_any_other(change: dict[str, object]) -> None:
    assert dataclasses.replace(FOUND, **change).origin != FOUND.origin  # type: ignore[arg-type]
    assert dataclasses.replace(FOUND).origin == FOUND.origin


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("chart.txt", "chart.txt"),
        ("prüfung ΔE.txt", "prüfung ΔE.txt"),
        ("a\nb.txt", "a\\nb.txt"),
        ("a\x1b[2Jb.txt", "a\\x1b[2Jb.txt"),
        (b"\xff\xfe.txt".decode("utf-8", "surrogateescape"), "\\xff\\xfe.txt"),
    ],
)
def test_a_name_is_shown_with_escapes_for_what_is_no_text(name: str, text: str) -> None:
    assert shown(name) == text


@pytest.mark.parametrize("stem", ["a", "a" * 190, "ä" * 190, "測" * 84, "a" * 251])
@pytest.mark.parametrize("ending", ["", ".txt", "." + "x" * 40])
def test_a_long_name_is_cut_between_letters_and_keeps_the_start_of_its_ending(stem: str, ending: str) -> None:
    cut = shortened(stem + ending)
    assert len(cut.encode()) <= LONGEST_NAME
    assert cut.endswith(ending[:20])
    assert stem.startswith(cut.removesuffix(ending[:20]))


def test_a_short_name_is_not_cut() -> None:
    assert shortened("chart of monday.txt") == "chart of monday.txt"
