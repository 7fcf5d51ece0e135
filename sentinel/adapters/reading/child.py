"""The reader in a process of its own: takes bytes, says what they mean, and may end at any of them.

It is given nothing but its two pipes, and takes from itself what it does not need: no file can be opened and nothing
be started once it is ready. It ends when the service is gone.
"""

from __future__ import annotations

import ctypes
import gc
import json
import os
import resource
import signal
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from math import ceil
from typing import Any, BinaryIO

from sentinel.adapters.reading import wire
from sentinel.core.arrays import FloatArray
from sentinel.core.conditions.event_input import EventFileError, EventRow, event_rows
from sentinel.core.measurement import Measurement, ReaderBounds, UnreadableError
from sentinel.core.measurement.formats import read_measurements

Measure = Callable[[bytes, ReaderBounds], Sequence[Measurement]]
Rows = Callable[[str, bytes], list[EventRow]]

_DEATH_SIGNAL, _NO_NEW_PRIVILEGES = 1, 38  # prctl(2)
_FIRST_TO_GO = b"1000"
_ENCODINGS = ("utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1", "cp1252", "ascii")
_SPARE_SECONDS = 5.0
_SAMPLE = b"""CGATS.17
CREATED "2026-03-02T14:30:00+01:00"
NUMBER_OF_FIELDS 6
BEGIN_DATA_FORMAT
SAMPLE_ID CMYK_C SPECTRAL_NM400 SPECTRAL_NM410 SPECTRAL_NM420 LAB_L
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
1 0 0.5 0.5 0.5 50
2 100 0.1 0.2 0.3 50
END_DATA
"""


def main(measure: Measure = read_measurements, rows: Rows = event_rows) -> None:
    """Answers until its first pipe ends. `measure` and `rows` understand."""
    asked = json.loads(sys.argv[1])
    answers = os.fdopen(os.dup(1), "wb", buffering=0)
    os.dup2(2, 1)  # what anybody prints is no answer
    os.set_blocking(2, False)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _leave_with(asked["parent"])
    _load(measure, rows)
    gc.freeze()
    held = _limited(asked["memory_bytes"])
    _say(answers, {"ready": True, "unlimited": [name for name, holds in held.items() if not holds]})
    with open(0, "rb", buffering=0, closefd=False) as requests:
        while _answered(requests, answers, asked["seconds"], measure, rows):
            pass


def _leave_with(parent: int) -> None:
    """Ends when the service does; the first that a machine short of memory ends; never with more rights."""
    with suppress(Exception):  # a hardened system may refuse; the pipes' end is heard all the same
        prctl = ctypes.CDLL(None).prctl
        prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0)
        if parent:
            prctl(_DEATH_SIGNAL, signal.SIGKILL, 0, 0, 0)
    if parent not in (0, os.getppid()):
        os._exit(0)
    with suppress(OSError), open("/proc/self/oom_score_adj", "wb", buffering=0) as file:  # noqa: PTH123
        file.write(_FIRST_TO_GO)


def _load(measure: Measure, rows: Rows) -> None:
    """Whatever is loaded at a first use is loaded now, since nothing can be opened afterwards."""
    for encoding in _ENCODINGS:
        b"".decode(encoding)
    with suppress(UnreadableError):
        measure(_SAMPLE, ReaderBounds())
    for name, text in (("a.csv", b"kind;at\nheads;x\n"), ("a.jsonl", b'{"kind": "heads"}\n{')):
        with suppress(EventFileError):
            wire.told_rows(rows(name, text))


def _limited(memory_bytes: int) -> dict[str, bool]:
    """Which limits could be set."""
    with open("/proc/self/statm", "rb") as file:  # noqa: PTH123
        mapped = int(file.read().split()[0]) * resource.getpagesize()
    highest = max(map(int, os.listdir("/proc/self/fd")))  # noqa: PTH208 - of the listing itself
    limits = {
        "memory": (resource.RLIMIT_AS, mapped + memory_bytes),
        "core": (resource.RLIMIT_CORE, 0),
        "file-size": (resource.RLIMIT_FSIZE, 0),
        "processes": (resource.RLIMIT_NPROC, 0),
        "open-files": (resource.RLIMIT_NOFILE, highest),
    }
    return {name: _set(kind, most, most) for name, (kind, most) in limits.items()}


def _set(kind: int, soft: int, hard: int) -> bool:
    try:
        resource.setrlimit(kind, (soft, hard))
    except (OSError, ValueError):
        return False
    return True


def _answered(requests: BinaryIO, answers: BinaryIO, seconds: float, measure: Measure, rows: Rows) -> bool:
    """Whether there was a question."""
    head = _exactly(requests, wire.HEAD.size)
    if head is None:
        return False
    _, text_bytes, body_bytes = wire.HEAD.unpack(head)
    text, data = _exactly(requests, text_bytes), _exactly(requests, body_bytes)
    if text is None or data is None:
        return False
    used = resource.getrusage(resource.RUSAGE_SELF)
    _set(resource.RLIMIT_CPU, ceil(used.ru_utime + used.ru_stime + seconds) + 1, resource.RLIM_INFINITY)
    signal.setitimer(signal.ITIMER_REAL, seconds + _SPARE_SECONDS)  # where the service is not there to end it
    try:
        told, arrays = _understood(json.loads(text), bytes(data), measure, rows)
        _say(answers, told, arrays)
    except MemoryError:
        _say(answers, {"memory": True})
        return False
    signal.setitimer(signal.ITIMER_REAL, 0.0)
    return True


def _understood(
    question: dict[str, Any], data: bytes, measure: Measure, rows: Rows
) -> tuple[dict[str, Any], Sequence[FloatArray]]:
    try:
        if question["ask"] == "rows":
            return wire.told_rows(rows(question["name"], data)), ()
        return wire.told_measurements(measure(data, ReaderBounds(**question["bounds"])))
    except UnreadableError as refusal:
        return wire.told_refusal(refusal), ()
    except EventFileError as refusal:
        return wire.told_faults(refusal), ()
    except MemoryError:
        raise
    except Exception as fault:
        return {"broke": f"{type(fault).__name__}: {fault}"[: wire.LONGEST_CODE]}, ()


def _say(answers: BinaryIO, told: dict[str, Any], arrays: Sequence[FloatArray] = ()) -> None:
    _write(answers, wire.framed(told, sum(each.nbytes for each in arrays)))
    for each in arrays:
        _write(answers, each.data.cast("B") if each.size else b"")


def _write(answers: BinaryIO, data: bytes | memoryview) -> None:
    rest = memoryview(data)
    while rest:
        rest = rest[answers.write(rest) :]


def _exactly(requests: BinaryIO, count: int) -> bytearray | None:
    """So many bytes; None where the pipe ends before."""
    found = bytearray(count)
    rest = memoryview(found)
    while rest:
        read = requests.readinto(rest)  # type: ignore[attr-defined]
        if not read:
            return None
        rest = rest[read:]
    return found


if __name__ == "__main__":
    main()
