"""The structure of the source tree in figures. Run: python -m tests.benchmarks.house [--json] [--list NAME]

To compare a rebuild by the same means before and after. Nothing is timed; what runs does so in fresh processes, with
nothing warmed up.

- Imports: `tests.benchmarks.imports`; who imports a file is asked of all, also of those under `if TYPE_CHECKING`.
- What is entered: `tests.benchmarks.entered`.
- A room is a package, `X` or `X.Y`, deeper ones counted for theirs; a module beside the packages is a room of its own.
- A room is handed settings when a function in it is called with an argument that is a settings object: an instance of a
  class that is defined below SETTINGS_ROOMS, or one like the room's snapshot. Containers of such do not count, nor does
  `self`: a method of the settings is not handed them. Constructors that dataclasses generate do count.
- A climb is a distinct pair (caller, called) of functions, the called one on a higher floor of FLOORS, unless it is a
  call through a port. Reading a plain attribute is no call; a property or a `cached_property` that has to work is one.
- A call through a port is one from a room of PORT_USERS into the adapters: these name no adapter (import-linter holds
  it), so whatever they call there was handed in behind a port. Such calls are a figure of their own. One from a lower
  room into the adapters is a climb: the core and what renders have nothing handed in that reaches the world.
- Modules of the command line only for the parser: those below CLI_ROOM that a command loaded, and of which no function
  ran after its arguments were parsed.
"""

from __future__ import annotations

import argparse
import ast
import io
import json
import os
import smtplib
import sqlite3
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from contextlib import redirect_stdout
from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from multiprocessing import get_context
from pathlib import Path

import sentinel as program
from sentinel.adapters.notifier import AppriseNotifier
from sentinel.service.deliver import Deliverer, RetryPolicy
from tests.benchmarks import entered
from tests.benchmarks.entered import Command, Function, Record, Recorder
from tests.benchmarks.imports import circles, imports, sources
from tests.support import cgats
from tests.support.room import COLOUR_TEAM, Room, Staff
from tests.support.servers import MailServer

PACKAGE = program.__name__
FOLDER = Path(str(program.__file__)).parent
CLI_ROOM = "cli"
SETTINGS_ROOMS = ("settings",)
FLOORS = "errors, core, settings, render, ports, application, service | adapters, bootstrap, cli, __main__"
"""From the bottom up."""
PORT_USERS, ADAPTERS = ("application", "service"), "adapters"
PORTS = "ports"
"""The name of a module of ports, whose classes may be called as what stands behind them."""
TABLES = ("cie_observers.py", "cie_illuminants.py", "density_weights.py")
"""Published tables, no code."""
SMALL_LINES = 60
SHEET, PLACE = "sheet.txt", "north/satin-240/sheet.txt"


@dataclass(frozen=True)
class Finding:
    """One row of the table; `members` are what was counted, where it can be listed."""

    name: str
    text: str
    figure: int
    members: list[str]


def main() -> None:
    options = _options()
    findings = [*_files(), *_names(), *_circles(), *_fresh(_committing), *_fresh(_delivering), *_fresh(_commands)]
    if unknown := set(options.list) - {each.name for each in findings}:
        sys.exit(f"expected names of the table's first column after --list, got {', '.join(sorted(unknown))}")
    if options.json:
        _say(json.dumps({each.name: asdict(each) for each in findings}, indent=2))
        return
    for each in findings:
        if not options.list:
            _say(f"{each.name:26} {each.figure:6}  {each.text}")
        elif each.name in options.list:
            _say("\n".join([f"{each.figure}  {each.text}", *(f"  {member}" for member in each.members)]))


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.house", description="The source tree in figures.")
    parser.add_argument("--json", action="store_true", help="one JSON object with every figure and its members")
    parser.add_argument("--list", action="append", default=[], metavar="NAME", help="what this figure counts, instead")
    return parser.parse_args()


def _fresh(measure: Callable[[], list[Finding]]) -> list[Finding]:
    """What it finds in a process of its own."""
    with ProcessPoolExecutor(1, get_context("spawn")) as pool:
        return pool.submit(_quietly, measure).result()


def _quietly(measure: Callable[[], list[Finding]]) -> list[Finding]:
    with redirect_stdout(io.StringIO()):  # where the log goes by default
        return measure()


def _finding(name: str, text: str, members: Iterable[object]) -> Finding:
    told = sorted(map(str, members))
    return Finding(name, text, len(told), told)


def _files() -> Iterator[Finding]:
    known = sources(FOLDER)
    lines = {path.relative_to(FOLDER): len(path.read_text().splitlines()) for path in known.values()}
    yield _finding("files", "Python files", lines)
    small = [path for path, count in lines.items() if count < SMALL_LINES]
    yield _finding("files-small", f"of them with fewer than {SMALL_LINES} lines", small)
    yield _finding("files-empty", "of these without a line", (path for path in small if not lines[path]))
    importers = Counter(imported for found in imports(known, typed=True).values() for imported in found)
    single = (module for module, count in importers.items() if count == 1)
    yield _finding("files-imported-once", "files imported by exactly one other", single)
    code = sum(count for path, count in lines.items() if path.name not in TABLES)
    yield Finding("lines", "lines of Python, without published tables", code, [])


def _names() -> Iterator[Finding]:
    where: dict[str, set[str]] = defaultdict(set)
    stems: dict[str, set[str]] = defaultdict(set)
    for module, path in sources(FOLDER).items():
        stems[path.stem].add(str(path.parent))
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                where[node.name].add(module)
    twice = {name: places for name, places in where.items() if len(places) > 1}
    yield _finding("classes-named-twice", "public names of classes defined in several files", _told(twice))
    apart = {name: {each for each in places if each.split(".")[-1] != PORTS} for name, places in twice.items()}
    apart = {name: places for name, places in apart.items() if len(places) > 1}
    yield _finding("classes-named-twice-real", "of them apart from modules of ports", _told(apart))
    often = [stem for stem, folders in stems.items() if len(folders) > 2 and stem != "__init__"]
    yield _finding("file-names-often", "names of files in more than two packages", often)


def _told(places: Mapping[str, Collection[str]]) -> Iterator[str]:
    return (f"{name}: {', '.join(sorted(found))}" for name, found in places.items())


def _circles() -> Iterator[Finding]:
    known = sources(FOLDER)
    for name, text, typed in (
        ("circles", "circles of imports, in functions too", False),
        ("circles-typed", "the same with those under TYPE_CHECKING", True),
    ):
        yield _finding(name, text, (" <-> ".join(sorted(each)) for each in circles(imports(known, typed=typed))))


def _committing() -> list[Finding]:
    """One failing file, from the look that takes it to its transaction."""
    with tempfile.TemporaryDirectory() as folder:
        staff = Staff(Room(Path(folder) / "room"))
        kinds = (type(staff.snapshot),)
        recorder = Recorder(FOLDER, _commits, lambda value: isinstance(value, kinds) or _is_settings(value))
        path = staff.room.put(PLACE, cgats.text(cgats.FAILING), at=staff.clock.now())
        with recorder.recording():
            taken = staff.look(path)
        verdicts = [verdict for _, verdict in staff.checks()]
        staff.store.close()
    if (taken, verdicts) != (1, ["fail"]) or recorder.until_moment is None:
        raise RuntimeError(f"expected one check that fails, in a transaction of sqlite3, got {taken}: {verdicts}")
    return [*_run("commit", "from the look to the commit of a failing file", recorder.until_moment),
            *_settings(recorder.until_moment)]  # fmt: skip


def _commits(_frame: object, event: str, called: object) -> bool:
    if event != "c_return" or getattr(called, "__name__", "") != "commit":
        return False
    return isinstance(getattr(called, "__self__", None), sqlite3.Connection)


def _is_settings(value: object) -> bool:
    return any(f"{type(value).__module__}.".startswith(f"{PACKAGE}.{room}.") for room in SETTINGS_ROOMS)


def _settings(record: Record) -> Iterator[Finding]:
    yield _finding("settings-rooms", "rooms handed settings meanwhile", {_room(each.file) for each in record.handed})
    yield _finding("settings-files", "files whose functions are", {each.file for each in record.handed})
    yield _finding("settings-functions", "functions that are", map(_spelled, record.handed))
    ports = {call for call in record.calls if _top(call[0]) in PORT_USERS and _top(call[1]) == ADAPTERS}
    climbs = {call for call in record.calls - ports if _floor(call[1]) > _floor(call[0])}
    yield _finding("climbs", "calls back up the floors meanwhile", map(_pair, climbs))
    yield _finding("port-calls", "calls through a port meanwhile, no climbs", map(_pair, ports))


def _pair(call: tuple[Function, Function]) -> str:
    return f"{_spelled(call[0])} -> {_spelled(call[1])}"


def _spelled(function: Function) -> str:
    return f"{function.file}:{function.line} {function.name}"


def _room(file: str) -> str:
    path = Path(file)
    return ".".join([PACKAGE, *(path.parent.parts[:2] or [path.stem])])


def _top(function: Function) -> str:
    return Path(function.file).with_suffix("").parts[0]


def _floor(function: Function) -> int:
    top = _top(function)
    for floor, rooms in enumerate(FLOORS.split(", ")):
        if top in rooms.split(" | "):
            return floor
    raise ValueError(f"expected a room on one of FLOORS, got {top!r}: {_spelled(function)}")


def _delivering() -> list[Finding]:
    """One notice, from the worker's step to the mail server having taken it."""
    server = MailServer()
    sending = smtplib.SMTP.sendmail.__code__
    recorder = Recorder(FOLDER, lambda frame, event, _arg: event == "return" and frame.f_code is sending)
    with tempfile.TemporaryDirectory() as folder:
        told = [replace(COLOUR_TEAM, secret_urls=(server.url,))]
        staff = Staff(Room(Path(folder) / "room"), told=told)
        staff.take(PLACE, cgats.text(cgats.FAILING))
        tries = RetryPolicy(timedelta(seconds=10), timedelta(minutes=15), timedelta(hours=1))
        worker = Deliverer(COLOUR_TEAM.name, staff.store, AppriseNotifier(told, 10.0), staff.clock, tries)
        with recorder.recording():
            worker.step()
        staff.store.close()
    server.stop()
    if len(server.mails) != 1 or recorder.until_moment is None:
        raise RuntimeError(f"expected one mail through smtplib, got {len(server.mails)}")
    return list(_run("mail", "from the outbox to the mail server", recorder.until_moment))


def _run(name: str, way: str, record: Record) -> Iterator[Finding]:
    yield _finding(f"{name}-files", f"files entered {way}", record.files)
    yield _finding(f"{name}-functions", "functions entered on that way", map(_spelled, record.functions))


def _commands() -> list[Finding]:
    with tempfile.TemporaryDirectory() as folder:
        room = Room(Path(folder) / "room")
        staff = Staff(room)
        staff.take(PLACE, cgats.text(cgats.FAILING))
        staff.store.close()
        sheet, target = room.folder / SHEET, room.folder / "targets" / "house.txt"
        sheet.write_text(cgats.text(cgats.FAILING))
        check = _command(room, "check", str(sheet), "--target", str(target))
        return [*check, *_command(room, "status")]


def _command(room: Room, name: str, *arguments: str) -> Iterator[Finding]:
    out = room.folder / "entered.json"
    run = [sys.executable, "-P", entered.__file__, str(out), PACKAGE, "--config", str(room.config), name, *arguments]
    environ = os.environ | {"PYTHONPATH": str(FOLDER.parent)}
    done = subprocess.run(run, capture_output=True, text=True, check=False, env=environ)
    if done.returncode:
        raise RuntimeError(f"expected `{name}` to end well, got {done.returncode}: {done.stderr}")
    found = Command(**json.loads(out.read_text()))
    yield _finding(f"{name}-loaded", f"files loaded by `{name}`", found.loaded)
    yield _finding(f"{name}-entered", "of them entered", found.entered)
    ours = [file for file in found.loaded if file.startswith(f"{CLI_ROOM}/")]
    yield _finding(f"{name}-cli-loaded", "of the loaded, of the command line", ours)
    idle = set(ours) - set(found.entered_parsed)
    yield _finding(f"{name}-cli-for-parser", "of these with nothing run after parsing", idle)
    yield _finding(f"{name}-cli-built-parser", "of these entered until then", idle & set(found.entered))


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    main()
