"""An invented print room of 28 days, played through the commands of whatever `sentinel` stands first on the path.

    PYTHONPATH=OLD_CODE python play.py REVISION ROOM     (build.py does this; README.md says with which commits)

What a revision did not know is left out. Nothing but the commands is used, and a clock that stands still.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import sqlite3
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

sys.path.append(str(Path(__file__).parents[3]))  # behind the old code: `tests` is of today

from tests.support import cgats
from tests.support.clock import stamp
from tests.support.frozen import Frozen, freeze
from tests.support.servers import Webhook, free_port

MONDAY = datetime(2026, 3, 2, 8, tzinfo=UTC)
SCATTER = (0.05, -0.08, 0.02, 0.09, -0.04, -0.07, 0.06, 0.01, -0.05, 0.08, -0.02, 0.03, 0.04, -0.06)
"""Invented, of ΔL*."""

SETTINGS = """\
[site]
name = "hall"
[folders]
drop = ["drop"]
archive = "archive"
put_aside = "aside"
quiet_seconds = 0.2
[store]
path = "store.sqlite"
[notices]
give_up_hours = 72

[printers.north]
[printers.south]
[substrates.satin-240]
[substrates.matte-190]
[substrates.vinyl-100]
[substrates.canvas-300]
[substrates.film-clear]
opacity = "transparent"

[targets.house]
file = "targets/house.txt"
colour_path = "ink-space"
[targets.aim]
AIM
colour_path = "ink-space"
[conditions."north/satin-240"]
targets = ["house"]
[conditions."north/matte-190"]
targets = ["house"]
[conditions."north/vinyl-100"]
targets = ["house"]
[conditions."north/canvas-300"]
targets = ["house"]
[conditions."south/satin-240"]
targets = ["house"]
[conditions."south/matte-190"]
targets = ["aim"]
[conditions."south/canvas-300"]
targets = ["house"]
[conditions."south/film-clear"]
targets = ["house"]

[recipients.colour-team]
url_env = "COLOUR_TEAM_URL"
[recipients.night-desk]
url_env = "NIGHT_DESK_URL"
"""
GLOSS = """
[substrates.gloss-300]
[conditions."north/gloss-300"]
targets = ["house"]
"""
DIAGNOSIS = """
[targets.short]
file = "targets/short.txt"
colour_path = "ink-space"
[targets.shorter]
file = "targets/shorter.txt"
colour_path = "ink-space"
[conditions."south/vinyl-100"]
targets = ["short"]
[conditions."north/banner-510"]
targets = ["shorter"]
[substrates.banner-510]
"""
GREYS = """
[targets.greys]
file = "targets/greys.txt"
colour_path = "ink-space"
[conditions."south/banner-510"]
targets = ["greys"]
"""
LIVES = """
[recipients.buyer]
url_env = "BUYER_URL"
[[tell]]
recipients = ["buyer"]
kinds = ["file-unscored"]
daily = true
"""


NEUTRALS = (
    *cgats.PATCHES,
    cgats.Patch((90, 82, 82, 0), (31.0, 0.5, 0.5)),
    cgats.Patch((60, 47, 47, 0), (52.0, 6.0, -19.0)),
)
"""With a dark neutral that the first rules of greys passed over, and a cast tone that they took for one."""


class Room:
    """A print room in a folder, and the hands of its people."""

    def __init__(self, folder: Path, revision: str) -> None:
        self.folder, self.revision = folder, revision
        (folder / "drop").mkdir(parents=True)
        (folder / "targets").mkdir(exist_ok=True)
        (folder / "targets" / "house.txt").write_text(cgats.text())
        (folder / "targets" / "aim-2.txt").write_text(cgats.text(0.1))
        self.config = folder / "sentinel.toml"
        aim = "" if self.knows("0002") else 'file = "targets/house.txt"'
        settings = SETTINGS.replace("AIM\n", f"{aim}\n" if aim else "")
        if self.knows("0005"):
            settings = settings.replace("give_up_hours = 72", "give_up_hours = 72\ndaily_at = 07:30:00")
            settings += DIAGNOSIS + LIVES
        if self.knows("0006"):
            (folder / "targets" / "greys.txt").write_text(cgats.text(patches=NEUTRALS))
            settings += GREYS
        self.config.write_text(settings)

    def knows(self, revision: str) -> bool:
        """Whether this room's code has what came with this revision."""
        return self.revision >= revision

    def at(self, day: int, hour: int = 9, minute: int = 0) -> None:
        Frozen.moment = MONDAY + timedelta(days=day, hours=hour - MONDAY.hour, minutes=minute)

    def does(self, *words: str, code: int = 0) -> str:
        """One command; what it printed."""
        from sentinel.cli.app import main

        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            done = main(["--config", str(self.config), *words])
        assert done == code, (words, done, out.getvalue())
        return out.getvalue()

    def drops(self, place: str, content: str) -> None:
        """A file somebody saved a minute ago."""
        path = self.folder / "drop" / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content)
        stamp(path, Frozen.moment - timedelta(minutes=1))

    def sheet(self, condition: str, shift: float, **keywords: str) -> None:
        """A measurement, no two alike to the byte."""
        told = {"FOR": f"{condition} {Frozen.moment:%d %H:%M}", **keywords}
        self.drops(f"{condition}/sheet.txt", cgats.text(shift, keywords=told))

    def goes_round(self) -> None:
        """The service does everything once."""
        self.does("run", "--once")

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        with contextlib.closing(sqlite3.connect(self.folder / "store.sqlite")) as store:
            return list(store.execute(query))

    def open_number(self, subject: str, kind: str) -> str:
        table = "concern" if self.knows("0008") else "incident"
        [(seq,)] = self.rows(
            f"SELECT seq FROM {table} WHERE closed_at IS NULL AND subject = '{subject}' AND kind = '{kind}'"  # noqa: S608
        )
        return str(seq)


def play(room: Room, servers: Callable[[], None]) -> None:
    """Twenty-eight days; `servers` ends the servers of all but the night desk, which never had one."""
    _first_day(room)
    for number, shift in enumerate(SCATTER):
        day = 2 * number
        room.at(day)
        room.sheet("north/satin-240", shift - 0.2 * number)
        DAYS.get(day, _nothing)(room)
        room.goes_round()
        room.at(day + 1)
        DAYS.get(day + 1, _nothing)(room)
        room.goes_round()
    room.at(27, 10)
    servers()
    room.sheet("north/canvas-300", cgats.FAILING)
    room.drops("stain.txt", "stain END_DATA")
    room.goes_round()


def _nothing(room: Room) -> None:
    """A quiet day."""


def _first_day(room: Room) -> None:
    room.at(0, 8)
    if room.knows("0002"):
        room.does("target", "add", "aim", str(room.folder / "targets/house.txt"), "--by", "Ana", "--source", "May")
        room.does("target", "add", "aim", str(room.folder / "targets/aim-2.txt"), "--by", "Ana")
        room.does("target", "retire", "aim@1", "--by", "Ben", "--why", "the stock is gone")
    room.goes_round()


def _healthy(room: Room) -> None:
    for condition in ("north/matte-190", "north/canvas-300", "south/satin-240", "south/matte-190"):
        room.sheet(condition, cgats.GOOD)


def _first_failure(room: Room) -> None:
    room.sheet("north/matte-190", cgats.FAILING)
    room.sheet("north/vinyl-100", cgats.FAILING)


def _recovery(room: Room) -> None:
    room.sheet("north/vinyl-100", cgats.GOOD)


def _unscored(room: Room) -> None:
    room.drops("north/satin-240/scribble.txt", "scribble END_DATA")
    room.drops("north/gloss-300/monday.txt", cgats.text(keywords={"FOR": "nobody"}))


def _new_stock(room: Room) -> None:
    """Monday's file is scored after all."""
    with room.config.open("a") as settings:
        settings.write(GLOSS)


def _wrong_folder(room: Room) -> None:
    """The same file twice: first in the wrong folder, an hour later in the right one."""
    content = cgats.text(cgats.GOOD, keywords={"FOR": "south matte"})
    room.drops("north/canvas-300/moved.txt", content)
    room.goes_round()
    room.at(7, 10)
    room.drops("south/matte-190/moved.txt", content)


def _events(room: Room) -> None:
    if not room.knows("0002"):
        return
    room.does("event", "add", "stock-lot", "--printer", "south", "--substrate", "satin-240", "--by", "Ana", "lot=B7")
    room.does("event", "add", "nozzle-check", "--printer", "north", "--by", "Ben", "lines_missing=2")
    room.does("event", "add", "service", "--printer", "south", "--by", "Ben")
    [(undone,)] = room.rows("SELECT seq FROM event WHERE kind = 'service'")
    room.does("event", "undo", str(undone), "--by", "Ana", "--why", "it was the other printer")


def _diagnosed(room: Room) -> None:
    if room.knows("0005"):
        room.drops("south/vinyl-100/withheld.txt", (room.folder / "sheets" / "withheld.txt").read_text())
        room.drops("north/banner-510/diagnosed.txt", (room.folder / "sheets" / "diagnosed.txt").read_text())


def _cast_neutral(room: Room) -> None:
    """A sheet with a cast where the aim is a dark neutral."""
    if room.knows("0006"):
        lab = NEUTRALS[-2].lab
        cast = NEUTRALS[-2]._replace(lab=(lab[0], lab[1] + 6.0, lab[2]))
        room.drops("south/banner-510/cast.txt", cgats.text(0.1, patches=(*NEUTRALS[:-2], cast, NEUTRALS[-1])))


def _taken_back(room: Room) -> None:
    """That sheet was a draft."""
    if room.knows("0008"):
        [(cast,)] = room.rows("SELECT seq FROM \"check\" WHERE condition = 'south/banner-510'")
        room.does("check", "void", str(cast), "--by", "Ana", "--why", "it was a draft")


def _adoption(room: Room) -> None:
    if room.knows("0002"):
        checks = room.rows("SELECT seq FROM \"check\" WHERE condition = 'north/satin-240' ORDER BY seq LIMIT 3")
        numbers = [str(seq) for (seq,) in checks]
        room.does("target", "add", "look", "--from-check", *numbers, "--by", "Ana", "--approved-by", "Ben")


def _last_failures(room: Room) -> None:
    room.sheet("south/satin-240", cgats.FAILING)
    room.sheet("south/matte-190", cgats.FAILING)


def _silences(room: Room) -> None:
    acknowledged = room.open_number("south/satin-240", "check-failed")
    snoozed = room.open_number("south/matte-190", "check-failed")
    if room.knows("0005"):
        room.does("ack", acknowledged, "--by", "Ana", "--note", "new heads are on their way", "--for", "3d")
        room.does("snooze", snoozed, "--by", "Ben", "--until", "2026-03-31T12:00:00+00:00")


def _unscored_again(room: Room) -> None:
    _silences(room)
    room.drops("south/satin-240/blot.txt", "blot END_DATA")


DAYS: dict[int, Callable[[Room], None]] = {
    1: _healthy,
    2: _first_failure,
    4: _recovery,
    5: _unscored,
    6: _new_stock,
    7: _wrong_folder,
    8: _events,
    10: _diagnosed,
    12: _cast_neutral,
    14: _taken_back,
    24: _adoption,
    25: _last_failures,
    27: _unscored_again,
}


def main(revision: str, folder: Path) -> None:
    freeze()
    room = Room(folder, revision)
    team, buyer = Webhook(), Webhook()
    os.environ |= {
        "COLOUR_TEAM_URL": team.url(),
        "BUYER_URL": buyer.url(),
        "NIGHT_DESK_URL": f"json://127.0.0.1:{free_port()}/",
    }

    def end() -> None:
        team.stop()
        buyer.stop()

    play(room, end)
    (folder / "moment.json").write_text(json.dumps({"last": Frozen.moment.isoformat()}))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
