"""The demo is the main job, visible: it must end well by itself and leave nothing behind."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_story_goes_as_told_and_leaves_nothing_behind(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "demo"],
        cwd=ROOT,
        env={**os.environ, "TMPDIR": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    assert "Everything happened as expected." in done.stdout
    assert list(tmp_path.iterdir()) == []
