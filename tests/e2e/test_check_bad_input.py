"""Every bad input ends in a sentence that says what was expected and what came, and never in a traceback."""

from __future__ import annotations

import os
import socket
from pathlib import Path
from typing import Any

import pytest

from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.support.rights import open_folder, unprivileged

WHOLE = cgats.text()
BANDS_MISSING = range(420, 731, 10)


def spectral(bands: range) -> str:
    """Ten grey patches with a reflectance in each of these bands."""
    fields = " ".join(f"SPECTRAL_NM{band}" for band in bands)
    rows = "\n".join(f"A{row} 0 0 0 {row} " + " ".join(["0.5"] * len(bands)) for row in range(10))
    return (
        f"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_C CMYK_M CMYK_Y CMYK_K {fields}\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS 10\nBEGIN_DATA\n{rows}\nEND_DATA\n"
    )


RGB = (
    "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID RGB_R RGB_G RGB_B LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
    "BEGIN_DATA\n1 255 255 255 95 0 0\n2 0 0 0 20 0 0\nEND_DATA\n"
)
IDS_ALONE = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID\nEND_DATA_FORMAT\nBEGIN_DATA\n1\n2\nEND_DATA\n"

TEXTS: dict[str, tuple[str | bytes, str, tuple[str, ...]]] = {
    "empty": ("", "not-readable", ("expected a CGATS text", "empty")),
    "blank": ("\n \n\n", "not-readable", ("expected a CGATS text", "empty")),
    "prose": ("Dear team, the chart is fine.\n", "not-readable", ("expected a CGATS text", "there is none")),
    "binary": (bytes(range(256)) * 40, "not-readable", ("expected text", "0x00")),
    "half a header": (WHOLE[:150], "not-readable", ("expected",)),
    "half a row": (WHOLE[: WHOLE.index("A6 ") + 9], "not-readable", ("expected END_DATA", "the file ends", "cut")),
    "half a table": (WHOLE[: WHOLE.index("A6 ")], "not-readable", ("expected END_DATA", "the file ends", "cut")),
    "bands missing": (spectral(BANDS_MISSING), "spectral-range", ("expected a spectrum that covers 400", "420 to 730")),
    "M0": (cgats.text(m="M0"), "m-condition-mismatch", ("expected measurement condition M1", "got M0")),
    "RGB chart": (RGB, "chart-mismatch", ("expected a chart of the inks C M Y K", "got R G B")),
    "ids alone": (IDS_ALONE, "no-readings", ("expected spectral, Lab or XYZ columns", "without any measured colour")),
    "five patches": (
        cgats.text(patches=cgats.PATCHES[:5]),
        "too-few-patches",
        ("expected at least", "of the 10 patches", "got 5"),
    ),
}
PLACES = {
    "a folder": ("not-a-file", ("expected a file, got a folder",)),
    "a pipe": ("not-a-file", ("expected a file, got a folder, pipe",)),
    "a socket": ("not-a-file", ("expected a file, got a folder, pipe, socket",)),
    "200 MB": ("too-large", ("expected a file of at most 64 MB", "got 200 MB")),
}
EXPECTED = {**{name: row[1:] for name, row in TEXTS.items()}, **PLACES}


@pytest.fixture(scope="module")
def heap(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with everything that people should not drop."""
    folder = tmp_path_factory.mktemp("heap")
    (folder / "aim.txt").write_text(WHOLE)
    for name, (content, *_) in TEXTS.items():
        (folder / name).write_bytes(content.encode() if isinstance(content, str) else content)
    (folder / "a folder").mkdir()
    os.mkfifo(folder / "a pipe")
    (folder / "loop").symlink_to("loop")
    with (folder / "200 MB").open("wb") as sparse:
        sparse.truncate(200_000_000)
    here = os.open(folder, os.O_RDONLY)
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(f"/proc/self/fd/{here}/a socket")  # the path of a socket is bounded
    os.close(here)
    return folder


@pytest.fixture(scope="module")
def checked(heap: Path) -> Done:
    return sentinel("check", "--json", *EXPECTED, "--target", "aim.txt", cwd=heap)


@pytest.fixture(scope="module")
def lines(checked: Done) -> dict[str, dict[str, Any]]:
    return {line["file"]: line for line in checked.lines()}


def test_all_bad_files_of_one_command_are_unscored_with_a_line_each(checked: Done) -> None:
    assert (checked.code, checked.err) == (3, "")
    assert [line["file"] for line in checked.lines()] == list(EXPECTED)
    assert {line["verdict"] for line in checked.lines()} == {"unscored"}


@pytest.mark.parametrize("name", EXPECTED)
def test_the_reason_says_what_was_expected_and_what_came(name: str, lines: dict[str, dict[str, Any]]) -> None:
    code, said = EXPECTED[name]
    [reason] = lines[name]["reasons"]
    assert reason["code"] == code
    for words in said:
        assert words in reason["message"]


@pytest.mark.parametrize("name", PLACES)
def test_what_was_not_read_has_no_hash(name: str, lines: dict[str, dict[str, Any]]) -> None:
    assert lines[name]["sha256"] is None


def test_a_file_of_another_owner_that_may_not_be_read_is_unscored() -> None:
    with open_folder() as folder:
        closed, aim = folder / "closed.txt", folder / "aim.txt"
        for path in (closed, aim):
            path.write_text(WHOLE)
            path.chmod(0o644)
        words = ("check", "--json", closed, "--target", aim)
        assert sentinel(*words).code == 0  # all that it needs is imported now
        closed.chmod(0)
        with unprivileged():
            done = sentinel(*words)
    [line] = done.lines()
    assert (done.code, line["verdict"], line["sha256"]) == (3, "unscored", None)
    assert line["reasons"] == [
        {"code": "no-permission", "message": "expected a file that may be read, got: permission denied"}
    ]


def test_a_link_that_leads_to_itself_is_refused_in_a_sentence(heap: Path) -> None:
    done = sentinel("check", "loop", "--target", "aim.txt", cwd=heap)
    assert done.code in (2, 3)
    assert "Traceback" not in done.err
    assert "expected a file" in done.out + done.err


@pytest.mark.parametrize(
    ("target", "said"),
    [
        ("gone.txt", "expected a target file at gone.txt, got: No such file or directory"),
        ("a folder", "expected a target file at a folder"),
        ("prose", "the aim prose cannot be read: expected a CGATS text"),
        ("half a row", "the aim half a row cannot be read: line 9: expected END_DATA"),
        ("ids alone", "expected spectral, Lab or XYZ columns in the aim ids alone, got none of them"),
    ],
)
def test_a_target_of_no_use_is_refused_whole(heap: Path, target: str, said: str) -> None:
    for options in (("--target", target), ("--target", "aim.txt", "--target", target)):
        done = sentinel("check", "--json", "aim.txt", *options, cwd=heap)
        assert (done.code, done.out) == (2, "")
        assert done.err.startswith(f"sentinel: {said}")


@pytest.mark.parametrize("target", ["a pipe", "200 MB"])
def test_a_target_that_is_no_plain_file_or_far_too_large_is_refused_unread(heap: Path, target: str) -> None:
    done = sentinel("check", "--json", "aim.txt", "--target", target, cwd=heap)
    assert (done.code, done.out) == (2, "")
    assert "expected" in done.err
    assert "control character" not in done.err
