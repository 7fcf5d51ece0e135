"""A print room with each of its folders apart, one file of every kind for it, and what must have come of them."""

from __future__ import annotations

import hashlib
import os
import queue
import sqlite3
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from tests.support import cgats
from tests.support.process import URGENT, Running
from tests.support.room import Room

HEADER = "kind,printer,substrate,square_metres,metres\n"

PATIENT = URGENT.replace("timeout_seconds = 2.0", "timeout_seconds = 30.0")
"""A busy machine that answers late must not be told twice."""

FOLDERS = {
    "drop folder": "drop",
    "events folder": "events",
    "put-aside folder": "aside",
    "archive": "archive",
    "store": "state",
    "store's folder": "state$",
    "lock": "state/store.sqlite.lock",
    "templates": "templates",
    "settings": "sentinel.toml",
    "targets": "targets",
}
"""The places of the faults page, as what paths below the room begin with; `$` ends a path that is meant alone.
The store is all that is kept beside it, too."""


@dataclass(frozen=True, slots=True)
class Sent:
    """A file that came: where, what is in it, what must come of it, and by which words people know it."""

    place: str
    content: str
    fate: str
    """`scored`, `told` (scored and told), `refused` (told and put aside), `events`."""
    named: str

    @property
    def sha256(self) -> str:
        """Of its bytes."""
        return hashlib.sha256(self.content.encode()).hexdigest()

    @property
    def told(self) -> bool:
        """Whether there must be a notice of it."""
        return self.fate in ("told", "refused")


def files(number: int = 0) -> list[Sent]:
    """One of every kind, like those of no other number; no two of them are told of in the same words."""
    kind = f"{HEADER}printed-area,north,,{number + 1}.5,\nroll-loaded,south,satin-240,,{number + 30}\n"
    return [
        Sent(f"drop/north/matte-190/good-{number}.txt", f"{cgats.text(cgats.GOOD)}# {number}\n", "scored", "matte-190"),
        Sent(
            f"drop/north/stock-{number}/sheet-{number}.txt",
            f"{cgats.text(cgats.FAILING)}# {number}\n",
            "told",
            f"north / stock-{number}",
        ),
        Sent(
            f"drop/south/satin-240/scribble-{number}.txt",
            f"scribble {number} END_DATA",
            "refused",
            f"scribble-{number}.txt",
        ),
        Sent(f"events/events-{number}.csv", kind, "events", f"events-{number}.csv"),
        Sent(
            f"events/faulty-{number}.csv",
            f"{HEADER}printed-area,west,,{number}.5,\n",
            "refused",
            f"faulty-{number}.csv",
        ),
    ]


def furnished(room: Room, hurry: str = "quiet_seconds = 0.2\nscan_seconds = 0.3", stocks: int = 1) -> Room:
    """The room with an events folder, a folder of its own for the store, and templates."""
    for name in ("events", "state", "templates"):
        (room.folder / name).mkdir()
    (room.folder / "templates" / "README").write_text("none yet\n")
    own = "".join(
        f'[substrates.stock-{each}]\n[conditions."north/stock-{each}"]\ntargets = ["house"]\n' for each in range(stocks)
    )
    room.configure(
        ('archive = "archive"', f'archive = "archive"\nevents = "events"\n{hurry}'),
        ('"store.sqlite"', '"state/store.sqlite"'),
        extra=PATIENT + 'templates = "templates"\n' + own,
    )
    room.store = room.folder / "state" / "store.sqlite"
    return room


def put(room: Room, sent: Sent) -> None:
    """Moves a whole file in."""
    outside = room.folder.parent / "instrument"
    outside.mkdir(exist_ok=True)
    path, target = outside / Path(sent.place).name, room.folder / sent.place
    path.write_text(sent.content)
    target.parent.mkdir(parents=True, exist_ok=True)
    path.rename(target)


@dataclass(frozen=True, slots=True)
class Fate:
    """What is wrong, in words: what is nowhere any more or not done, and what was done or told twice."""

    lost: Sequence[str]
    twice: Sequence[str]
    refused: Sequence[str] = ()
    """Put aside, with people told, though it was the disk's fault: not lost, and not back by itself either."""

    def __str__(self) -> str:
        said = (("lost", self.lost), ("twice", self.twice), ("refused for the disk's fault", self.refused))
        return "; ".join(f"{word}: {each}" for word, found in said for each in found)


def records(store: Path) -> Mapping[str, Counter[str]]:
    """How often each SHA-256 is on record: as a check, as a refusal, as the origin of events."""
    with closing(sqlite3.connect(f"file:{store}?mode=ro", uri=True, timeout=10)) as asked:
        checks = Counter(str(sha) for (sha,) in asked.execute('SELECT sha256 FROM "check"'))
        refused = Counter(str(sha) for (sha,) in asked.execute("SELECT sha256 FROM unscored_file"))
        events = Counter(str(source) for (source,) in asked.execute("SELECT source FROM event"))
        faulty = [str(fault) for (fault,) in asked.execute("PRAGMA integrity_check") if fault != "ok"]
    return {"checks": checks, "refused": refused, "events": events, "integrity": Counter(faulty)}


def bytes_kept(room: Room) -> dict[str, set[str]]:
    """By SHA-256 the folders of the room that hold a file of these bytes."""
    kept: dict[str, set[str]] = {}
    for folder in ("drop", "events", "aside", "archive"):
        for root, _, names in os.walk(room.folder / folder):
            for name in names:
                sha256 = hashlib.sha256((Path(root) / name).read_bytes()).hexdigest()
                kept.setdefault(sha256, set()).add(folder)
    return kept


def waits(room: Room, sent: Iterable[Sent]) -> list[str]:
    """What of these is not done yet: still where it came, or told to nobody."""
    open_ = [each.place for each in sent if (room.folder / each.place).exists()]
    with closing(sqlite3.connect(f"file:{room.store}?mode=ro", uri=True, timeout=10)) as asked:
        late = asked.execute("SELECT key FROM outbox WHERE status NOT IN ('sent', 'withdrawn', 'summarised')")
        return open_ + [str(key) for (key,) in late]


def fate(room: Room, sent: Sequence[Sent], told: Sequence[tuple[str, str]]) -> Fate:
    """What came of these files, once nothing fails any more; `told` are (title, text) of every message."""
    lost, twice, refused = list[str](), list[str](), list[str]()
    on_record, kept = records(room.store), bytes_kept(room)
    lost += [f"the store is damaged: {each}" for each in on_record["integrity"]]
    for each in sent:
        if not kept.get(each.sha256):
            lost.append(f"the bytes of {each.place}")
        titles = [title for title, text in told if names(each, title, text)]
        messages = len(titles)
        told_of = messages == 1 or (
            messages == 0 and bool(waits(room, ()))
        )  # such notices come together, after a while
        if told_of and "aside" in kept.get(each.sha256, ()) and not _on_record(each, on_record):
            refused.append(each.place)
            continue
        counts = {"told": (messages, int(each.told))}
        if each.fate in ("scored", "told"):
            counts["checks"] = (on_record["checks"][each.sha256], 1)
        if each.fate == "refused" and each.place.startswith("drop/"):
            counts["refused"] = (on_record["refused"][each.sha256], 1)
        if each.fate == "events":
            lines = [f"{each.sha256}:{line}" for line in (2, 3)]
            counts["events"] = (sum(on_record["events"][line] for line in lines), 2)
        for what, (found, wanted) in counts.items():
            if found < wanted:
                lost.append(f"{what} of {each.place}")
            if found > wanted:
                twice.append(f"{what} of {each.place}, {found} times {titles if what == 'told' else ''}".rstrip())
    return Fate(lost, twice, refused)


def _on_record(sent: Sent, on_record: Mapping[str, Counter[str]]) -> bool:
    """As what it is; a refusal of events has no record that names the file."""
    kind = {"scored": "checks", "told": "checks", "events": "events", "refused": "refused"}[sent.fate]
    if sent.fate == "refused" and sent.place.startswith("events/"):
        return True
    return any(source.startswith(sent.sha256) for source in on_record[kind])


def begun(service: Running, times: int = 6) -> Running:
    """A service that is ready, however busy the machine is."""
    for _ in range(times - 1):
        with suppress(queue.Empty):
            return service.ready()
        assert service.process.poll() is None, f"it ended with {service.process.returncode}"
    return service.ready()


TROUBLE = "Sentinel in trouble"
"""How the titles of notices begin that tell of the service itself."""


def tells_of_trouble(title: str) -> bool:
    """Whether a message tells that something is wrong with the service."""
    return TROUBLE in title


def names(sent: Sent, title: str, text: str) -> bool:
    """Whether a message tells what came of this file; one on the service itself may name it, and does not."""
    own = (sent.named, Path(sent.place).name)
    return not tells_of_trouble(title) and any(each in f"{title}\n{text}" for each in own)
