"""From a complete file to a delivered mail. Run: python -m tests.benchmarks.bench_drop_to_mail

Starts the installed `sentinel run` on the demo's print room, drops failing readings one by one, each written in place
in pieces, and waits for the mail of each on a loopback SMTP server. Times run from the closing of the file: to the
commit as the service's log tells it, and to the mail server having the mail. The first file is told apart: it comes
while the service is still starting and is found by the scan, which waits until a file has been quiet for two seconds.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import time
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from demo.instrument import Reading, exported, save
from demo.print_model import Drift
from demo.receivers import Receivers
from demo.room import Room
from demo.service import Service

FILES = 50
MESSAGES_A_FILE = 2  # one mail, one webhook post
PATIENCE_SECONDS = 30.0
FAILING = Drift(density={"M": 1.3}, gain=0.06)


def main() -> None:
    with tempfile.TemporaryDirectory(prefix="print-room-") as folder, Receivers() as receivers:
        room = Room(Path(folder), receivers)
        service = Service(room.settings, room.log)
        service.start()
        try:
            closed, mailed = _drop_all(room, receivers)
            committed = _commits(service.log_lines)
        finally:
            service.stop()
    first, *others = closed
    _say(f"first file, while the service starts: mail after {(mailed[first] - closed[first]) * 1e3:.0f} ms")
    _say(f"{len(others)} files, dropped one by one")
    _report("complete file to commit", (committed[name] - closed[name] for name in others))
    _report("complete file to mail  ", (mailed[name] - closed[name] for name in others))


def _drop_all(room: Room, receivers: Receivers) -> tuple[dict[str, float], dict[str, float]]:
    closed, mailed = {}, {}
    for number in range(1 + FILES):
        name = f"reading-{number:02}.txt"
        save(exported(Reading("north", "satin-240", 0.0, FAILING, seed=number)), room.drop / "north/satin-240" / name)
        closed[name] = time.time()
        messages = receivers.gather(MESSAGES_A_FILE, PATIENCE_SECONDS)
        mailed[name] = next(message.at for message in messages if message.way == "mail" and name in message.body)
    return closed, mailed


def _commits(log_lines: Iterable[str]) -> dict[str, float]:
    logged = map(json.loads, log_lines)
    return {
        line["file"]: datetime.fromisoformat(line["timestamp"]).timestamp()
        for line in logged
        if line["event"] == "file taken in"
    }


def _report(what: str, seconds: Iterable[float]) -> None:
    times = [each * 1e3 for each in seconds]
    _say(f"{what}: median {statistics.median(times):.0f} ms, worst {max(times):.0f} ms")


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")


if __name__ == "__main__":
    main()
