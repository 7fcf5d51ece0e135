"""The installed console command, as people and cron jobs run it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SENTINEL = Path(sys.executable).with_name("sentinel")
PATIENCE_SECONDS = 60


@dataclass(frozen=True, slots=True)
class Done:
    """What a command said and how it ended."""

    code: int
    out: str
    err: str

    def lines(self) -> list[dict[str, Any]]:
        """Its JSON, one object a line."""
        return [json.loads(line) for line in self.out.splitlines()]

    def json(self) -> dict[str, Any]:
        """Its JSON, one object in all."""
        shown: dict[str, Any] = json.loads(self.out)
        return shown


def sentinel(
    *arguments: str | bytes | Path,
    cwd: Path | None = None,
    before: tuple[str, ...] = (),
    patience: float = PATIENCE_SECONDS,
    **environ: str,
) -> Done:
    """Runs the command; `before` are words put before it, those of a program that runs it in another way."""
    own = {name: text for name, text in os.environ.items() if name != "SENTINEL_CONFIG"}
    done = subprocess.run(
        [*before, SENTINEL, *arguments],
        check=False,
        capture_output=True,
        text=True,
        timeout=patience,
        cwd=cwd,
        env={**own, **environ},
    )
    return Done(done.returncode, done.stdout, done.stderr)
