"""The installed command, started as an admin would; nothing of it is imported."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from demo.faults import NotAsExpectedError

SENTINEL = Path(sys.executable).with_name("sentinel")
STOP_SECONDS = 20.0

# the receivers are on loopback: no proxy of this machine may come between
ENVIRONMENT = {**os.environ, "no_proxy": "127.0.0.1", "NO_PROXY": "127.0.0.1", "COLUMNS": "94"}


class Service:
    """`sentinel run` in a process of its own, and the commands that look at it."""

    def __init__(self, settings: Path, log: Path) -> None:
        self._command = [str(SENTINEL), "--config", str(settings)]
        places = {name: str(settings.parent / name.lower()) for name in ("STATE_DIRECTORY", "CACHE_DIRECTORY")}
        self._environment = ENVIRONMENT | places
        self._log = log
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def log_lines(self) -> list[str]:
        """What the service has logged."""
        return self._log.read_text(encoding="utf-8").splitlines() if self._log.exists() else []

    def start(self) -> None:
        """Starts it; its log goes to a file."""
        with self._log.open("ab") as log:
            # a session of its own: Ctrl-C at the terminal is for the demo, which then stops the service itself
            self._process = subprocess.Popen(
                [*self._command, "run"], stderr=log, start_new_session=True, env=self._environment
            )

    def must_run(self) -> None:
        """Raises NotAsExpectedError where it has ended."""
        code = self._process.poll() if self._process else None
        if code is not None:
            raise NotAsExpectedError(f"expected the service to run, but it ended with exit code {code}")

    def stop(self) -> int | None:
        """Asks it to stop and returns its exit code, None where it does not run."""
        if self._process is None:
            return None
        self._process.terminate()
        try:
            return self._process.wait(STOP_SECONDS)
        except subprocess.TimeoutExpired:
            self._process.kill()
            return self._process.wait()
        finally:
            self._process = None

    def asked(self, *arguments: str) -> str:
        """What another command prints. Raises NotAsExpectedError where it does not end well."""
        done = subprocess.run(
            [*self._command, *arguments], capture_output=True, text=True, check=False, env=self._environment
        )
        if done.returncode != 0:
            raise NotAsExpectedError(
                f"expected `sentinel {' '.join(arguments)}` to end with exit code 0, "
                f"it ended with {done.returncode}: {done.stderr.strip()}"
            )
        return done.stdout.rstrip()

    def cases(self) -> list[dict[str, Any]]:
        """`sentinel cases --json`, the open ones."""
        return [json.loads(line) for line in self.asked("cases", "--json").splitlines()]

    def states(self) -> dict[str, dict[str, Any]]:
        """`sentinel status --json`, by printing condition."""
        return {each["condition"]: each for each in json.loads(self.asked("status", "--json"))["conditions"]}
