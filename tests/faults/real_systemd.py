"""The units under a real systemd, as PID 1 of a container. As root: python -m tests.faults.real_systemd FOLDER

Needs Debian's debootstrap and systemd-container, and a mirror. In FOLDER (some 1 GB, kept, so that a second run is
quick) stands a Debian 12 with systemd; the program comes into it from this interpreter's packages, the rest by the
steps of systemd/install that need no network. Its service manager is asked through nsenter. A web server here is the
recipient. Each step prints what was seen, and the run ends with 1 where one did not hold.

Not in the suite: it boots a machine and waits for minutes. Where the host has cgroups of version 1, as older kernels'
machines do, MemoryMax= is that of version 1, and a death by it is told as a signal.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import sysconfig
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from tests.support import cgats

HERE = Path(__file__).resolve().parents[2]
PACKAGES = "systemd,systemd-sysv,dbus,python3,python3-venv,acl,ca-certificates,procps"
PATH = "PATH=/usr/local/sbin:/usr/sbin:/usr/bin"
UNITS = ("sentinel.service", "sentinel-telltale.service", "sentinel-again.service", "sentinel-again.timer")
SETTINGS = """\
[folders]
drop = ["/srv/print-room/drop"]
archive = "/var/lib/sentinel/archive"
put_aside = "/srv/print-room/put-aside"
quiet_seconds = 0.5
scan_seconds = 5.0
[store]
path = "/var/lib/sentinel/sentinel.db"
[recipients.colour-team]
url_credential = "recipient_colour-team"
[targets.house]
file = "/etc/sentinel/targets/house.txt"
colour_path = "ink-space"
[printers.north]
[substrates.satin-240]
[conditions."north/satin-240"]
targets = ["house"]
"""
PROGRAM = """\
#!/usr/bin/python3
import sys
sys.path.insert(0, "/opt/sentinel/packages")
from sentinel.cli.app import main
sys.exit(main())
"""
# What a restart must not wait for in a run of some minutes, and a loop's end: the rest is the unit as it is.
HURRY = "[Unit]\nStartLimitBurst=4\n[Service]\nRestartSec=1s\n"


class Recipient:
    """A web server that keeps what came."""

    def __init__(self) -> None:
        self.titles: list[str] = []
        recipient = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                data = self.rfile.read(int(self.headers["Content-Length"]))
                said = json.loads(data)
                recipient.titles.append(f"{said['title']} | {said['message'][:400]}")
                self.send_response(200)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *_: object) -> None:
                """Nothing is printed."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"json://127.0.0.1:{self._server.server_address[1]}/"
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def heard(self, text: str) -> bool:
        return any(text in title for title in self.titles)


class Machine:
    """The container."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._process: subprocess.Popen[bytes] | None = None
        self._leader = 0

    def furnish(self, url: str) -> None:
        if not (self.root / "usr/bin/systemctl").exists():
            mirror = "http://deb.debian.org/debian"
            command = ["debootstrap", "--variant=minbase", f"--include={PACKAGES}", "bookworm", str(self.root), mirror]
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        own = self.root / "opt/sentinel"
        shutil.rmtree(own, ignore_errors=True)
        (own / "bin").mkdir(parents=True)
        shutil.copytree(sysconfig.get_path("purelib"), own / "packages", ignore=shutil.ignore_patterns("__editable__*"))
        shutil.copytree(HERE / "sentinel", own / "packages/sentinel")
        program = own / "bin/sentinel"
        program.write_text(PROGRAM)
        program.chmod(0o755)
        for unit in UNITS:
            shutil.copy(HERE / "systemd" / unit, self.root / "etc/systemd/system" / unit)
        drop_in = self.root / "etc/systemd/system/sentinel.service.d/hurry.conf"
        drop_in.parent.mkdir(exist_ok=True)
        drop_in.write_text(HURRY)
        (self.root / "etc/sysusers.d").mkdir(exist_ok=True)
        (self.root / "etc/tmpfiles.d").mkdir(exist_ok=True)
        shutil.copy(HERE / "systemd/sentinel.sysusers", self.root / "etc/sysusers.d/sentinel.conf")
        shutil.copy(HERE / "systemd/sentinel.tmpfiles", self.root / "etc/tmpfiles.d/sentinel.conf")
        command_for_root = self.root / "usr/local/sbin/sentinel"
        shutil.copy(HERE / "systemd/sentinel-command", command_for_root)
        command_for_root.chmod(0o755)
        for gone in ("var/lib/sentinel", "srv/print-room", "etc/sentinel"):
            shutil.rmtree(self.root / gone, ignore_errors=True)
        (self.root / "etc/sentinel/credentials").mkdir(parents=True, mode=0o700)
        (self.root / "etc/sentinel/targets").mkdir()
        self.settings.write_text(SETTINGS)
        (self.root / "etc/sentinel/targets/house.txt").write_text(cgats.text())
        credential = self.root / "etc/sentinel/credentials/colour-team"
        credential.write_text(url)
        credential.chmod(0o600)

    @property
    def settings(self) -> Path:
        return self.root / "etc/sentinel/sentinel.toml"

    def boot(self) -> None:
        command = ["systemd-nspawn", "--quiet", "--register=no", "--keep-unit", "--directory", str(self.root), "--boot"]
        self._process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        wait(lambda: bool(self._children(self._process.pid)), 60)  # type: ignore[union-attr]
        self._leader = self._children(self._process.pid)[0]
        wait(lambda: self.ask("systemctl", "is-system-running") in ("running", "degraded"), 120)

    def _children(self, pid: int) -> list[int]:
        listed = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
        return [int(child) for child in listed]

    def run(self, *words: str) -> subprocess.CompletedProcess[str]:
        command = [
            "nsenter",
            "--target",
            str(self._leader),
            "--all",
            "env",
            "-i",
            "PATH=/usr/local/sbin:/usr/sbin:/usr/bin",
            *words,
        ]
        return subprocess.run(command, check=False, capture_output=True, text=True, timeout=300)

    def ask(self, *words: str) -> str:
        done = self.run(*words)
        return done.stdout.strip() or done.stderr.strip()

    def shows(self, what: str, unit: str = "sentinel.service") -> str:
        return self.ask("systemctl", "show", "--value", "--property", what, unit)

    def stop(self) -> None:
        if self._process is not None:
            with suppress(subprocess.TimeoutExpired):
                self.run("systemctl", "--no-block", "poweroff")
                self._process.wait(60)
            if self._process.poll() is None:
                self._process.terminate()


def wait(holds: Callable[[], bool], seconds: float = 120.0) -> bool:
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        with suppress(OSError, subprocess.TimeoutExpired):
            if holds():
                return True
        time.sleep(0.5)
    return False


def main(arguments: list[str]) -> int:
    machine, recipient = Machine(Path(arguments[0])), Recipient()
    machine.furnish(recipient.url)
    machine.boot()
    seen: list[tuple[str, bool]] = []

    def step(what: str, holds: bool, more: str = "") -> None:
        seen.append((what, holds))
        sys.stdout.write(f"{'yes' if holds else 'NO '}  {what}{f' ({more})' if more else ''}\n")
        sys.stdout.flush()

    try:
        _steps(machine, recipient, step)
    finally:
        machine.stop()
    return 0 if all(holds for _, holds in seen) else 1


def _steps(machine: Machine, recipient: Recipient, step: Callable[..., None]) -> None:
    step(
        "systemd is PID 1", machine.ask("cat", "/proc/1/comm") == "systemd", machine.ask("systemctl", "--version")[:11]
    )
    machine.run("systemctl", "start", "sentinel")
    step("it starts", wait(lambda: machine.shows("ActiveState") == "active"), machine.shows("StatusText"))
    step("root's command runs under its sandbox", machine.run("sentinel", "config", "check").returncode == 0)
    drop = machine.root / "srv/print-room/drop/north/satin-240"
    drop.mkdir(parents=True)
    (drop / "sheet.txt").write_text(cgats.text(cgats.GOOD))
    step("a file is taken", wait(lambda: not (drop / "sheet.txt").exists()))
    step("and recorded", wait(lambda: "pass" in machine.ask("sentinel", "checks"), 60))

    before = machine.shows("MainPID")
    machine.run("systemctl", "kill", "--kill-who=main", "--signal=SIGKILL", "sentinel")
    again = wait(lambda: machine.shows("ActiveState") == "active" and machine.shows("MainPID") not in (before, "0"))
    step("killed, it is back by itself", again)

    good = machine.settings.read_text()
    machine.settings.write_text(good[: len(good) // 2])
    machine.run("systemctl", "restart", "sentinel")
    step("it starts on the last good settings", machine.shows("ActiveState") == "active", machine.shows("StatusText"))
    step("and tells it", wait(lambda: recipient.heard("settings refused at the start")))
    machine.settings.write_text(good)
    step("and takes the mended ones", wait(lambda: "refused" not in machine.shows("StatusText")))

    _exhaust(machine, step)
    told = len(recipient.titles)
    machine.run("systemctl", "reset-failed", "sentinel")
    machine.run("systemctl", "restart", "sentinel")
    for _ in range(6):
        wait(lambda: machine.shows("MainPID") != "0" or machine.shows("ActiveState") == "failed", 30)
        machine.run("systemctl", "kill", "--kill-who=main", "--signal=SIGSEGV", "sentinel")
        time.sleep(2)
    step("a loop of crashes ends in a failure", wait(lambda: machine.shows("ActiveState") == "failed"))
    step("that is told", wait(lambda: any("the watch has stopped" in each for each in recipient.titles[told:])),
         next((each for each in recipient.titles[told:] if "stopped" in each), "")[:200])  # fmt: skip
    timer = machine.shows("ActiveState", "sentinel-again.timer")
    step("and tried again later", timer == "active", timer)
    machine.run("systemctl", "start", "sentinel-again.service")
    step("by a unit that starts it again", wait(lambda: machine.shows("ActiveState") == "active"))

    machine.run("systemctl", "stop", "sentinel")
    for copy in (machine.root / "var/lib/sentinel").glob("settings-in-force-*"):
        copy.unlink()
    (machine.root / "var/lib/sentinel/told-stopped.json").unlink(missing_ok=True)
    machine.settings.write_text(good[:100])
    machine.run("systemctl", "start", "sentinel")
    step("refused with no good copy, it fails at once", machine.shows("ActiveState") == "failed",
         f"{machine.shows('Result')} {machine.shows('ExecMainStatus')}")  # fmt: skip
    nobody = wait(lambda: machine.shows("ExecMainStatus", "sentinel-telltale") == "2")
    log = machine.ask("journalctl", "--no-pager", "--unit", "sentinel-telltale")
    step("the tell-tale says that nobody is known", nobody, log[-120:])
    machine.settings.write_text(good)


def _exhaust(machine: Machine, step: Callable[..., None]) -> None:
    """Leaves the service less memory than it needs: it is ended, and starts again once it has more."""
    less = machine.root / "etc/systemd/system/sentinel.service.d/less.conf"
    less.write_text("[Service]\nMemoryHigh=infinity\nMemoryMax=24M\n")
    machine.run("systemctl", "daemon-reload")
    machine.run("systemctl", "restart", "sentinel")
    ended = wait(lambda: machine.shows("NRestarts") != "0" or machine.shows("ActiveState") == "failed", 60)
    step("out of memory, it is ended", ended, machine.ask("journalctl", "--no-pager", "--unit=sentinel", "-n3")[-200:])
    less.unlink()
    machine.run("systemctl", "daemon-reload")
    machine.run("systemctl", "reset-failed", "sentinel")
    machine.run("systemctl", "start", "sentinel")
    step("and starts again", wait(lambda: machine.shows("ActiveState") == "active"))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
