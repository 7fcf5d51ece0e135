"""A drop folder shared by a real smbd, on the loopback of a network of its own, with the lines of systemd/README.md."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.support.process import PATIENCE, eventually

GUIDE = Path(__file__).parents[2] / "systemd" / "README.md"
CONFIG = """\
[global]
server role = standalone
interfaces = lo
bind interfaces only = yes
map to guest = bad user
guest account = nobody
disable spoolss = yes
load printers = no
server min protocol = NT1
client min protocol = NT1
{folders}
[drop]
guest ok = yes
read only = no
{lines}
"""
FOLDERS = ("private dir", "lock directory", "state directory", "cache directory", "pid directory", "ncalrpc dir")
SIZE_FIRST = """\
import sys
from samba.credentials import Credentials
from samba.samba3 import libsmb_samba_internal as libsmb, param

settings, name, source = sys.argv[1:]
context = param.get_context()
context.load(settings)
who = Credentials()
who.guess(context)
who.set_anonymous()
connection = libsmb.Conn("127.0.0.1", "drop", lp=context, creds=who, force_smb1=True)
data = open(source, "rb").read()
handle = connection.create(name, DesiredAccess=0x12019F, CreateDisposition=2)  # read and write; a new file
connection.truncate(handle, len(data))
print("sized", flush=True)
sys.stdin.readline()
connection.write(handle, data, 0)
connection.close(handle)
"""
"""Sets a file's size, and fills it when a line comes. The one call of Samba's own client library that sets a size alone
is of SMB 1; smbd does the same for each version of the protocol."""


def needed() -> None:
    """Skips the test where it cannot be had."""
    if os.geteuid() != 0 or not all(map(shutil.which, ("smbd", "smbclient", "nsenter", "ip"))):
        pytest.skip("needs root, for a network of its own, and Debian's samba, smbclient, util-linux and iproute2")
    if subprocess.run(["unshare", "--net", "true"], check=False, capture_output=True).returncode != 0:
        pytest.skip("no network of its own can be made here")


class Share:
    """The other PC's side of it."""

    def __init__(self, settings: Path, process: subprocess.Popen[bytes]) -> None:
        self.settings = settings
        self._there = ["nsenter", f"--net=/proc/{process.pid}/ns/net"]

    def tried(self, *commands: str) -> subprocess.CompletedProcess[str]:
        """These commands of smbclient(1), one after the other."""
        command = ["smbclient", f"--configfile={self.settings}", "-N", "//127.0.0.1/drop", "-c", ";".join(commands)]
        environ = os.environ | {"LC_ALL": "C.UTF-8"}
        return subprocess.run(
            [*self._there, *command], check=False, capture_output=True, text=True, timeout=PATIENCE, env=environ
        )

    def client(self, *commands: str) -> None:
        done = self.tried(*commands)
        assert done.returncode == 0, done.stdout + done.stderr
        assert "NT_STATUS" not in done.stdout, done.stdout

    @contextmanager
    def size_first(self, name: str, source: Path) -> Iterator[None]:
        """A file of its full size without content in the block, filled and closed at the end of it."""
        command = [*self._there, "/usr/bin/python3", "-c", SIZE_FIRST, str(self.settings), name, str(source)]
        with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdout is not None
            assert writer.stdout.readline() == "sized\n"
            yield
            writer.communicate("\n", timeout=PATIENCE)
        assert writer.returncode == 0


@contextmanager
def shared(drop: Path, own: Path) -> Iterator[Share]:
    """`own` is an empty folder for what smbd keeps."""
    found = re.search(r"(?ms)^ +```\n( +path = .*?)^ +```$", GUIDE.read_text())
    assert found is not None
    lines = found[1].replace("/srv/print-room/drop", str(drop)).replace("print-room", "nogroup")
    assert str(drop) in lines
    folders = ""
    for key in FOLDERS:
        folder = own / key.replace(" ", "-")
        folder.mkdir(parents=True)
        folders += f"{key} = {folder}\n"
    settings = own / "smb.conf"
    settings.write_text(CONFIG.format(folders=f"{folders}log file = {own}/log", lines=lines))
    # a session of its own: smbd ends its whole group with itself
    command = 'ip link set lo up && exec smbd --foreground --no-process-group --configfile="$1"'
    server = subprocess.Popen(["unshare", "--net", "sh", "-c", command, "sh", str(settings)], start_new_session=True)
    try:
        share = Share(settings, server)
        eventually("smbd answers", lambda: share.tried("ls").returncode == 0)
        yield share
    finally:
        server.terminate()
        server.wait(PATIENCE)
