"""The `sentinel` command run to its end inside the process of the tests, as a process of its own would run.

A process takes 0.6 s to begin, a call a few milliseconds. That the installed command does the same is
what tests/e2e/test_processes.py shows, once for every command.
"""

from __future__ import annotations

import io
import json
import logging
import os
import subprocess
import sys
import warnings
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, chdir, contextmanager, nullcontext, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO
from unittest import mock

import structlog

from sentinel.cli.app import main

SENTINEL = Path(sys.executable).with_name("sentinel")
PATIENCE_SECONDS = 60
Word = str | bytes | Path


@dataclass(frozen=True, slots=True)
class Done:
    """What a command said and how it ended."""

    code: int
    out: str
    err: str

    def lines(self) -> list[dict[str, Any]]:
        """Its JSON, one object a line."""
        return [json.loads(line) for line in self.out.splitlines()]

    def json(self) -> dict[str, Any]:
        """Its JSON, one object in all."""
        shown: dict[str, Any] = json.loads(self.out)
        return shown


def sentinel(*arguments: Word, cwd: Path | None = None, loud: bool = False, **environ: str) -> Done:
    """Runs the command in this process, `loud` with every log of every library on standard error.

    What the command does not catch itself is raised here.
    """
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", errors=errors) for errors in ("strict", "backslashreplace"))
    with ExitStack() as stack:
        stack.enter_context(mock.patch.dict(os.environ, environment(environ), clear=True))
        stack.enter_context(nullcontext() if cwd is None else chdir(cwd))
        stack.enter_context(redirect_stdout(out))
        stack.enter_context(redirect_stderr(err))
        stack.enter_context(_own_logs(loud))
        code = _ended([os.fsdecode(word) for word in arguments])
    return Done(code, _said(out), _said(err))


def process(*arguments: Word, cwd: Path | None = None, before: tuple[str, ...] = (), **environ: str) -> Done:
    """Runs the installed command; `before` are words put before it, those of a program that runs it in another way."""
    done = subprocess.run(
        [*before, SENTINEL, *arguments],
        check=False,
        capture_output=True,
        text=True,
        timeout=PATIENCE_SECONDS,
        cwd=cwd,
        env=environment(environ),
    )
    return Done(done.returncode, done.stdout, done.stderr)


def environment(environ: Mapping[str, str]) -> dict[str, str]:
    """That of the tests, without settings or a terminal of whoever runs them, and with these."""
    own = {name: text for name, text in os.environ.items() if name != "SENTINEL_CONFIG"}
    return {**own, "COLUMNS": "80", **environ}


def _ended(arguments: list[str]) -> int:
    try:
        return main(arguments)
    except SystemExit as end:  # argparse, after a usage error or its help
        return int(end.code or 0)


def _said(stream: io.TextIOWrapper) -> str:
    stream.flush()
    written = stream.buffer
    assert isinstance(written, io.BytesIO)
    return written.getvalue().decode()


@contextmanager
def _own_logs(loud: bool) -> Iterator[None]:
    """Logs and warnings go to standard error as in a new process, and the loggers are as before afterwards."""
    configure, before = structlog.configure, structlog.get_config()
    handlers, level = logging.root.handlers[:], logging.root.level

    def configured(**options: Any) -> None:
        # a logger that is kept on first use would write here for ever
        configure(**{**options, "cache_logger_on_first_use": False})

    with mock.patch.object(structlog, "configure", configured), warnings.catch_warnings():
        _warn_as_a_process_does()
        logging.root.handlers[:] = [logging.StreamHandler()] if loud else []
        logging.root.setLevel(1 if loud else logging.WARNING)
        try:
            yield
        finally:
            logging.root.handlers[:] = handlers
            logging.root.setLevel(level)
            configure(**before)


def _warn_as_a_process_does() -> None:
    def show(
        message: Warning | str,
        category: type[Warning],
        filename: str,
        lineno: int,
        file: TextIO | None = None,
        line: str | None = None,
    ) -> None:
        sys.stderr.write(warnings.formatwarning(message, category, filename, lineno, line))

    warnings.showwarning = show
    warnings.simplefilter("default")
    for unshown in (DeprecationWarning, PendingDeprecationWarning, ImportWarning, ResourceWarning):
        warnings.simplefilter("ignore", unshown)
