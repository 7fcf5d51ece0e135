"""Builds the stores of this folder anew, each with the program of its time.

    .venv/bin/python tests/data/stores/build.py [NAME...]     (all of them where none is named)

Needs the history of the repository.
"""

from __future__ import annotations

import contextlib
import io
import json
import lzma
import os
import shutil
import sqlite3
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
REPOSITORY = HERE.parents[2]
sys.path.insert(0, str(REPOSITORY))


@dataclass(frozen=True, slots=True)
class Origin:
    """The commit whose program played, as a program of which revision, and what brought the store further."""

    commit: str
    revision: str
    migrated: tuple[str, str] | None = None
    """A later commit and the revision that its migrations were let run to."""


BETWEEN = "adc5aa0"
"""The first commit with the migrations 0003 and 0004 as they are; no commit ever had them as its newest ones."""

STORES = {
    "r0001": Origin("1a64666", "0001"),
    "r0002": Origin("3c5fc37", "0002"),
    "r0003": Origin("3c5fc37", "0002", (BETWEEN, "0003")),
    "r0004": Origin("3c5fc37", "0002", (BETWEEN, "0004")),
    "r0005-first": Origin(BETWEEN, "0005"),
    "r0005": Origin("39280a5", "0005"),
    "r0006": Origin("deb6cae", "0006"),
    "r0007": Origin("6352e3f", "0007"),
    "r0008": Origin("6b222b6", "0008"),
    "r0009": Origin("28f2462", "0009"),
    "r0010": Origin("9a5d28d", "0010"),
}


def build(name: str, origin: Origin, place: Path) -> None:
    room = place / "print-room"
    room.mkdir()
    _draw_sheets(room)
    _run(_checked_out(origin.commit, place), HERE / "play.py", origin.revision, room)
    if origin.migrated:
        commit, revision = origin.migrated
        code = _checked_out(commit, place)
        _run(code, HERE / "migrate.py", room / "store.sqlite", revision)
    _pack(HERE / name, room, origin)


def _draw_sheets(room: Path) -> None:
    """A misread sheet and one whose fault can be told, printed by the simulator of today, with their targets."""
    from demo.simulator.checks import draw_check
    from tests.simulation.diagnosis.worlds import FITTING

    for folder in ("sheets", "targets"):
        (room / folder).mkdir()
    for case, sheet, target in (("rows shifted", "withheld", "short"), ("solid off", "diagnosed", "shorter")):
        drawn = next(
            check
            for number in range(60)
            if set((check := draw_check(FITTING, number, (case,), "short")).inks) == set("CMYK")
        )
        (room / "sheets" / f"{sheet}.txt").write_text(drawn.file)
        (room / "targets" / f"{target}.txt").write_text(drawn.target)


def _checked_out(commit: str, place: Path) -> Path:
    folder = place / commit
    if not folder.exists():
        folder.mkdir()
        archive = subprocess.run(
            ["git", "archive", commit, "sentinel"], cwd=REPOSITORY, check=True, capture_output=True
        ).stdout
        with tarfile.open(fileobj=io.BytesIO(archive)) as files:
            files.extractall(folder, filter="data")
    return folder


def _run(code: Path, script: Path, *arguments: object) -> None:
    command = [sys.executable, str(script), *map(str, arguments)]
    environ = os.environ | {"PYTHONPATH": str(code)}
    done = subprocess.run(command, cwd=code, env=environ, check=False, capture_output=True)
    if done.returncode:
        sys.exit(done.stderr.decode())


def _pack(kept: Path, room: Path, origin: Origin) -> None:
    shutil.rmtree(kept, ignore_errors=True)
    kept.mkdir()
    moment = json.loads((room / "moment.json").read_text())["last"]
    with contextlib.closing(sqlite3.connect(room / "store.sqlite")) as store:
        store.execute("PRAGMA journal_mode = delete")
        facts = {"commit": origin.commit, "migrated": origin.migrated, "last": moment, **_facts(store)}
    (kept / "expected.json").write_text(json.dumps(facts, indent=1) + "\n")
    shutil.copy(room / "sentinel.toml", kept)
    (kept / "store.sqlite.xz").write_bytes(lzma.compress((room / "store.sqlite").read_bytes(), preset=9))
    with tarfile.open(kept / "folders.tar.xz", "w:xz", preset=9) as files:
        for folder in ("archive", "aside", "targets"):
            files.add(room / folder, folder)


QUESTIONS = {
    "checks": 'SELECT seq, condition, verdict FROM "check" ORDER BY seq',
    "superseded": "SELECT check_seq, kind FROM check_counter_entry ORDER BY seq",
    "open": "SELECT seq, subject, kind FROM incident WHERE closed_at IS NULL ORDER BY seq",
    "closed": "SELECT seq, subject, kind FROM incident WHERE closed_at IS NOT NULL ORDER BY seq",
    "outbox": 'SELECT seq, "key", recipient, status FROM outbox ORDER BY seq',
    "states": "SELECT condition, state, max(seq) FROM state_edge GROUP BY site, condition ORDER BY condition",
    "unscored": "SELECT seq, file_name, settled_at IS NOT NULL FROM unscored_file ORDER BY seq",
}
LATER = {
    "event": "SELECT seq, kind, undoes_seq FROM event ORDER BY seq",
    "target_version": """SELECT name, version, EXISTS (SELECT 1 FROM target_retirement WHERE target_seq = t.seq)
        FROM target_version t ORDER BY name, version""",
    "outlook": "SELECT condition, foretold IS NOT NULL FROM outlook ORDER BY condition",
    "incident_silence": "SELECT incident_seq, acknowledged, until FROM incident_silence ORDER BY seq",
}
"""By table: what is asked only where there is one."""
OF_CASES = {
    "open": "SELECT seq, subject, kind FROM concern WHERE closed_at IS NULL ORDER BY seq",
    "closed": "SELECT seq, subject, kind FROM concern WHERE closed_at IS NOT NULL ORDER BY seq",
    "cases": "SELECT DISTINCT subject, case_seq FROM concern WHERE closed_at IS NULL ORDER BY subject",
    "incident_silence": """SELECT (SELECT min(seq) FROM concern WHERE case_seq = s.case_seq AND closed_at IS NULL),
        acknowledged, until FROM case_silence s ORDER BY seq""",
}
"""The same of a store of 0008 and later: an incident is a concern of a case, and silences are said of the case."""


def _facts(store: sqlite3.Connection) -> dict[str, Any]:
    tables = sorted(name for (name,) in store.execute("SELECT name FROM sqlite_schema WHERE type = 'table'"))
    counts = {name: store.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in tables}  # noqa: S608
    asked = QUESTIONS | {name: question for name, question in LATER.items() if name in tables}
    if "concern" in tables:
        asked |= OF_CASES
    [(revision,)] = store.execute("SELECT version_num FROM alembic_version")
    return {
        "revision": revision,
        "rows": counts,
        **{name: [list(row) for row in store.execute(question)] for name, question in asked.items()},
    }


@contextlib.contextmanager
def _workshop() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="stores-") as folder:
        yield Path(folder)


def main(names: list[str], tell: Callable[[str], object]) -> None:
    for name in names or STORES:
        with _workshop() as place:
            build(name, STORES[name], place)
        tell(f"{name}: built\n")


if __name__ == "__main__":
    main(sys.argv[1:], sys.stdout.write)
