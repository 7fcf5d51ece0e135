"""Whether matplotlib draws under what the unit forbids: pages both writable and executable, and most system calls.

No service manager is needed: the kernel's own switch (prctl PR_SET_MDWE, Linux 6.3, Python's ctypes) stands for
MemoryDenyWriteExecute, and strace answers EPERM to every call that the unit's filter leaves out.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.integration.test_unit_file import run, values

DRAW = """
import ctypes, sys
if ctypes.CDLL(None).prctl(65, 1, 0, 0, 0) != 0:  # older kernels have no such switch
    sys.stderr.write("no MDWE")
from sentinel.render.notices import sample_documents
from sentinel.render.plots import picture
_, facts = sample_documents()["confirm-failure"]["a first failure"]
sys.stdout.buffer.write(picture(facts))
"""


def calls(group: str) -> set[str]:
    """The system calls of a group as systemd has it, its groups within laid open."""
    lines = (line.strip() for line in run("systemd-analyze", "syscall-filter", group).stdout.splitlines()[1:])
    names = {line for line in lines if line and not line.startswith("#")}
    return {call for name in names for call in (calls(name) if name.startswith("@") else {name})}


def test_a_picture_is_drawn_without_the_calls_that_the_unit_forbids(tmp_path: Path) -> None:
    assert values("SystemCallFilter") == ["@system-service", "~@privileged @resources"]
    assert values("MemoryDenyWriteExecute") == ["yes"]
    assert values("SystemCallErrorNumber") == ["EPERM"]
    forbidden = calls("@known") - (calls("@system-service") - calls("@privileged") - calls("@resources"))
    assert {"mount", "mbind"} <= forbidden
    answered = f"inject={','.join(f'?{call}' for call in sorted(forbidden))}:error=EPERM"
    drawn = subprocess.run(
        ["strace", "-f", "-qq", "-o", tmp_path / "trace", "-e", answered, sys.executable, "-c", DRAW],
        capture_output=True,
        timeout=120,
        check=False,
        env=os.environ | {"HOME": "/nowhere", "MPLCONFIGDIR": str(tmp_path / "cache")},
    )
    assert drawn.stdout.startswith(b"\x89PNG"), drawn.stderr
    assert drawn.stderr in (b"", b"no MDWE")


def test_the_unit_gives_the_picture_library_a_folder_it_may_write() -> None:
    """Else it looks through all fonts at each start, and says so in the journal."""
    assert values("CacheDirectory") == ["sentinel"]
    assert "MPLCONFIGDIR=/var/cache/sentinel/matplotlib" in values("Environment")
