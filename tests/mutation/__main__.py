"""Puts faults into the scoring, the states, the cases and the delivery, and tells which of them no test notices.

    python -m tests.mutation 100               # so many of each room, drawn with --seed
    python -m tests.mutation 40 scoring --out survivors.txt

A fault is put in while the module is imported; no file is changed. The tests of its room that come by its line are run,
the quickest first: it is killed where one fails, or takes far longer than without. An equivalent one, which changes
nothing that anybody could see, survives for good.
"""

from __future__ import annotations

import argparse
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

from tests.mutation.mutants import Mutant, mutants, source


@dataclass(frozen=True, slots=True)
class RoomUnderTest:
    """What faults are put into, and the tests that should notice."""

    sources: Sequence[str]
    tests: Sequence[str]


CASES = ("tests/unit/core/cases", "tests/integration/test_dispatch.py", "tests/integration/test_dispatch_histories.py")

ROOMS = {
    "scoring": RoomUnderTest(
        ["sentinel/core/scoring/*.py"],
        [
            "tests/unit/core/scoring",
            "tests/unit/application/test_rejudging.py",
            "tests/unit/core/measurement/test_*.py",
        ],
    ),
    "state": RoomUnderTest(
        ["sentinel/core/conditions/state.py", "sentinel/core/conditions/due.py"],
        ["tests/unit/core/conditions", "tests/unit/settings", "tests/integration/test_state_recorder.py"],
    ),
    "cases": RoomUnderTest(
        ["sentinel/core/cases/*.py"],
        [
            *CASES,
            "tests/unit/render/test_[!np]*.py",
            "tests/unit/render/test_notice_w*.py",
            "tests/integration/test_state_recorder.py",
            "tests/integration/test_floods.py",
        ],
    ),
    "delivery": RoomUnderTest(
        ["sentinel/service/deliver.py", "sentinel/service/dispatch.py"],
        [
            "tests/unit/service/test_delivery.py",
            "tests/unit/service/test_delivery_threads.py",
            "tests/unit/service/test_keys.py",
            "tests/integration/test_concerns_of_a_case.py",
            *CASES,
            "tests/integration/test_store_outbox.py",
            "tests/integration/test_floods.py",
            "tests/integration/test_undelivered.py",
            "tests/integration/test_fences.py",
        ],
    ),
}

PATIENCE = 8.0
START_SECONDS = 60.0
"""So many times what the tests take without a fault, and the start of them."""


class _Loader(importlib.abc.InspectLoader):
    def __init__(self, mutant: Mutant) -> None:
        self._mutant = mutant

    def get_source(self, fullname: str) -> str:
        return self._mutant.path.read_text("utf-8")

    def get_code(self, fullname: str) -> CodeType:
        return compile(source(self._mutant), str(self._mutant.path), "exec")

    def exec_module(self, module: ModuleType) -> None:
        exec(self.get_code(module.__name__), module.__dict__)  # noqa: S102


class _Finder(importlib.abc.MetaPathFinder):
    """Gives one module with its fault."""

    def __init__(self, mutant: Mutant) -> None:
        self._mutant = mutant

    def find_spec(self, fullname: str, *_: object) -> importlib.machinery.ModuleSpec | None:
        if fullname != self._mutant.module:
            return None
        return importlib.util.spec_from_loader(fullname, _Loader(self._mutant), origin=str(self._mutant.path))


def _load_what_is_heavy() -> None:
    """Everything that takes long to import and is not ours, once for all children."""
    import apprise
    import hypothesis
    import matplotlib.figure
    import numpy
    import pydantic
    import pytest
    import sqlalchemy

    assert all((apprise, hypothesis, matplotlib.figure, numpy, pydantic, pytest, sqlalchemy))
    assert not any(name.split(".")[0] == "sentinel" for name in sys.modules)


class _Times:
    """A plugin that writes down how long each test took that passed."""

    def __init__(self, place: Path) -> None:
        self._place = place
        self._seconds: dict[str, float] = {}

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.when == "call" and report.passed:
            self._seconds[report.nodeid] = report.duration

    def pytest_sessionfinish(self) -> None:
        self._place.write_text(json.dumps(self._seconds))


class Baseline:
    """The tests of a room run without a fault: which of them come by a line, and how long they take."""

    def __init__(self, room: RoomUnderTest, folder: Path) -> None:
        from coverage import CoverageData

        times, lines = folder / "times.json", folder / "lines"
        tests = [str(path) for each in room.tests for path in sorted(Path().glob(each))]
        options = ["--cov-context=test", "--cov-report=", "--cov-config=/dev/null"]
        modules = {".".join(path.parent.parts) for each in room.sources for path in Path().glob(each)}
        options += [f"--cov={module}" for module in sorted(modules)]
        _run(None, [*options, *tests], folder / "none", 3600, _Times(times), COVERAGE_FILE=str(lines))
        self.seconds: dict[str, float] = json.loads(times.read_text())
        self._data = CoverageData(str(lines))
        self._data.read()
        self._by_file: dict[Path, dict[int, list[str]]] = {}

    def tests(self, mutant: Mutant) -> list[str]:
        """Those that come by its lines, the quickest first; all of them where it stands in what is imported."""
        if mutant.path not in self._by_file:
            self._by_file[mutant.path] = self._data.contexts_by_lineno(str(mutant.path.absolute()))
        by_line = self._by_file[mutant.path]
        contexts = {each for line in range(mutant.line, mutant.end + 1) for each in by_line.get(line, ())}
        met = {each.rpartition("|")[0] for each in contexts}
        if contexts and met == {""}:
            met = set(self.seconds)
        return sorted(met & self.seconds.keys(), key=self.seconds.__getitem__)


def _child(mutant: Mutant | None, arguments: Sequence[str], log: Path, plugins: Sequence[object]) -> None:
    """Runs the tests in this process and ends it."""
    out = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    for stream in (1, 2):
        os.dup2(out, stream)
    os.setpgid(0, 0)
    os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = str(log.parent)
    if mutant is not None:
        sys.meta_path.insert(0, _Finder(mutant))
    import pytest

    options = ["-q", "--no-header", "-p", "no:cacheprovider", "-p", "no:xdist", f"--basetemp={log}.tmp"]
    if mutant is not None:
        options += ["-x", "-p", "no:pytest_cov"]
    code = int(pytest.main([*options, *arguments], plugins=list(plugins)))
    sys.stdout.flush()
    os._exit(code)


def _run(
    mutant: Mutant | None, arguments: Sequence[str], log: Path, within: float, *plugins: object, **environ: str
) -> str:
    """`killed`, `slow` or `survived`."""
    child = os.fork()
    if child == 0:
        try:
            os.environ.update(environ)
            _child(mutant, arguments, log, plugins)
        finally:
            os._exit(1)
    deadline = time.monotonic() + within
    while True:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return "survived" if os.waitstatus_to_exitcode(status) == 0 else "killed"
        if time.monotonic() > deadline:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return "slow"
        time.sleep(0.02)


def main() -> None:
    """The whole run."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("sample", type=int, help="so many faults of each room")
    parser.add_argument("rooms", nargs="*", choices=[[], *ROOMS], help="all where none is named")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--out", type=Path, help="a file for the survivors, told as they are found")
    options = parser.parse_args()
    _load_what_is_heavy()
    for name in options.rooms or ROOMS:
        _room(name, options)


def _room(name: str, options: argparse.Namespace) -> None:
    room = ROOMS[name]
    every = [each for pattern in room.sources for path in sorted(Path().glob(pattern)) for each in mutants(path)]
    drawn = random.Random(options.seed).sample(every, min(options.sample, len(every)))
    fates: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(options.workers) as pool:
        baseline = Baseline(room, Path(folder))
        chosen = [baseline.tests(mutant) for mutant in drawn]

        def run(number: int) -> str:
            tests = chosen[number]
            within = PATIENCE * sum(baseline.seconds[each] for each in tests) + START_SECONDS
            return _run(drawn[number], tests, Path(folder) / str(number), within) if tests else "unmet"

        for mutant, tests, fate in zip(drawn, chosen, pool.map(run, range(len(drawn))), strict=True):
            fates[fate] += 1
            if fate in ("survived", "unmet"):
                _tell(f"{name}: {fate} by {len(tests)} tests: {mutant}", options.out)
    killed = fates["killed"] + fates["slow"]
    _tell(
        f"{name}: {killed} of {len(drawn)} killed ({killed / len(drawn):.0%}), {fates['slow']} of them by their time; "
        f"{fates['unmet']} that no test comes by; {len(every)} could be drawn",
        options.out,
    )


def _tell(line: str, out: Path | None) -> None:
    print(line, flush=True)  # noqa: T201
    if out is not None:
        with out.open("a", encoding="utf-8") as file:
            file.write(f"{line}\n")


if __name__ == "__main__":
    main()
