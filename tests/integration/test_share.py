"""The drop folder as a share: what another PC does there is taken in exactly once, or left, as the guides say.

Driven by Samba's own smbd and smbclient (Debian's packages): old times, names composed and decomposed (Unicode's NFC,
NFD), a file moved over another, files that a PC's desktop makes, and one whose size is set before it is filled.
"""

from __future__ import annotations

import tempfile
import time
import unicodedata
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.command import sentinel
from tests.support.process import IN_A_HURRY, eventually, running
from tests.support.rights import hand_over, open_folder
from tests.support.room import Room
from tests.support.share import Share, needed, shared

COMPOSED = unicodedata.normalize("NFC", "prüfung.txt")
DECOMPOSED = unicodedata.normalize("NFD", COMPOSED)
SOUTH = unicodedata.normalize("NFD", "Süd")


@pytest.fixture
def folder() -> Iterator[Path]:
    needed()
    with open_folder() as found:
        yield found


@pytest.fixture
def room(folder: Path) -> Room:
    found = Room(folder / "room")
    found.configure(IN_A_HURRY, ("[printers.south]\n", '[printers.south]\naliases = ["Süd"]\n'))
    (folder / "good.txt").write_text(cgats.text())
    (folder / "failing.txt").write_text(cgats.text(cgats.FAILING))
    hand_over(folder)
    return found


@pytest.fixture
def share(room: Room) -> Iterator[Share]:
    # smbd listens at sockets below it, and a name of one has room for 107 bytes, unix(7)
    with tempfile.TemporaryDirectory(prefix="samba-", dir="/tmp") as own, shared(room.drop, Path(own)) as found:
        found.client("mkdir north", r"mkdir north\satin-240")
        yield found


def taken(room: Room) -> Counter[tuple[str, str]]:
    """(file, verdict) of every check on record."""
    return Counter((Path(check.file_name).name, check.verdict.value) for check in room.checks())


def test_what_a_pc_does_on_the_share_is_taken_once_or_left(room: Room, share: Share, folder: Path) -> None:
    good, failing = folder / "good.txt", folder / "failing.txt"
    other = folder / "other.txt"
    other.write_bytes(good.read_bytes().replace(b"\n", b"\r\n"))
    another = folder / "another.txt"  # the same bytes again would be the same reading
    another.write_bytes(failing.read_bytes().replace(b"\n", b"\r\n"))
    share.client(
        r"cd north\satin-240",
        f"put {good} old.txt",
        "utimes old.txt -1 -1 2024:05:01-10:00:00 -1",
        f"put {good} sheet.txt",
        f"put {failing} sheet.part",
        "rename sheet.part sheet.txt -f",
        f"put {other} {COMPOSED}",
        f"put {another} {DECOMPOSED}",
        f"put {good} desktop.ini",
        f"put {good} Thumbs.db",
        f"put {good} half.part",
        r"cd \\",
        f"mkdir {SOUTH}",
        f"mkdir {SOUTH}\\satin-240",
        f"put {good} {SOUTH}\\satin-240\\south.txt",
    )
    old = room.drop / "north/satin-240/old.txt"
    assert time.gmtime(old.stat().st_mtime)[:2] in {(2024, 4), (2024, 5)}
    left = ["desktop.ini", "Thumbs.db", "half.part"]
    for _ in range(2):
        done = sentinel("--config", room.config, "run", "--once")
        assert done.code == 0, done.err
        assert taken(room) == {
            ("old.txt", "pass"): 1,
            ("sheet.txt", "fail"): 1,
            (COMPOSED, "pass"): 1,
            (DECOMPOSED, "fail"): 1,
            ("south.txt", "pass"): 1,
        }
        assert [Path(place).name for place in room.dropped()] == sorted(left)
        assert room.put_aside() == []
    assert {check.condition for check in room.checks()} == {"north/satin-240", "south/satin-240"}


def test_a_running_service_waits_for_a_file_whose_size_was_set_first(room: Room, share: Share, folder: Path) -> None:
    with running(room, "json://127.0.0.1:9/"):
        with share.size_first(r"north\satin-240\sheet.txt", folder / "failing.txt"):
            time.sleep(3)  # ten looks and more
            assert room.dropped() == ["north/satin-240/sheet.txt"]
            assert (room.checks(), room.put_aside()) == ([], [])
        eventually("the filled file is on record", lambda: taken(room) == {("sheet.txt", "fail"): 1})
        share.client(r"cd north\satin-240", f"put {folder}/good.txt next.part", "rename next.part sheet.txt -f")
        eventually("the next of the same name, too", lambda: room.dropped() == [] and len(room.checks()) == 2)
        time.sleep(1)
    assert taken(room) == {("sheet.txt", "fail"): 1, ("sheet.txt", "pass"): 1}
    assert room.put_aside() == []
