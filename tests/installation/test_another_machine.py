"""The guide's way to another PC, and back from a nightly backup: its own commands, between two roots."""

from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path
from unittest import mock

import pytest

from tests.support import cgats
from tests.support.command import SENTINEL, Done, sentinel

GUIDE = (Path(__file__).parents[2] / "systemd" / "README.md").read_text()
SETTINGS = """\
[folders]
drop = ["../../srv/print-room/drop"]
archive = "../../var/lib/sentinel/archive"
put_aside = "../../srv/print-room/put-aside"
quiet_seconds = 0.2
[store]
path = "../../var/lib/sentinel/sentinel.db"
[recipients.team]
url_credential = "recipient_team"
[targets.house]
file = "targets/house.txt"
colour_path = "ink-space"
[printers.north]
[substrates.satin-240]
[conditions."north/satin-240"]
targets = ["house"]
"""
SHEET = "srv/print-room/drop/north/satin-240"


def commands(mark: str) -> list[str]:
    """The two blocks of commands after a mark of the guide: on the old PC, on the new one."""
    found = re.findall(r"(?ms)^```sh\n(.*?)^```$", GUIDE.partition(f"<!-- {mark}: ")[2])
    assert len(found) >= 2
    return found[:2]


class Machine:
    """A root of its own: what is installed there, with a stand-in for systemctl."""

    def __init__(self, root: Path) -> None:
        self.root = root
        for folder in ("etc/sentinel/targets", "etc/sentinel/credentials", "var/lib/sentinel", SHEET, "bin"):
            (root / folder).mkdir(parents=True)
        (root / "srv/print-room/put-aside").mkdir()
        self.stand_in("systemctl", 'echo "systemctl $*"')
        self.stand_in("sentinel", f'exec {SENTINEL} --config {self.settings} "$@"')

    @property
    def settings(self) -> Path:
        return self.root / "etc/sentinel/sentinel.toml"

    def stand_in(self, name: str, text: str) -> None:
        path = self.root / "bin" / name
        path.write_text(f"#!/bin/sh\n{text}\n")
        path.chmod(0o755)

    def settled(self) -> Machine:
        self.settings.write_text(SETTINGS)
        (self.root / "etc/sentinel/targets/house.txt").write_text(cgats.text())
        credential = self.root / "etc/sentinel/credentials/recipient_team"
        credential.write_text("json://127.0.0.1:9/never-answers\n")
        credential.chmod(0o600)
        return self

    def types(self, block: str, carried: Path) -> str:
        """What the guide's commands say when its places are those of this root."""
        for place in ("/root/sentinel.tar.gz", "/mnt/elsewhere/sentinel.tar.gz"):
            block = block.replace(place, str(carried))
        block = block.replace("-C / ", f"-C {self.root} ")
        environ = os.environ | self.environ() | {"PATH": f"{self.root}/bin:{os.environ['PATH']}"}
        done = subprocess.run(["sh", "-ec", block], capture_output=True, text=True, check=False, env=environ)
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def environ(self) -> dict[str, str]:
        state = self.root / "var/lib/sentinel"
        return {"CREDENTIALS_DIRECTORY": f"{self.root}/etc/sentinel/credentials", "STATE_DIRECTORY": str(state)}

    def asks(self, *words: str) -> Done:
        with mock.patch.dict(os.environ, self.environ()):
            return sentinel("--config", self.settings, *words)

    def drops(self, name: str, text: str) -> None:
        (self.root / SHEET / name).write_text(text)

    def works(self) -> None:
        done = self.asks("run", "--once")
        assert done.code in (0, 1), done.err  # nobody takes the notices

    def records(self) -> list[str]:
        """All that commands tell of what is on record."""
        asked = ("checks", "cases", "event list", "notify list", "status")
        told = [self.asks(*words.split(), "--json").out for words in asked]
        return [re.sub(r'"generated_at": "[^"]*"', "", each) for each in told]


@pytest.fixture
def old(tmp_path: Path) -> Machine:
    """A PC with two checks, an open case with a notice that nobody took, an event, and a file that waits."""
    machine = Machine(tmp_path / "old").settled()
    machine.drops("monday.txt", cgats.text())
    machine.works()
    assert machine.asks("event", "add", "nozzle-check", "--printer", "north", "--by", "Ana").code == 0
    machine.drops("tuesday.txt", cgats.text(cgats.FAILING))
    machine.works()
    assert len(machine.asks("cases", "--json").lines()) == 1
    machine.drops("half.part", "not yet whole")
    return machine


def test_all_that_is_on_record_goes_along_to_another_pc(old: Machine, tmp_path: Path) -> None:
    leave, arrive = commands("move")
    before, carried = old.records(), tmp_path / "carried.tar.gz"
    assert "systemctl disable --now sentinel" in old.types(leave, carried)
    new = Machine(tmp_path / "new")
    said = new.types(arrive, carried)
    assert "store: sound" in said
    assert said.endswith("systemctl enable --now sentinel\n")
    assert new.records() == before
    earlier = {check["check"] for check in new.asks("checks", "--json").lines()}
    new.drops("wednesday.txt", cgats.text(cgats.FAILING).replace("\n", "\r\n"))
    new.works()
    numbers = {check["check"] for check in new.asks("checks", "--json").lines()}
    assert numbers > earlier
    assert max(numbers) not in earlier
    assert len(new.asks("cases", "--json").lines()) == 1  # the same goes on
    assert (new.root / SHEET / "half.part").is_file()


def test_a_backup_from_elsewhere_becomes_a_service_again(old: Machine, tmp_path: Path) -> None:
    copy, restore = commands("backup")
    carried = tmp_path / "carried.tar.gz"
    before = len(old.asks("checks", "--json").lines())
    old.types(copy, carried)
    new = Machine(tmp_path / "new")
    said = new.types(restore, carried)
    assert "store: sound" in said
    after = new.asks("checks", "--json").lines()
    assert [check["verdict"] for check in after].count("fail") == 1
    assert len(after) == before
    new.drops("wednesday.txt", cgats.text(cgats.FAILING).replace("\n", "\r\n"))
    new.works()
    assert len(new.asks("checks", "--json").lines()) == before + 1
