"""The wheel holds all that the program needs, and a folder of wheels installs it without a network."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.amount import LONG
from tests.support.clean_root import clean_root, needed
from tests.support.room import Room

HERE = Path(__file__).resolve().parents[2]
NEEDED_AT_WORK = (".py", ".po", ".typed")


def plain(**more: str) -> dict[str, str]:
    """The environment without what would show the program of this tree, or packages of this machine."""
    own = ("PYTHON", "PIP_", "VIRTUAL_ENV", "SENTINEL")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(own)}
    return kept | {"PIP_CONFIG_FILE": os.devnull} | more


def run(*command: str | Path, **environ: str) -> str:
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd="/", env=plain(**environ))
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def does_its_work(room: Room, *program: str | Path, **environ: str) -> None:
    """Its version, its settings, a sheet against a target, and a round of the service."""
    assert run(*program, "--version", **environ).startswith("sentinel ")
    assert "4 printing conditions" in run(*program, "--config", room.config, "config", "check", **environ)
    target = room.folder / "targets/house.txt"
    assert "pass" in run(*program, "check", target, "--target", target, **environ)
    room.put("north/satin-240/sheet.txt", cgats.text())
    run(*program, "--config", room.config, "run", "--once", **environ)
    assert "north/satin-240" in run(*program, "--config", room.config, "status", **environ)
    assert room.dropped() == []


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """What the program is built from, so that nothing is written into the tree."""
    copy = tmp_path / "source"
    shutil.copytree(HERE / "sentinel", copy / "sentinel", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(HERE / name, copy / name)
    return copy


def test_the_wheel_holds_all_that_the_program_needs(source: Path, room: Room, tmp_path: Path) -> None:
    room.configure(extra='[notices]\nlanguage = "fr"\n')
    pip = (sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--no-index")
    run(*pip, "--wheel-dir", tmp_path / "wheels", source)
    [wheel] = (tmp_path / "wheels").iterdir()
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path / "unpacked")
    tree = HERE / "sentinel"
    needed = {path.relative_to(HERE).as_posix() for path in tree.rglob("*") if path.suffix in NEEDED_AT_WORK}
    there = {path.relative_to(tmp_path / "unpacked").as_posix() for path in (tmp_path / "unpacked").rglob("*")}
    assert needed - there == set()
    unpacked = str(tmp_path / "unpacked")
    whose = "import sentinel; print(sentinel.__file__)"
    assert unpacked in run(sys.executable, "-c", whose, PYTHONPATH=unpacked)
    does_its_work(room, sys.executable, "-m", "sentinel", PYTHONPATH=unpacked)


def test_nothing_is_read_beside_the_programs_own_kinds_of_files() -> None:
    """Tables are Python, words are catalogues; any other kind of file would have to be told to the wheel."""
    others = {
        path.suffix for path in (HERE / "sentinel").rglob("*") if path.is_file() and "__pycache__" not in path.parts
    }
    assert others - set(NEEDED_AT_WORK) == {".md", ".mako"}  # for people, and for whoever writes a migration


@pytest.mark.skipif(not LONG, reason="fetches and installs every package: tests/run --long")
def test_a_folder_of_wheels_installs_the_program_without_a_network(room: Room, tmp_path: Path) -> None:
    wheels, plainly = tmp_path / "wheels", tmp_path / "plainly"
    assert f"wheels in {wheels}" in run(HERE / "systemd/wheels", wheels)
    offline = [] if os.geteuid() else ["unshare", "--net"]
    run("/usr/bin/python3", "-m", "venv", plainly)
    asked = ("-m", "pip", "install", "--quiet", "--no-index", "--find-links", wheels, "print-room-sentinel")
    run(*offline, plainly / "bin/python", *asked)
    does_its_work(room, plainly / "bin/sentinel")
    _the_service_is_installed_from_it(wheels, tmp_path)


def _the_service_is_installed_from_it(wheels: Path, folder: Path) -> None:
    """By systemd/install, in a root of its own without a network."""
    needed()
    tree = folder / "tree"
    for part in ("systemd", "sentinel", ".ci"):
        shutil.copytree(HERE / part, tree / part, ignore=shutil.ignore_patterns("__pycache__"))
    for part in ("pyproject.toml", "README.md"):
        shutil.copy(HERE / part, tree / part)
    (folder / "clean").mkdir()
    with clean_root(folder / "clean") as root:
        root.take(tree)
        root.take(wheels)
        root.write("/stand-in/systemctl", "#!/bin/sh\n", 0o755)
        said = root("/tree/systemd/install --wheels /wheels")
        assert "/opt/sentinel points at it." in said
        assert root("/opt/sentinel/bin/sentinel --version").startswith("sentinel ")
        assert root("readlink /opt/sentinel").startswith("/opt/sentinel-20")
        root("ls /etc/systemd/system/sentinel.service /usr/local/share/man/man1/sentinel-check.1")
        root("ls /usr/local/share/bash-completion/completions/sentinel /usr/local/share/zsh/site-functions/_sentinel")
        assert root("stat -c '%a %G' /srv/print-room/drop") == "2770 print-room\n"
