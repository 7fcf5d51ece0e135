"""A service killed at the narrow places and at any moment: the counts of tests/faults/kills.py, run by itself.

By hand, at full size: `python -m tests.faults.kills 1000`.
"""

from __future__ import annotations

import subprocess
import sys

from tests.support.amount import amount


def test_a_service_killed_at_narrow_places_loses_and_doubles_nothing() -> None:
    kills = amount(2, long=24, by_hand="SENTINEL_FAULT_KILLS")
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.kills", str(kills)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{done.stdout}\n{done.stderr}"
    assert f"{kills} kills" in done.stdout
    assert ": 0 lost, 0 twice" in done.stdout
