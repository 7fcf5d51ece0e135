"""A temporary print room: its folders, its target, its TOML, and everything of the service but the threads."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from pathlib import Path

from sentinel.adapters.files.archive import MARK
from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.adapters.recipients import Addressee
from sentinel.adapters.store.read_session import ReadSession
from sentinel.adapters.store.store import Store
from sentinel.application.rejudging import History, history_of
from sentinel.bootstrap import Assembly, Composition
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.records import NoticeRecord, Waiting
from sentinel.core.conditions.checks import RecordedCheck
from sentinel.core.history import Both
from sentinel.settings.loading import load
from sentinel.settings.resolving import Snapshot
from tests.support import cgats
from tests.support.clock import FakeClock, stamp
from tests.support.reading import ReaderHere

SITE = "hall"

TOML = """\
[site]
name = "hall"

[folders]
drop = ["drop"]
archive = "archive"
put_aside = "aside"

[store]
path = "store.sqlite"

[printers.north]
[printers.south]

[substrates.satin-240]
[substrates.matte-190]
[substrates.film-clear]
opacity = "transparent"

[targets.house]
file = "targets/house.txt"
colour_path = "ink-space"

[conditions."north/satin-240"]
targets = ["house"]
[conditions."north/matte-190"]
targets = ["house"]
[conditions."south/satin-240"]
targets = ["house"]
[conditions."south/film-clear"]
targets = ["house"]
"""

COLOUR_TEAM = Addressee("colour-team", tuple(NoticeKind), ("json://127.0.0.1:9/never-called",))


class Room:
    """A folder with all that a print room has."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.drop, self.aside = folder / "drop", folder / "aside"
        self.archive, self.store = folder / "archive", folder / "store.sqlite"
        self.config = folder / "sentinel.toml"
        self.drop.mkdir(parents=True)
        (folder / "targets").mkdir()
        (folder / "targets" / "house.txt").write_text(cgats.text())
        self.config.write_text(TOML)

    def configure(self, *changes: tuple[str, str], extra: str = "") -> Snapshot:
        """Writes the TOML with each first text replaced by the second and `extra` at its end."""
        text = TOML
        for old, new in changes:
            assert old in text, f"{old!r} is not in the room's TOML"
            text = text.replace(old, new)
        self.config.write_text(text + extra)
        return self.snapshot()

    def snapshot(self) -> Snapshot:
        return Snapshot(load(self.config))

    def put(
        self,
        place: str,
        content: str | bytes = "",
        *,
        at: datetime | None = None,
    ) -> Path:
        """A file at `place` below the drop folder, last written `at`."""
        path = self.drop / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        if at is not None:
            stamp(path, at)
        return path

    @property
    def records(self) -> ReadSession:
        """What is on record now, read beside whoever writes."""
        return ReadSession(self.store, SITE)

    def checks(self) -> list[RecordedCheck]:
        """Every check in the order in which they were kept."""
        return sorted(self.records.checks.recorded(), key=lambda check: check.seq)

    def open_cases(self, kind: str | None = None) -> list[str]:
        """The subjects of the open cases, of one kind or all, in the order in which they were opened."""
        return [case.subject for case in self.records.cases.listed() if kind in (None, case.kind.value)]

    def notices(self, kind: str | None = None) -> list[NoticeRecord]:
        """Every notice there ever was, of one kind or all but summaries, in the order in which they were posted."""
        posted = reversed(self.records.outbox.listed())
        kinds = {each.value for each in NoticeKind} - {"summary"} if kind is None else {kind}
        return [each for each in posted if each.notice.kind.value in kinds]

    def statuses(self) -> list[str]:
        """Those of all notices, summaries among them, in the order in which they were posted."""
        return [each.status for each in reversed(self.records.outbox.listed())]

    def dropped(self) -> list[str]:
        """What lies in the drop folder, folders left out."""
        return _files_below(self.drop)

    def put_aside(self) -> list[str]:
        return _files_below(self.aside)

    def archived(self) -> list[str]:
        """What came, without the archive's mark and the notes on that."""
        own = (MARK, "came/", "let-go/", "stores.json")
        return [place for place in _files_below(self.archive) if not place.startswith(own)]


def _files_below(folder: Path) -> list[str]:
    return sorted(
        os.path.relpath(Path(root) / name, folder)
        for root, folders, files in os.walk(folder)
        for name in [*files, *(each for each in folders if (Path(root) / each).is_symlink())]
    )


@dataclass
class Staff:
    """The room's workers on its real folders and store, under a clock that stands still."""

    room: Room
    clock: FakeClock = field(default_factory=FakeClock)
    told: Sequence[Addressee] = (COLOUR_TEAM,)
    drop_class: type[DropFolders] = DropFolders

    def __post_init__(self) -> None:
        if not self.room.store.exists():
            self.room.store.write_bytes(new_store())
        self.store = Store(self.room.store, SITE)
        self.restart()

    def restart(self) -> None:
        """New workers over the same folders and store, as after a crash; the settings are read again."""
        self.snapshot = self.room.snapshot()
        self.house = self.snapshot.house
        assembly = Assembly(self.store, self.room.store, self.clock, drops=self.drop_class, reader=ReaderHere())
        works, self.hashes = assembly.runtime(self.snapshot, self.told), assembly.hashes
        assert works.forecaster is not None
        assert works.catching_up is not None
        self.catching_up = works.catching_up
        self.works = works
        self.intake, self.schedule, self.forecaster = works.intake, works.schedule, works.forecaster

    def look(self, *closed: Path) -> int:
        return self.intake.look(self.house, {str(path) for path in closed})

    def tell(self) -> None:
        """Lets the clock's work be done, with what is wrong with the folders now."""
        self.schedule.tick(self.house, self.works.folder_troubles())

    def take(self, place: str, content: str | bytes, *, at: datetime | None = None) -> int:
        """Drops a file that is seen to be closed, and looks."""
        return self.look(self.room.put(place, content, at=at or self.clock.now()))

    def outbox(self, recipient: str = "colour-team") -> list[Waiting]:
        """Every notice that waits for the recipient, the oldest first; takes them out, as sent."""
        taken = []
        with self.store.transaction() as session:
            while waiting := session.outbox.next_for(recipient, self.clock.now()):
                session.outbox.sent(waiting, self.clock.now())
                taken.append(waiting)
        return taken

    def told_kinds(self) -> list[str]:
        """The kinds of the notices that wait, taken out of the outbox."""
        return [waiting.notice.kind.value for waiting in self.outbox()]

    def checks(self) -> list[tuple[str, str]]:
        """(condition, verdict) of every check in the order in which they were kept."""
        return [(check.condition, check.verdict.value) for check in self.room.checks()]

    def rows(self, query: str) -> list[tuple[object, ...]]:
        return rows(self.room.store, query)


@cache
def new_store() -> bytes:
    """A store without records, as it is first made."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "store.sqlite"
        Store(path, SITE).close()
        return path.read_bytes()


def rows(store: Path, query: str) -> list[tuple[object, ...]]:
    """What a query of our own finds in a store, past the program."""
    with closing(sqlite3.connect(f"file:{store}?mode=ro", uri=True, timeout=10)) as connection:
        return list(connection.execute(query))


def recorded_history(snapshots: Both[Snapshot]) -> History:
    """What the store of the first of these settings has, with what it foretells under each."""
    rooms = Both(*(Composition(each.loaded.path, snapshot=each) for each in snapshots))
    houses = Both(*(each.house for each in snapshots))
    figures = {figure for each in snapshots for figure in each.limited_figures()}
    return history_of(houses, figures, rooms.running.records, Both(*(room.foretold for room in rooms)))
