"""A system's root that may be changed at will, of own mounts and processes and without a network, over one that stays.

The root below is this machine's own, or, with the environment variable SENTINEL_CLEAN_ROOT, one of debootstrap's.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

BELOW = os.environ.get("SENTINEL_CLEAN_ROOT", "/")
MADE = """\
set -e
mount -t tmpfs tmpfs "$2"
mkdir "$2/upper" "$2/work" "$2/root"
mount -t overlay overlay -o "lowerdir=$1,upperdir=$2/upper,workdir=$2/work" "$2/root"
mount --rbind /dev "$2/root/dev"
mount -t proc proc "$2/root/proc"
mount -t tmpfs tmpfs "$2/root/run"
echo made
read -r end || true
"""


class CleanRoot:
    def __init__(self, root: Path, process: int) -> None:
        self._root = root
        self._within = ["nsenter", f"--target={process}", "--mount", "--pid", "--net", "chroot", str(root)]

    def tried(self, script: str) -> subprocess.CompletedProcess[str]:
        """What a shell in it says, as root."""
        environ = {"PATH": "/stand-in:/usr/sbin:/usr/bin:/sbin:/bin", "LC_ALL": "C.UTF-8", "HOME": "/root"}
        command = [*self._within, "sh", "-c", script]
        return subprocess.run(command, capture_output=True, text=True, check=False, env=environ, timeout=300)

    def __call__(self, script: str) -> str:
        """The same, where it must go well."""
        done = self.tried(f"set -e\n{script}")
        assert done.returncode == 0, f"{script}: {done.stdout}{done.stderr}"
        return done.stdout

    def write(self, path: str, text: str, mode: int = 0o644) -> None:
        command = [*self._within, "sh", "-c", f'mkdir -p "$(dirname {path})" && cat >{path} && chmod {mode:o} {path}']
        subprocess.run(command, input=text, text=True, check=True)

    def take(self, file: Path) -> None:
        """A copy of the file, or of a whole folder, at its root."""
        outside = self._within[: self._within.index("chroot")]
        subprocess.run([*outside, "cp", "-r", file, self._root / file.name], check=True)


def needed() -> None:
    """Skips the test where it cannot be had."""
    tools = ("unshare", "nsenter", "chroot", "dpkg", "dpkg-deb", "systemd-sysusers", "runuser")
    if os.geteuid() != 0 or not all(map(shutil.which, tools)):
        pytest.skip(f"needs root and {', '.join(tools)}")


@contextmanager
def clean_root(work: Path) -> Iterator[CleanRoot]:
    """Over it lies memory, mounted on the folder `work`; all of it is gone at the end."""
    namespaces = ["unshare", "--mount", "--pid", "--net", "--fork", "--kill-child"]
    holder = subprocess.Popen(
        [*namespaces, "sh", "-c", MADE, "sh", BELOW, str(work)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert holder.stdout is not None
        if holder.stdout.readline() != "made\n":
            pytest.skip("no overlay of its own can be mounted here")
        children = Path(f"/proc/{holder.pid}/task/{holder.pid}/children").read_text().split()
        yield CleanRoot(work / "root", int(children[0]))
    finally:
        holder.communicate("end\n", timeout=60)
