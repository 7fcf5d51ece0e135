"""What commands print and log: text that came from a file, or from its name, cannot steer a terminal."""

from __future__ import annotations

import io
import shutil
import sys
import textwrap
from collections.abc import Iterator, MutableMapping, Sequence
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from typing import Any, TextIO

from sentinel.core.message import visible
from sentinel.errors import AdminError


class OutputError(AdminError):
    """What is printed cannot be written, on a full disk for one."""


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        raise  # nobody reads on, which is nobody's fault
    except OSError as fault:
        raise OutputError(f"expected to write the output, got: {fault.strerror}") from None


class VisibleStream(io.TextIOBase):
    """Writes to a stream what can be seen, everything else as escapes; `bare` is that stream."""

    def __init__(self, bare: TextIO) -> None:
        self.bare = bare

    def write(self, text: str) -> int:
        """Writes it; says how many letters were taken. Raises OutputError."""
        with _told():
            self.bare.write(visible(text))
        return len(text)

    def flush(self) -> None:
        with _told():
            self.bare.flush()

    def isatty(self) -> bool:
        return self.bare.isatty()

    def fileno(self) -> int:
        return self.bare.fileno()

    def writable(self) -> bool:
        return True

    @property
    def encoding(self) -> str:  # type: ignore[override]
        """That of the stream."""
        return self.bare.encoding


LEAST_COLUMN = 6
"""Characters that a column keeps on the narrowest terminal."""


def table(headers: Sequence[str], rows: Sequence[Sequence[Any]]) -> str:
    """Rows for people; the widest columns are wrapped where a terminal looks on that is narrower than all of them.

    Programs that read it get one line a row.
    """
    from tabulate import tabulate

    if not (rows and sys.stdout.isatty()):
        return tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True)
    width = shutil.get_terminal_size().columns
    widths = [
        max(len(name) + HEAD, *(len(str(cell)) for cell in column))
        for name, *column in zip(headers, *rows, strict=True)
    ]
    while sum(widths) + len(GAP) * (len(widths) - 1) > width and max(widths) > LEAST_COLUMN:
        widths[widths.index(max(widths))] -= 1
    wrapped = ["\n".join(textwrap.wrap(name, own - HEAD)) or name for name, own in zip(headers, widths, strict=True)]
    return tabulate(
        [[str(cell) for cell in row] for row in rows],
        headers=wrapped,
        tablefmt="simple",
        disable_numparse=True,
        maxcolwidths=widths,
    )


GAP = "  "
HEAD = 2
"""Characters that the library of tables leaves beside a heading."""


@contextmanager
def visible_output(out: TextIO, err: TextIO) -> Iterator[None]:
    """Standard output and error through visible streams."""
    for stream in (out, err):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # file names need not be text
    with redirect_stdout(VisibleStream(out)), redirect_stderr(VisibleStream(err)):
        yield


def bare(stream: TextIO) -> TextIO:
    """The stream below a visible one, for what puts colours on a terminal itself."""
    return stream.bare if isinstance(stream, VisibleStream) else stream


def visible_values(_logger: Any, _method: str, event: MutableMapping[str, Any]) -> MutableMapping[str, Any]:
    """A processor of structlog: every text of an entry as it can be seen."""
    for name, value in event.items():
        if isinstance(value, str):
            event[name] = visible(value)
    return event
