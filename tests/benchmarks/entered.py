"""Which files and functions of a package run, by the interpreter's profile hook.

As a program, `python -P tests/benchmarks/entered.py OUT PACKAGE ARGUMENT...` does what `python -m PACKAGE ARGUMENT...`
does, with nothing but the standard library loaded before, and writes the JSON of a `Command` to OUT.

A function is a code object of `def`, told by file, first line and qualified name. Bodies of modules and classes are
none, lambdas and comprehensions none of their own. A file is entered when one of its functions runs.
"""

from __future__ import annotations

import argparse
import inspect
import json
import runpy
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from types import CodeType, FrameType
from typing import Any, NamedTuple

RECEIVERS = ("self", "cls")


class Function(NamedTuple):
    """`file` is relative to the package's folder."""

    file: str
    line: int
    name: str


@dataclass(frozen=True)
class Record:
    """`calls` are (caller, called), the caller being the nearest frame of the package that waits for the called one,
    whatever lies between (`map`, `functools`, ...); lambdas, and generators whenever they go on, take part.

    `handed` are the functions that got something that was sought as an argument, not as their receiver nor within a
    container; those that dataclasses generate have line 0.
    """

    functions: frozenset[Function] = frozenset()
    calls: frozenset[tuple[Function, Function]] = frozenset()
    handed: frozenset[Function] = frozenset()

    @property
    def files(self) -> set[str]:
        return {function.file for function in self.functions}


@dataclass(frozen=True)
class Command:
    """Files of the package, relative to it: loaded when the command ended; entered; entered after the last return of
    argparse's parsing."""

    loaded: list[str]
    entered: list[str]
    entered_parsed: list[str]


Moment = Callable[[FrameType, str, Any], bool]


class Recorder:
    """Records what runs while `recording`, and keeps what had run at the last `moment` and what ran after it."""

    def __init__(self, package: Path, moment: Moment, sought: Callable[[object], bool] = lambda _: False) -> None:
        self._folder = f"{package}/"
        self._moment, self._sought = moment, sought
        self._functions: set[Function] = set()
        self._calls: set[tuple[Function, Function]] = set()
        self._handed: set[Function] = set()
        self._after: set[Function] = set()
        self.until_moment: Record | None = None

    @contextmanager
    def recording(self) -> Iterator[None]:
        """In this thread and in those that it starts."""
        threading.setprofile(self._hear)
        sys.setprofile(self._hear)
        try:
            yield
        finally:
            sys.setprofile(None)
            threading.setprofile(None)

    @property
    def whole(self) -> Record:
        return Record(frozenset(self._functions), frozenset(self._calls), frozenset(self._handed))

    @property
    def after_moment(self) -> set[str]:
        """The files entered after it."""
        return {function.file for function in self._after}

    def _hear(self, frame: FrameType, event: str, arg: Any) -> None:
        if event == "call":
            if function := self._function(frame.f_code):
                self._called(frame, function)
            if (taker := function or self._generated(frame)) and self._takes(frame):
                self._handed.add(taker)
        elif event in {"return", "c_return"} and self._moment(frame, event, arg):
            self.until_moment = self.whole
            self._after.clear()

    def _called(self, frame: FrameType, function: Function) -> None:
        if not function.name.endswith(">"):
            self._functions.add(function)
            self._after.add(function)
        if caller := self._caller(frame):
            self._calls.add((caller, function))

    def _takes(self, frame: FrameType) -> bool:
        return any(self._sought(frame.f_locals.get(name)) for name in _arguments(frame.f_code))

    def _generated(self, frame: FrameType) -> Function | None:
        file = str(frame.f_globals.get("__file__"))
        if frame.f_code.co_filename != "<string>" or not file.startswith(self._folder):
            return None
        receiver = type(frame.f_locals.get("self")).__qualname__
        return Function(file.removeprefix(self._folder), 0, f"{receiver}.{frame.f_code.co_name}")

    def _caller(self, frame: FrameType) -> Function | None:
        below = frame.f_back
        while below is not None:
            if function := self._function(below.f_code):
                return function
            below = below.f_back
        return None

    def _function(self, code: CodeType) -> Function | None:
        if code.co_flags & inspect.CO_OPTIMIZED and code.co_filename.startswith(self._folder):
            return Function(code.co_filename.removeprefix(self._folder), code.co_firstlineno, code.co_qualname)
        return None


def _arguments(code: CodeType) -> tuple[str, ...]:
    names = code.co_varnames[: code.co_argcount + code.co_kwonlyargcount]
    return names[1:] if names[:1] and names[0] in RECEIVERS else names


def command(package: str, arguments: list[str]) -> Command:
    """Runs it to its end; what it prints is printed."""
    folder = Path(str(inspect.getfile(__import__(package)))).parent
    parsing = argparse.ArgumentParser.parse_known_args.__code__
    recorder = Recorder(folder, lambda frame, _event, _arg: frame.f_code is parsing)
    sys.argv = [package, *arguments]
    with recorder.recording():
        try:
            runpy.run_module(package, run_name="__main__", alter_sys=True)
        except SystemExit as end:
            if end.code not in {0, 1}:
                raise
    places = (getattr(module, "__file__", None) for module in list(sys.modules.values()))
    loaded = {str(Path(place).relative_to(folder)) for place in places if place and place.startswith(f"{folder}/")}
    return Command(sorted(loaded), sorted(recorder.whole.files), sorted(recorder.after_moment))


def main() -> None:
    """See the module."""
    out, package, *arguments = sys.argv[1:]
    Path(out).write_text(json.dumps(asdict(command(package, arguments))))


if __name__ == "__main__":
    main()
