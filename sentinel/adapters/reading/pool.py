"""Readers in processes of their own, warm and used again: whatever a file is like, only its reader ends."""

from __future__ import annotations

import fcntl
import json
import os
import queue
import resource
import select
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import structlog

import sentinel
from sentinel.adapters.reading import wire
from sentinel.core.conditions.event_input import EventRow
from sentinel.core.dropped_file import MEGABYTE
from sentinel.core.measurement import Measurement, ReaderBounds
from sentinel.core.message import Message, msg, visible
from sentinel.core.verdict import Code, Unscored
from sentinel.errors import PassingError

log = structlog.get_logger()

CHILD = "sentinel.adapters.reading.child"

START_SECONDS = 30.0
"""A new process may take so long to be ready: a busy machine, a cold disk."""
MOST_FILES = 1_000
MOST_GROWTH_BYTES = 256 * 1_000_000
"""After so many files, or with so much more memory than when it was new, a reader is replaced."""
TRIES = 2
_PIPE_BYTES = 1 << 20
_CHUNK_BYTES = 1 << 20
_LAST_WORDS = 2_000

_STOPPED = msg(
    "the reader was stopped by this file, and by it again when it was tried afresh ({why}): nothing in the file was "
    "understood"
)

Understood = TypeVar("Understood")


@dataclass(frozen=True, slots=True)
class ReadingLimits:
    """How many readers there are, and what each may take for a file: memory beside its own, and time."""

    processes: int = 1
    memory_mb: float = 1024.0
    seconds: float = 30.0


class ReaderStartError(PassingError):
    """No reader can be started: no file's fault."""


class ReadingBrokeError(Exception):
    """A reader told of a fault of its own that nobody foresaw."""


class _StoppedError(Exception):
    """A reader ended, or had to be ended, at a file."""

    def __init__(self, why: Message) -> None:
        super().__init__(str(why))
        self.why = why


class ReadingRoom:
    """So many readers as the limits say; any thread may ask, and waits where all are busy.

    `child` is the module that a reader runs.
    """

    def __init__(self, limits: ReadingLimits, child: str = CHILD) -> None:
        self._limits = limits
        self._child = child
        self._places: queue.LifoQueue[_Reader | None] = queue.LifoQueue()
        for _ in range(limits.processes):
            self._places.put(None)
        self.fault: Exception | None = None
        """Why no reader could be started when it was last tried."""

    @property
    def limits(self) -> ReadingLimits:
        """Under which it was opened."""
        return self._limits

    def measurements(self, data: bytes, bounds: ReaderBounds) -> Sequence[Measurement]:
        """See `sentinel.ports.Reader`."""
        return self._understood(
            wire.measurements_wanted(bounds), data, lambda head, body: wire.measurements_of(head, body, bounds)
        )

    def rows(self, name: str, data: bytes) -> Sequence[EventRow]:
        """See `sentinel.ports.Reader`."""
        return self._understood(wire.rows_wanted(name), data, wire.rows_of)

    def close(self) -> None:
        """Ends the readers; whoever asks afterwards gets a new one."""
        for reader in [self._places.get() for _ in range(self._limits.processes)]:
            if reader is not None:
                reader.end()
            self._places.put(None)

    def _understood(
        self, question: dict[str, Any], data: bytes, taken: Callable[[bytes, bytearray], Understood]
    ) -> Understood:
        """Raises Unscored where a reader and then a fresh one stopped at it, PassingError where none can be had."""
        why = msg("")
        for turn in range(TRIES):
            try:
                with self._reader(fresh=turn > 0) as reader:
                    return _taken(reader, question, data, taken)
            except _StoppedError as stopped:
                why = stopped.why
                log.warning("a reader was stopped by a file", why=str(why), bytes=len(data), turn=turn + 1)
        raise Unscored(Code.READER_STOPPED, _STOPPED.format(why=why))

    @contextmanager
    def _reader(self, *, fresh: bool) -> Iterator[_Reader]:
        """One for this thread alone; kept for the next file where nothing went wrong with it."""
        kept: _Reader | None = None
        reader = self._places.get()
        try:
            if reader is not None and (fresh or reader.is_gone()):
                reader.end()
                reader = None
            reader = reader or _Reader(self._child, self._limits)
            self._ready(reader)
            yield reader
            kept = reader
        except (_StoppedError, ReaderStartError, AssertionError):
            raise
        except Exception:  # a refusal is an answer like another
            kept = reader
            raise
        finally:
            if reader is not None and kept is None:
                reader.end()
            elif kept is not None and kept.is_worn():
                kept.end()
                kept = _begun(self._child, self._limits)
            self._places.put(kept)

    def _ready(self, reader: _Reader) -> None:
        try:
            reader.wait_ready()
        except ReaderStartError as fault:
            self.fault = fault
            raise
        self.fault = None


def _begun(child: str, limits: ReadingLimits) -> _Reader | None:
    """A successor that gets ready while nobody waits for it; None where it must be tried again later."""
    try:
        return _Reader(child, limits)
    except ReaderStartError:
        return None


def _taken(
    reader: _Reader, question: dict[str, Any], data: bytes, taken: Callable[[bytes, bytearray], Understood]
) -> Understood:
    head, body = reader.ask(question, data)
    try:
        return taken(head, body)
    except wire.OutOfMemoryError:
        raise _StoppedError(msg("more than {most:g} MB of memory", most=reader.limits.memory_mb)) from None
    except wire.AnswerError as fault:
        log.error("a reader gave an answer that no reader gives", fault=visible(str(fault)))
        raise _StoppedError(_NO_ANSWER) from None
    except wire.BrokeError as fault:
        raise ReadingBrokeError(visible(str(fault))) from None


_NO_ANSWER = msg("an answer that makes no sense")


class _Reader:
    """One process, asked one thing at a time by one thread."""

    def __init__(self, child: str, limits: ReadingLimits) -> None:
        """Returns before it is ready. Raises ReaderStartError."""
        self.limits = limits
        self._files = 0
        self._ready = False
        self._first_bytes = 0
        asked = {
            "memory_bytes": round(limits.memory_mb * MEGABYTE),
            "seconds": limits.seconds,
            # the kernel tells of a parent's end where the thread that began the child ends
            "parent": os.getpid() if threading.current_thread() is threading.main_thread() else 0,
        }
        try:
            self._process = subprocess.Popen(  # noqa: S603 - our own interpreter
                [sys.executable, "-I", "-S", "-B", "-X", "faulthandler", "-c", _program(child), json.dumps(asked)],
                bufsize=0,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                cwd="/",
                env=_ENVIRONMENT,
                start_new_session=True,
            )
        except OSError as fault:
            raise ReaderStartError(f"no reader can be started: {fault.strerror}") from fault
        self._in, self._out, self._words = (
            _handle(pipe) for pipe in (self._process.stdin, self._process.stdout, self._process.stderr)
        )

    def wait_ready(self) -> None:
        """Returns when it can be asked. Raises ReaderStartError."""
        if self._ready:
            return
        deadline = time.monotonic() + START_SECONDS
        try:
            head, _ = self._frame(wire.SLACK_BYTES, 0, deadline)
            told = wire.plain(head)
        except (_StoppedError, wire.AnswerError) as fault:
            self.end()
            raise ReaderStartError(f"no reader can be started: {fault} {self._said()}".rstrip()) from None
        if told.get("unlimited"):
            log.warning("a reader works without limits", limits=visible(str(told["unlimited"])[:200]))
        self._ready = True
        self._first_bytes = self._memory()

    def ask(self, question: dict[str, Any], data: bytes) -> tuple[bytes, bytearray]:
        """Its answer, JSON and what follows it, not looked into. Raises _StoppedError."""
        self._files += 1
        deadline = time.monotonic() + self.limits.seconds
        self._send(wire.framed(question, len(data)), deadline)
        self._send(data, deadline)
        return self._frame(wire.most_text(data), wire.most_arrays(data), deadline)

    def is_gone(self) -> bool:
        """Whether it ended while nobody asked."""
        return self._process.poll() is not None

    def is_worn(self) -> bool:
        """Whether another one should take its place."""
        return self._files >= MOST_FILES or self._memory() > self._first_bytes + MOST_GROWTH_BYTES

    def end(self) -> None:
        """Ends it, whatever it does."""
        if self._process.poll() is None:
            self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                with suppress(OSError):
                    pipe.close()

    def _memory(self) -> int:
        """Bytes it holds now, as the system counts them."""
        try:
            return int(Path(f"/proc/{self._process.pid}/statm").read_bytes().split()[1]) * resource.getpagesize()
        except (OSError, IndexError, ValueError):
            return 0

    def _send(self, data: bytes, deadline: float) -> None:
        rest = memoryview(data)
        while rest:
            self._wait(self._in, select.POLLOUT, deadline)
            try:
                rest = rest[os.write(self._in, rest[:_CHUNK_BYTES]) :]
            except BlockingIOError:
                continue
            except OSError:
                raise _StoppedError(self._end_told()) from None

    def _frame(self, most_text: int, most_body: int, deadline: float) -> tuple[bytes, bytearray]:
        mark, text_bytes, body_bytes = wire.HEAD.unpack(self._receive(wire.HEAD.size, deadline))
        if mark != wire.MARK or text_bytes > most_text or body_bytes > most_body:
            raise _StoppedError(_NO_ANSWER)
        return bytes(self._receive(text_bytes, deadline)), self._receive(body_bytes, deadline)

    def _receive(self, count: int, deadline: float) -> bytearray:
        found = bytearray(count)
        rest = memoryview(found)
        while rest:
            self._wait(self._out, select.POLLIN, deadline)
            try:
                read = os.readv(self._out, [rest[:_CHUNK_BYTES]])
            except BlockingIOError:
                continue
            if not read:
                raise _StoppedError(self._end_told())
            rest = rest[read:]
        return found

    def _wait(self, handle: int, what: int, deadline: float) -> None:
        poll = select.poll()
        poll.register(handle, what)
        left = deadline - time.monotonic()
        if left <= 0 or not poll.poll(left * 1000):
            raise _StoppedError(msg("longer than {seconds:g} s", seconds=self.limits.seconds))

    def _end_told(self) -> Message:
        """How it came to its end."""
        try:
            code = self._process.wait(1.0)
        except subprocess.TimeoutExpired:
            return msg("it closed its pipes")
        if said := self._said():
            log.warning("a reader's last words", said=said)
        if code in (-signal.SIGXCPU, -signal.SIGALRM):
            return msg("longer than {seconds:g} s", seconds=self.limits.seconds)
        if code < 0:
            return msg("ended by signal {number}", number=-code)
        return msg("ended with code {code}", code=code)

    def _said(self) -> str:
        """What it wrote to its standard error, the end of it, fit to be shown."""
        said = b""
        with suppress(OSError):
            while part := os.read(self._words, _CHUNK_BYTES):
                said = (said + part)[-_LAST_WORDS:]
        return visible(" ".join(said.decode("utf-8", "replace").split()))


_ENVIRONMENT = {
    "LANG": "C.UTF-8",
    # memory goes back to the system with the process, not between two files
    "MALLOC_TRIM_THRESHOLD_": "67108864",
    "MALLOC_MMAP_THRESHOLD_": "33554432",
    # numbers are read, not reckoned with: one thread is enough, and no more may be begun
    "OPENBLAS_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
}
"""All that a reader sees of the environment: no secrets, no paths."""


def _program(child: str) -> str:
    """Its first words: it finds the program where we do, whatever else the interpreter would look at."""
    places = [str(Path(place).absolute()) for place in sys.path if place]
    home = str(Path(sentinel.__file__).parents[1])
    return f"import sys; sys.path[:] = {[home, *places]!r}; from {child} import main; main()"


def _handle(pipe: Any) -> int:
    handle: int = pipe.fileno()
    os.set_blocking(handle, False)
    with suppress(OSError):
        fcntl.fcntl(handle, fcntl.F_SETPIPE_SZ, _PIPE_BYTES)
    return handle
