"""What commands cost. Run: python -m tests.benchmarks.bench_commands [--against CHECKOUT] [--turns N] [--json]

Each checkout takes 200 made-up sheets of eight printing conditions into a store of its own with `run --once`. Then the
commands take turns: the bare interpreter (`python -c pass`), this checkout, the other one, and in the next turn the
other before this one. Told are medians over the turns: of the ratios of processor time (user and system) and of time
on the clock to the bare interpreter of the same turn, and of the same ratios to this checkout.

Both run under this interpreter with its packages. Compiled code is kept in a temporary folder, and the first turn,
which fills it, is left out. Memory is the peak of the process, modules are those loaded at its end; both come from one
more run, whose probe has a few of its own. The peak is Linux's VmHWM: ru_maxrss begins with that of the starting
process.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

from tests.support import cgats
from tests.support.clock import stamp

HERE = Path(__file__).parents[2]
PROGRAM = "sentinel"
PRINTERS, STOCKS = ("north", "south"), ("satin-240", "matte-190", "gloss-260", "canvas-380")
SHEETS = 200
DAYS = 75.0
SETTINGS = f"""\
[site]
name = "hall"
[folders]
drop = ["drop"]
archive = "archive"
put_aside = "aside"
[store]
path = "store.sqlite"
[due]
max_age_days = 3.0
[targets.house]
file = "targets/house.txt"
colour_path = "ink-space"
{"".join(f"[printers.{printer}]{chr(10)}" for printer in PRINTERS)}
{"".join(f"[substrates.{stock}]{chr(10)}drying_hours = 1.0{chr(10)}" for stock in STOCKS)}
"""
COMMANDS = (
    (("--help",),),
    (("status",),),
    (("health",),),
    (("check", "sheet.txt", "--target", "targets/house.txt"),),
    (("round",),),
    (("cases",), ("matters",)),
)
"""Each with its spellings; a checkout takes the first one that its help names."""
CODES = (0, 1, 3)
"""Ends of commands that did their work, whatever they found; health's is another once the round is some minutes old."""
PROBE = f"""
import atexit, runpy, sys
def told():
    peak = next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM"))
    print(peak, len(sys.modules), file=sys.__stderr__)
atexit.register(told)
if len(sys.argv) > 1:
    runpy.run_module({PROGRAM!r}, run_name="__main__", alter_sys=True)
"""


@dataclass(frozen=True)
class Spent:
    """Seconds, and the exit code."""

    cpu: float
    wall: float
    code: int


@dataclass(frozen=True)
class Row:
    """Ratios to the bare interpreter; `megabytes` at the peak."""

    checkout: str
    command: str
    codes: list[int]
    cpu: float
    wall: float
    megabytes: float
    modules: int
    cpu_to_first: float
    wall_to_first: float


class Checkout:
    """A checkout with a print room of its own."""

    def __init__(self, name: str, root: Path, room: Path, compiled: Path) -> None:
        """Raises RuntimeError where the checkout's program does not take the sheets in."""
        self.name, self._root, self.room = name, root, room
        self._environ = os.environ | {
            "PYTHONPATH": str(root),
            "PYTHONPYCACHEPREFIX": str(compiled),
            "SENTINEL_CONFIG": str(room / "sentinel.toml"),
        }
        self._furnish()
        self._take_in()
        self._help = self._output("--help")

    def spelled(self, spellings: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
        """Raises RuntimeError where the program has no such command."""
        for words in spellings:
            if words[0] in self._help.split():
                return words
        raise RuntimeError(f"{self.name}: expected one of {spellings} in the help, got none")

    def spent(self, *arguments: str) -> Spent:
        """On one run of a command; without arguments of the bare interpreter."""
        what = ["-m", PROGRAM, *arguments] if arguments else ["-c", "pass"]
        began = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, *what],
            cwd=self.room,
            env=self._environ,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        _, status, used = os.wait4(process.pid, 0)
        wall = time.perf_counter() - began
        process.returncode = os.waitstatus_to_exitcode(status)
        return Spent(used.ru_utime + used.ru_stime, wall, process.returncode)

    def size(self, *arguments: str) -> tuple[float, int]:
        """Megabytes at the peak, and modules at the end."""
        done = self._run("-c", PROBE, *arguments)
        try:
            kilobytes, modules = done.stderr.splitlines()[-1].split()
            return int(kilobytes) / 1024, int(modules)
        except (IndexError, ValueError) as fault:
            raise RuntimeError(f"{self.name}, {arguments}: expected its size, got {done.stderr}") from fault

    def _furnish(self) -> None:
        for folder in (self.room / "drop", self.room / "targets"):
            folder.mkdir(parents=True)
        conditions = "".join(
            f'[conditions."{printer}/{stock}"]\ntargets = ["house"]\n' for printer in PRINTERS for stock in STOCKS
        )
        (self.room / "sentinel.toml").write_text(SETTINGS + conditions)
        (self.room / "targets" / "house.txt").write_text(cgats.text())
        (self.room / "sheet.txt").write_text(cgats.text(cgats.FAILING))
        now = datetime.now(UTC)
        for number in range(SHEETS):
            place = self.room / "drop" / PRINTERS[number % 2] / STOCKS[number // 2 % 4]
            place.mkdir(parents=True, exist_ok=True)
            shift = number * 37 % SHEETS / 100 + (cgats.FAILING if number % 9 == 0 else 0.0)  # no two sheets alike
            (place / f"{number:03}.txt").write_text(cgats.text(shift))
            stamp(place / f"{number:03}.txt", now - timedelta(days=DAYS * (1 - number / SHEETS), hours=1))

    def _take_in(self) -> None:
        found = self._output("-c", f"import {PROGRAM}; print({PROGRAM}.__file__)", module=False).strip()
        if not Path(found).is_relative_to(self._root):
            raise RuntimeError(f"{self.name}: expected the program of {self._root}, got {found}")
        left = SHEETS
        while left:  # one round takes in what it can in its time
            self._output("run", "--once")
            before, left = left, len(list((self.room / "drop").rglob("*.txt")))
            if left == before or any(self.room.glob("aside/*")):
                raise RuntimeError(f"{self.name}: expected every sheet scored, got some put aside or {left} left")

    def _output(self, *arguments: str, module: bool = True) -> str:
        done = self._run(*(["-m", PROGRAM] if module else []), *arguments)
        if done.returncode:
            raise RuntimeError(f"{self.name}: {arguments} ended with {done.returncode}: {done.stderr[-2000:]}")
        return done.stdout

    def _run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        run = [sys.executable, *arguments]
        return subprocess.run(run, cwd=self.room, env=self._environ, capture_output=True, text=True, check=False)


def main() -> None:
    options = _options()
    roots = [("this", HERE), *([("other", options.against.resolve())] if options.against else [])]
    with tempfile.TemporaryDirectory(prefix="commands-") as folder:
        compiled = Path(folder) / "compiled"
        sides = [Checkout(name, root, Path(folder) / name, compiled) for name, root in roots]
        rows = [row for spellings in COMMANDS for row in _compared(sides, spellings, options.turns)]
        megabytes, modules = sides[0].size()
    if options.json:
        _say(json.dumps([asdict(row) for row in rows], indent=2))
        return
    _say(f"{SHEETS} sheets, {options.turns} turns; the bare interpreter: {megabytes:.1f} MB, {modules} modules")
    _say(
        f"{'':8}{'command':10}{'exit':>5}{'cpu':>8}{'wall':>8}{'MB':>8}{'modules':>9}{'cpu/this':>10}{'wall/this':>11}"
    )
    for row in rows:
        codes = ",".join(map(str, row.codes))
        _say(
            f"{row.checkout:8}{row.command:10}{codes:>5}{row.cpu:8.1f}{row.wall:8.1f}{row.megabytes:8.1f}"
            f"{row.modules:9}{row.cpu_to_first:10.2f}{row.wall_to_first:11.2f}"
        )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.bench_commands", description="What commands cost."
    )
    parser.add_argument("--against", type=Path, metavar="CHECKOUT", help="another checkout to be run beside this one")
    parser.add_argument("--turns", type=int, default=15, metavar="N", help="how often (default: 15)")
    parser.add_argument("--json", action="store_true", help="one JSON list of every figure")
    return parser.parse_args()


def _compared(sides: list[Checkout], spellings: tuple[tuple[str, ...], ...], turns: int) -> list[Row]:
    commands = [side.spelled(spellings) for side in sides]
    bare: list[Spent] = []
    spent: list[list[Spent]] = [[] for _ in sides]
    for turn in range(turns + 1):
        bare.append(sides[0].spent())
        for number in sorted(range(len(sides)), reverse=bool(turn % 2)):
            spent[number].append(sides[number].spent(*commands[number]))
    return [
        _row(side, command, own[1:], bare[1:], spent[0][1:])
        for side, command, own in zip(sides, commands, spent, strict=True)
    ]


def _row(side: Checkout, command: tuple[str, ...], own: list[Spent], bare: list[Spent], first: list[Spent]) -> Row:
    codes = {each.code for each in own}
    if not codes <= set(CODES):
        raise RuntimeError(f"{side.name}: expected {command} to end with one of {CODES}, got {sorted(codes)}")
    megabytes, modules = side.size(*command)
    return Row(
        checkout=side.name,
        command=command[0],
        codes=sorted(codes),
        cpu=median(each.cpu / base.cpu for each, base in zip(own, bare, strict=True)),
        wall=median(each.wall / base.wall for each, base in zip(own, bare, strict=True)),
        megabytes=megabytes,
        modules=modules,
        cpu_to_first=median(each.cpu / base.cpu for each, base in zip(own, first, strict=True)),
        wall_to_first=median(each.wall / base.wall for each, base in zip(own, first, strict=True)),
    )


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
