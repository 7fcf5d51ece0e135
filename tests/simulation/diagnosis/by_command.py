"""The diagnosis as people get it: `sentinel check FILE --target AIM --target RIVAL --json`, called in this process."""

from __future__ import annotations

import contextlib
import io
import json
import tempfile
from collections.abc import Mapping
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from sentinel.cli.app import main


def diagnose(file: str, target: str, rivals: Mapping[str, str], inks: tuple[str, ...]) -> Mapping[str, Any]:
    """The object with `diagnosis` and `answer`; the command tells inks by the file itself. Raises ValueError for no
    JSON."""
    options = [
        "check",
        str(_saved(file)),
        *(part for text in (target, *rivals.values()) for part in ("--target", str(_saved(text)))),
    ]
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        code = main([*options, "--json"])
    lines = out.getvalue().splitlines()
    if len(lines) != 1:
        raise ValueError(f"expected one line of JSON from the command, got {len(lines)} and exit code {code}")
    found: Mapping[str, Any] = json.loads(lines[0])
    return found


@lru_cache(maxsize=1)
def _folder() -> tempfile.TemporaryDirectory[str]:
    return tempfile.TemporaryDirectory(prefix="diagnosis-")


@lru_cache(maxsize=256)
def _saved(text: str) -> Path:
    path = Path(_folder().name) / f"{sha256(text.encode()).hexdigest()[:24]}.txt"
    path.write_text(text, encoding="utf-8")
    return path
