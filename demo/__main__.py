"""`demo/run`: plays the story on a room of its own; `--keep` goes on until stopped."""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import sys
import tempfile
import textwrap
from pathlib import Path

from demo import telling
from demo.faults import NotAsExpectedError
from demo.instrument import Reading, exported
from demo.receivers import Receivers
from demo.room import Room
from demo.service import SENTINEL, Service
from demo.stage import Stage
from demo.story import tell

LAST_LINES = 15

SAMPLES = {
    "board-first.txt": Reading("quarry", "board-300", 1, seed=51),
    "cotton-right-roll.txt": Reading("north", "cotton-310", 0.2, seed=52),
}


def main() -> int:
    """0 when all that the story expects has happened, 1 when not."""
    parser = argparse.ArgumentParser(prog="demo/run", description="An invented print room, watched by the sentinel.")
    parser.add_argument("--keep", action="store_true", help="leave it running until Ctrl-C")
    keep = parser.parse_args().keep
    sys.stdout.reconfigure(line_buffering=True)  # type: ignore[union-attr]
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    folder = Path(tempfile.mkdtemp(prefix="print-room-"))
    try:
        with Receivers() as receivers:
            return _play(folder, receivers, keep)
    except KeyboardInterrupt:
        print("\nStopped.")
        return 0 if keep else 130
    finally:
        shutil.rmtree(folder)


def _play(folder: Path, receivers: Receivers, keep: bool) -> int:
    room = Room(folder, receivers)
    service = Service(room.settings, room.log)
    try:
        tell(Stage(room, service, receivers))
        if keep:
            _go_on(room, receivers)
        code = service.stop()
        if code != 0:
            raise NotAsExpectedError(f"expected the service to stop with exit code 0, got {code}")
    except NotAsExpectedError as fault:
        print(f"\n\nThe demo did not go as expected: {fault}.", file=sys.stderr)
        print("\n".join(["The service's last log lines:", *service.log_lines[-LAST_LINES:]]), file=sys.stderr)
        return 1
    finally:
        service.stop()
    print("\n\nEverything happened as expected. The service was stopped and the room is gone.")
    return 0


def _go_on(room: Room, receivers: Receivers) -> None:
    """Shows whatever arrives, until interrupted."""
    samples = room.folder / "samples"
    samples.mkdir()
    for name, reading in SAMPLES.items():
        (samples / name).write_bytes(exported(reading))
        (room.drop / reading.printer / reading.stock).mkdir(parents=True, exist_ok=True)
    print(
        textwrap.dedent(f"""

        The service goes on running. What arrives is shown here.

          settings    {room.settings}
          drop files  {room.drop}/PRINTER/STOCK
          log         {room.log}
          stop        Ctrl-C here, or: kill {os.getpid()}    (the room is removed then)

        To try, from another terminal: a first check on board, which passes, so that nobody is told;
        then the chart for cotton paper again, this time on the right roll.

          cd {room.folder}
          cp samples/board-first.txt drop/quarry/board-300/
          cp samples/cotton-right-roll.txt drop/north/cotton-310/
          {SENTINEL} --config sentinel.toml status
        """)
    )
    while True:
        message = receivers.next(1.0)
        if message is not None:
            telling.message(message, None)


if __name__ == "__main__":
    sys.exit(main())
