"""The Debian package through a whole life, with the real dpkg in a root of its own: see `tests/support/clean_root.py`.

What systemd itself would do is seen by the calls that come to a stand-in for systemctl.
"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from tests.installation.test_wheel import plain
from tests.support import cgats
from tests.support.amount import LONG
from tests.support.clean_root import CleanRoot, clean_root, needed

HERE = Path(__file__).resolve().parents[2]
SCRIPTS = sorted(
    path for path in (HERE / "systemd").rglob("*") if path.is_file() and path.read_bytes()[:9] == b"#!/bin/sh"
)
NAME = "print-room-sentinel"
SETTINGS = """\
[folders]
drop = ["/srv/print-room/drop"]
archive = "/var/lib/sentinel/archive"
put_aside = "/srv/print-room/put-aside"
quiet_seconds = 0.2
[store]
path = "/var/lib/sentinel/sentinel.db"
[targets.house]
file = "/etc/sentinel/targets/house.txt"
colour_path = "ink-space"
[printers.north]
[substrates.satin-240]
[conditions."north/satin-240"]
targets = ["house"]
"""
AS_THE_SERVICE = "runuser -u sentinel -- env SENTINEL_CONFIG=/etc/sentinel/sentinel.toml /opt/sentinel/bin/sentinel"
SYSTEMCTL = """\
#!/bin/sh
echo "$*" >>/systemctl.log
case "$*" in *is-active*) test -e /it-runs ;; esac
"""
SYSTEMD_RUN = """\
#!/bin/sh
printf '%s\\n' "$@"
"""
NEWER = """\
import sqlite3

store = sqlite3.connect("/var/lib/sentinel/sentinel.db")
store.execute("UPDATE alembic_version SET version_num = '9999'")
store.commit()
"""


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_a_shell_can_read_every_script(script: Path) -> None:
    subprocess.run(["sh", "-n", script], check=True)


def test_the_scripts_of_the_package_are_found() -> None:
    names = {path.name for path in SCRIPTS}
    assert {"install", "environment", "wheels", "package", "preinst", "postinst", "prerm", "postrm"} <= names


def built(folder: Path) -> Path:
    """As the guide says, but for the time that goes into making it small."""
    environ = plain(DPKG_DEB_COMPRESSOR_TYPE="none")
    done = subprocess.run([HERE / "systemd/package", folder], capture_output=True, text=True, check=False, env=environ)
    assert done.returncode == 0, done.stdout + done.stderr
    [package] = folder.iterdir()
    assert re.match(rf"{re.escape(str(package))}: \d+ MB, \d+ MB installed, for Debian", done.stdout)
    return package


def field(package: Path, name: str) -> str:
    return subprocess.run(["dpkg-deb", "-f", package, name], capture_output=True, text=True, check=True).stdout.strip()


def next_version(package: Path, folder: Path) -> Path:
    """The same with another version, one file more and one less."""
    tree = folder / "tree"
    subprocess.run(["dpkg-deb", "--raw-extract", package, tree], check=True)
    control = tree / "DEBIAN/control"
    control.write_text(re.sub(r"(?m)^Version: .*$", "Version: 9.0", control.read_text()))
    (tree / "opt/sentinel/newer").touch()
    (tree / f"usr/share/doc/{NAME}/README.md").unlink()
    newer = folder / "newer.deb"
    subprocess.run(
        ["dpkg-deb", "--root-owner-group", "-Znone", "--build", tree, newer], check=True, capture_output=True
    )
    return newer


def calls(root: CleanRoot) -> list[str]:
    """What came to systemctl since this was last asked."""
    return root("cat /systemctl.log 2>/dev/null || true; rm -f /systemctl.log").splitlines()


@pytest.mark.skipif(not LONG, reason="builds a package of every library: tests/run --long")
def test_the_package_is_installed_used_upgraded_taken_back_removed_and_purged(tmp_path: Path) -> None:
    needed()
    package = built(tmp_path / "built")
    minor = re.search(r"\d+\.\d+", str(Path("/usr/bin/python3").readlink()))
    assert minor is not None
    assert field(package, "Depends").startswith(f"python{minor[0]}, libc6 (>= 2.")
    newer = next_version(package, tmp_path)
    (tmp_path / "clean").mkdir()
    with clean_root(tmp_path / "clean") as root:
        root.take(package)
        root.take(newer)
        _refuses_beside_another(root, package.name)
        _installed(root, package.name)
        _works(root)
        _upgraded_and_back(root, newer.name, package.name)
        _removed_and_purged(root, package.name)


def _refuses_beside_another(root: CleanRoot, package: str) -> None:
    """What systemd/install put there is neither written through nor hidden."""
    root("mkdir -p /opt/sentinel-1 && ln -s sentinel-1 /opt/sentinel")
    done = root.tried(f"dpkg --install /{package}")
    assert done.returncode != 0
    assert "this PC has a sentinel that systemd/install put there" in done.stderr
    assert root("ls /opt/sentinel-1") == ""
    root(f"rm -r /opt/sentinel /opt/sentinel-1; dpkg --purge {NAME}")


def _installed(root: CleanRoot, package: str) -> None:
    root.write("/stand-in/systemctl", SYSTEMCTL, 0o755)
    root("mkdir -p /run/systemd/system")
    said = root(f"dpkg --install /{package}")
    assert "write /etc/sentinel/sentinel.toml, then: systemctl enable --now sentinel" in said
    assert calls(root) == ["daemon-reload"]  # neither switched on nor started: it has no settings
    assert root(f"dpkg --status {NAME} | grep ^Status") == "Status: install ok installed\n"
    assert root(f"dpkg --verify {NAME}") == ""
    assert root("id -nG sentinel") == "sentinel print-room\n"
    modes = root("stat -c '%a %U %G %n' /etc/sentinel/credentials /var/lib/sentinel /srv/print-room/*").splitlines()
    assert modes == [
        "700 root root /etc/sentinel/credentials",
        "750 sentinel sentinel /var/lib/sentinel",
        "2770 root print-room /srv/print-room/drop",
        "2750 sentinel print-room /srv/print-room/put-aside",
    ]
    assert root("/opt/sentinel/bin/sentinel --version").startswith("sentinel ")
    assert root("head -1 /opt/sentinel/bin/sentinel").startswith("#!/opt/sentinel/bin/python")
    assert root("ls /usr/share/man/man1/sentinel-check.1.gz /usr/share/bash-completion/completions/sentinel")
    root.write("/stand-in/systemd-run", SYSTEMD_RUN, 0o755)
    asked = root("/usr/sbin/sentinel status").splitlines()
    assert {"--property=User=sentinel", "--property=ProtectSystem=strict"} <= set(asked)  # of the unit of the package
    assert asked[-2:] == ["/opt/sentinel/bin/sentinel", "status"]
    shown = root("/opt/sentinel/bin/python -c 'import sentinel, numpy; print(sentinel.__file__, numpy.__file__)'")
    assert all(path.startswith("/opt/sentinel/lib/") for path in shown.split())


def _works(root: CleanRoot) -> None:
    root.write("/etc/sentinel/sentinel.toml", SETTINGS)
    root.write("/etc/sentinel/targets/house.txt", cgats.text())
    root.write("/etc/sentinel/credentials/colour-team", "json://127.0.0.1/\n", 0o600)
    assert "1 printing condition" in root(f"{AS_THE_SERVICE} config check")
    target = "/etc/sentinel/targets/house.txt"
    assert ": pass" in root(f"{AS_THE_SERVICE} check {target} --target {target}")
    root.write("/srv/print-room/drop/north/satin-240/sheet.txt", cgats.text(cgats.FAILING), 0o660)
    root("chown -R :print-room /srv/print-room/drop/north && chmod -R g+w /srv/print-room/drop/north")
    root(f"{AS_THE_SERVICE} run --once")
    assert root(f"{AS_THE_SERVICE} checks --json").count('"fail"') >= 1
    root.write("/srv/print-room/drop/north/satin-240/waits.part", "half")


def _kept(root: CleanRoot) -> str:
    """The hashes of all that is a person's or was measured."""
    return root(
        "find /etc/sentinel /var/lib/sentinel/sentinel.db /var/lib/sentinel/archive /srv/print-room -type f"
        " | sort | xargs sha256sum"
    )


def _upgraded_and_back(root: CleanRoot, newer: str, older: str) -> None:
    before = _kept(root)
    root("touch /it-runs")
    calls(root)
    root(f"dpkg --install /{newer}")
    assert calls(root) == [
        "--quiet is-active sentinel.service",
        "stop sentinel.service sentinel-again.timer",
        "daemon-reload",  # of what is removed
        "daemon-reload",
        "start sentinel.service",
    ]
    assert _kept(root) == before
    assert root(f"ls /opt/sentinel/newer; test ! -e /usr/share/doc/{NAME}/README.md && echo gone").endswith("gone\n")
    assert root(f"{AS_THE_SERVICE} checks --json").count('"fail"') >= 1
    root("rm /it-runs")
    root(f"dpkg --install /{older}")  # dpkg warns of it
    assert "start sentinel.service" not in calls(root)  # it did not run
    assert _kept(root) == before
    assert root.tried("ls /opt/sentinel/newer").returncode != 0
    _refuses_the_store_of_a_newer_program(root)


def _refuses_the_store_of_a_newer_program(root: CleanRoot) -> None:
    """As after going back to a program that does not know the tables of the one before."""
    root("cp -a /var/lib/sentinel/sentinel.db /saved.db")
    root.write("/newer.py", NEWER)
    root("python3 /newer.py; rm /newer.py")
    done = root.tried(f"{AS_THE_SERVICE} run --once")
    assert (done.returncode, "9999 of a newer program" in done.stderr) == (5, True)
    root("rm -f /var/lib/sentinel/sentinel.db-*; cp -a /saved.db /var/lib/sentinel/sentinel.db; rm /saved.db")


def _removed_and_purged(root: CleanRoot, package: str) -> None:
    before = _kept(root)
    root(f"dpkg --remove {NAME}")
    assert calls(root) == ["--quiet disable --now sentinel.service sentinel-again.timer", "daemon-reload"]
    assert _kept(root) == before
    assert (
        root("ls -d /opt/sentinel /usr/sbin/sentinel /usr/lib/systemd/system/sentinel.service 2>/dev/null || true")
        == ""
    )
    root(f"dpkg --install /{package}")
    assert _kept(root) == before
    said = root(f"dpkg --purge {NAME}")
    assert "left are /var/lib/sentinel, /srv/print-room" in said
    gone = ("/etc/sentinel/sentinel.toml", "/etc/sentinel/credentials/colour-team")
    lines = before.splitlines(keepends=True)
    assert _kept(root) == "".join(line for line in lines if not line.rstrip("\n").endswith(gone))
    assert root("id -u sentinel").strip().isdecimal()
    assert root(f"dpkg --status {NAME} 2>/dev/null || echo unknown").endswith("unknown\n")
