"""`python -m sentinel` and the console command."""

from __future__ import annotations

import os
import signal
import sys


def main() -> int:
    """Runs one command and returns its exit code.

    A service that is stopped before it has begun ends as one that works does, quietly and with 0: nothing that it does
    until then is hurt by an end at any moment. It takes the signal over itself when it works.
    """
    if "run" in sys.argv and "--once" not in sys.argv:
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: os._exit(0))
    from sentinel.cli.app import main as command

    return command()


if __name__ == "__main__":
    sys.exit(main())
