"""Brings a store to a revision in between, and writes what the programs after it would have written into what is new.

    PYTHONPATH=OLD_CODE python migrate.py STORE REVISION

No program ever wrote stores of 0003 or 0004 as its newest: their rows are written in plain SQL, shaped as by 0005.
"""

from __future__ import annotations

import json
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

from sentinel.adapters.store.version import upgrade  # type: ignore[import-not-found]

from sentinel.adapters.store import engine  # type: ignore[attr-defined]  # of the old code

CONDITION = "north/satin-240"


def outlook(store: sqlite3.Connection, seq: int) -> None:
    """Of the drifting condition, by its last check: a trend and a shift."""
    [(check, at)] = store.execute(
        'SELECT seq, measured_at FROM "check" WHERE condition = ? ORDER BY seq DESC LIMIT 1', (CONDITION,)
    )
    figure = {"group": "all", "metric": "de00_mean"}
    span = ["2026-04-02T00:00:00+00:00", None]
    leaving = {
        **figure, "trend": True, "readings": 14, "level": 2.3, "slope": 0.1, "limit": 3.0, "check_by": span[0],
        "expected": span[0], "likely": span, "wide": span,
    }  # fmt: skip
    shift = {
        **figure, "chart": "ewma", "side": "above", "at": "2026-03-20T09:00:00+00:00", "value": 4.0, "limit": 3.0,
        "fresh": False,
    }  # fmt: skip
    foretold = {
        "check_seq": check, "since": at.replace("Z", "+00:00"), "readings": 14, "trends": 1, "no_trends": 0,
        "no_forecasts": 0, "leaving": [leaving], "shifts": [shift], "signs": [],
    }  # fmt: skip
    row = ("hall", seq, CONDITION, "written by hand", json.dumps(foretold))
    store.execute("INSERT INTO outlook (site, seq, condition, basis, foretold) VALUES (?, ?, ?, ?, ?)", row)


SILENCES = {
    "south/satin-240": (True, "Ana", "new heads are on their way", "2026-04-01T09:00:00.000000Z"),
    "south/matte-190": (False, "Ben", None, "2026-03-31T12:00:00.000000Z"),
}
SILENCE = """INSERT INTO incident_silence (site, seq, incident_seq, acknowledged, "by", note, severity, at, until)
SELECT 'hall', ?, seq, ?, ?, ?, 'urgent', '2026-03-29T09:00:00.000000Z', ? FROM incident
WHERE closed_at IS NULL AND kind = 'check-failed' AND subject = ?"""


def silences(store: sqlite3.Connection, first: int) -> None:
    """Ana and Ben have said that they know; people were last told on the last morning."""
    for number, (subject, (acknowledged, by, note, until)) in enumerate(SILENCES.items()):
        store.execute(SILENCE, (first + number, acknowledged, by, note, until, subject))
    store.execute(
        "UPDATE incident SET severity = 'urgent', told_at = '2026-03-29T09:00:00.000000Z', reminded = 0, escalated = 0"
        " WHERE closed_at IS NULL AND kind = 'check-failed'"
    )
    store.execute("INSERT INTO moment (site, part, at) VALUES ('hall', 'intake', '2026-03-29T10:00:00.000000Z')")


def main(path: Path, revision: str) -> None:
    upgrade(engine.writer(path), revision)
    with closing(sqlite3.connect(path)) as store:
        [(seq,)] = store.execute("SELECT last_seq FROM counter")
        outlook(store, seq + 1)
        if revision >= "0004":
            silences(store, seq + 2)
        store.execute("UPDATE counter SET last_seq = last_seq + 10")
        store.commit()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
