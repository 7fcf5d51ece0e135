"""The table of commands holds what their modules have, and the module of a command is loaded alone."""

from __future__ import annotations

import json
import pkgutil
import subprocess
import sys
from collections.abc import Collection
from importlib import import_module

import pytest

import sentinel.cli
from sentinel.cli.app import TABLE, main, parser
from sentinel.core.conditions.events import Event, EventKind
from tests.support import cgats
from tests.support.room import Room, Staff

SHARED = {"sentinel.cli", "sentinel.cli.app", "sentinel.cli.command", "sentinel.cli.terminal"}
HEAVY = ("numpy", "apprise", "alembic", "matplotlib", "babel", "structlog", "sqlalchemy")
LOADED = (
    "import json, sys; from sentinel.cli.app import main\n"
    "try: main(sys.argv[1:])\n"
    "except SystemExit: pass\n"
    "print(json.dumps(sorted(sys.modules)), file=sys.stderr)"
)


@pytest.fixture
def worked(room: Room, staff: Staff) -> Room:
    """A room with a failed check on record, an open case and an event."""
    staff.take("north/satin-240/sheet.txt", cgats.text(cgats.FAILING))
    with staff.store.transaction() as session:
        session.events.add(Event(EventKind.HEADS, staff.clock.now(), "north"), None, staff.clock.now())
    return room


def loaded(*words: str) -> Collection[str]:
    """The modules that a process has when the command has ended, however it ended."""
    done = subprocess.run([sys.executable, "-c", LOADED, *words], capture_output=True, text=True, check=True)
    found: list[str] = json.loads(done.stderr.splitlines()[-1])
    return found


def commands_of(module: str) -> Collection[str]:
    found: Collection[str] = getattr(import_module(f"sentinel.cli.{module}"), "COMMANDS", ())
    return found


def test_the_table_has_every_command_of_every_module_and_no_other() -> None:
    modules = [found.name for found in pkgutil.iter_modules(sentinel.cli.__path__)]
    there = {(name, module) for module in modules for name in commands_of(module)}
    assert {(command.name, command.module) for command in TABLE} == there
    assert len({command.name for command in TABLE}) == len(TABLE)


@pytest.mark.parametrize("command", [each.name for each in TABLE])
def test_every_command_gets_its_options_when_it_is_called(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        main([command, "--help"])
    assert end.value.code == 0
    assert capsys.readouterr().out.startswith(f"usage: sentinel {command} [-h]")


def test_a_parser_is_made_anew_for_every_run(capsys: pytest.CaptureFixture[str]) -> None:
    for _ in range(2):
        assert parser().parse_args(["status", "--json"]).json is True
    with pytest.raises(SystemExit):
        main(["statuses"])
    assert "invalid choice: 'statuses' (choose from 'run', 'init'," in (said := capsys.readouterr().err)
    assert said.endswith("did you mean 'status'?\n")


def test_help_loads_no_module_of_a_command() -> None:
    assert {name for name in loaded("--help") if name.startswith("sentinel.cli")} == SHARED


@pytest.mark.parametrize("command", ["status", "health", "round", "cases"])
def test_a_light_command_loads_its_own_module_and_nothing_heavy(command: str, worked: Room) -> None:
    found = loaded("--config", str(worked.config), command)
    assert {name for name in found if name.startswith("sentinel.cli")} == SHARED | {f"sentinel.cli.{command}"}
    assert not set(HEAVY) & set(found)


def test_a_check_against_a_target_reads_no_settings(worked: Room) -> None:
    target = str(worked.folder / "targets" / "house.txt")
    found = loaded("check", target, "--target", target)
    assert {name for name in found if name.startswith("sentinel.cli")} == SHARED | {"sentinel.cli.check"}
    assert not {"apprise", "alembic", "matplotlib", "babel", "structlog", "sqlalchemy"} & set(found)
