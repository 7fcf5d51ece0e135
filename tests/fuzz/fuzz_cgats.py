"""A byte mutator for the CGATS reader: whatever comes, it reads or raises its own error, and soon.

By hand: `.venv/bin/python tests/fuzz/fuzz_cgats.py --inputs 5000000 --seed 7`. What is read is also written and read
back. An input that fails is kept beside the temporary files and its path printed; the exit code is then 1.
"""

from __future__ import annotations

import argparse
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from sentinel.core.measurement.cgats import CgatsDocument, CgatsError, measurements, read, write
from tests.unit.core.measurement.cgats.readings import BAND_SPELLINGS, CASES, Reading, Style, render

SLOWEST = 1.0
"""Seconds one small input may take."""

WORDS = [
    *(b"BEGIN_DATA", b"END_DATA", b"BEGIN_DATA_FORMAT", b"END_DATA_FORMAT", b"NUMBER_OF_SETS", b"NUMBER_OF_FIELDS"),
    *(b"SAMPLE_ID", b"LAB_L", b"XYZ_Y", b"SPECTRAL_NM", b"SPECTRAL_DEC", b"SPECTRAL_NM380", b"KEYWORD", b"CGATS.17"),
    *(b"\t", b" ", b"\n", b"\r", b"\r\n", b"\f", b"\x00", b"\x1a", b"\xef\xbb\xbf", b"\xff\xfe", b"\xc2\xa0", b"\xb2"),
    *(b'"', b'""', b"'", b"#", b" #", b",", b".", b"-", b"+", b"e", b"E-2", b"NA", b"nan", b"inf", b"1e999", b"0x10"),
    *(b".INCLUDE", b"$INCLUDE x", b"9" * 20, b"1" * 400, b"0" * 30, b"\xe2\x80\xa8", b"\xd9\xa3", b"CREATED", b"M1"),
]


def corpus(rng: random.Random, size: int = 120) -> list[bytes]:
    """Small texts of invented readings in many styles."""
    return [_text(rng) for _ in range(size)]


def _text(rng: random.Random) -> bytes:
    count, bands = rng.randint(1, 4), rng.randint(0, 4)
    reading = Reading(
        ids=[rng.choice(["1", "A#1", "001", "P 7", "1e3"]) for _ in range(count)],
        names=["Paper white"] * count if rng.random() < 0.3 else None,
        device=[[Decimal(rng.choice([0, 40, 100]))] * 4 for _ in range(count)] if rng.random() < 0.5 else [],
        wavelengths=[380 + 10 * band for band in range(bands)],
        reflectance=[[Decimal(rng.randint(0, 12000)) / 10000 for _ in range(bands)] for _ in range(count) if bands],
        lab=[[Decimal(rng.randint(low, 1000)) / 10 for low in (0, -800, -800)] for _ in range(count)],
        xyz=[[Decimal(rng.randint(0, 9900)) / 100 for _ in range(3)] for _ in range(count)]
        if rng.random() < 0.3
        else [],
        keywords={"MEASUREMENT_GEOMETRY": "45/0, M1", "CREATED": "2024-03-05 14:22:10 +01:00"},
    )
    whole = render(reading, _style(rng))
    return whole * rng.choice([1, 1, 1, 2])


def _style(rng: random.Random) -> Style:
    return Style(
        separator=rng.choice(["\t", "\t", " ", "  "]),
        line_end=rng.choice(["\n", "\n", "\r\n", "\r"]),
        encoding=rng.choice(["utf-8"] * 8 + ["utf-8-sig", "latin-1", "latin-1", "utf-16", "utf-16-le"]),
        quote=rng.choice(["needed", "ids", "all"]),
        case=rng.choice(CASES),
        cells_a_line=rng.choice([0, 0, 0, 1, 3]),
        comma=rng.random() < 0.2,
        percent=rng.random() < 0.3,
        spelling=rng.randrange(len(BAND_SPELLINGS)),
        pairs=rng.choice(["", "", "SPECTRAL_DEC", "SPECTRAL_PCT"]),
        numeral=rng.choice(["plain", "sign", "exponent"]),
        state_rows=rng.random() < 0.5,
        trailing_tabs=rng.choice([0, 0, 1]),
        blank_column=rng.random() < 0.1,
        comments=rng.random() < 0.3,
        end_mark=rng.random() < 0.1,
    )


def mutate(rng: random.Random, texts: list[bytes]) -> bytes:
    """A text with one to four wounds."""
    data = bytearray(rng.choice(texts))
    for _ in range(rng.choice([1, 1, 1, 2, 3, 4])):
        rng.choice(WOUNDS)(rng, data, texts)
    return bytes(data)


def _span(rng: random.Random, data: bytearray) -> tuple[int, int]:
    start = rng.randrange(len(data) + 1)
    return start, min(len(data), start + rng.choice([1, 1, 2, 5, 20, 100]))


def _change(rng: random.Random, data: bytearray, texts: list[bytes]) -> None:
    if data:
        data[rng.randrange(len(data))] = rng.randrange(256)


def _drop(rng: random.Random, data: bytearray, texts: list[bytes]) -> None:
    start, end = _span(rng, data)
    del data[start:end]


def _double(rng: random.Random, data: bytearray, texts: list[bytes]) -> None:
    start, end = _span(rng, data)
    data[start:start] = data[start:end] * rng.choice([1, 1, 2, 10])


def _insert(rng: random.Random, data: bytearray, texts: list[bytes]) -> None:
    start, _ = _span(rng, data)
    data[start:start] = rng.choice(WORDS) * rng.choice([1, 1, 1, 3])


def _replace(rng: random.Random, data: bytearray, texts: list[bytes]) -> None:
    start, end = _span(rng, data)
    data[start:end] = rng.choice(WORDS)


def _move(rng: random.Random, data: bytearray, texts: list[bytes]) -> None:
    start, end = _span(rng, data)
    piece = data[start:end]
    del data[start:end]
    start, _ = _span(rng, data)
    data[start:start] = piece


def _splice(rng: random.Random, data: bytearray, texts: list[bytes]) -> None:
    start, end = _span(rng, data)
    other = rng.choice(texts)
    at = rng.randrange(len(other) + 1)
    data[start:end] = other[at : at + rng.choice([10, 50, 400])]


def _cut(rng: random.Random, data: bytearray, texts: list[bytes]) -> None:
    del data[rng.randrange(len(data) + 1) :]


Wound = Callable[[random.Random, bytearray, list[bytes]], None]
WOUNDS: tuple[Wound, ...] = (_change, _change, _drop, _drop, _double, _insert, _insert, _replace, _move, _splice, _cut)


@dataclass
class Outcome:
    """How many inputs were read or refused with which code, the slowest in seconds, and those that failed."""

    read: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    slowest: float = 0.0
    failed: list[tuple[bytes, str]] = field(default_factory=list)


def fuzz(inputs: int, seed: int, failures: int = 5) -> Outcome:
    """Read so many mutated texts; stops after some failures."""
    rng = random.Random(seed)
    texts = corpus(rng)
    outcome = Outcome()
    for turn in range(inputs):
        if turn % 5000 == 4999:
            texts = corpus(rng)
        data = mutate(rng, texts)
        start = time.perf_counter()
        try:
            with alarm(5 * SLOWEST):
                check(data)
            outcome.read += 1
        except CgatsError as fault:
            outcome.refused[fault.code] += 1
        except Exception as fault:
            outcome.failed.append((data, repr(fault)))
        taken = time.perf_counter() - start
        outcome.slowest = max(outcome.slowest, taken)
        if taken > SLOWEST:
            outcome.failed.append((data, f"took {taken:.1f} s"))
        if len(outcome.failed) >= failures:
            break
    return outcome


def check(data: bytes) -> None:
    """Read on to the measurements, write what was read, and read that again."""
    document = read(data)
    measurements(document)
    again = _read_back(document)
    for left, right in zip(document.tables, again.tables, strict=True):
        if left.fields != right.fields or set(left.number) != set(right.number):
            raise AssertionError("other fields were read back")
        for name in left.fields:
            same = (
                np.array_equal(left.number[name], right.number[name], equal_nan=True)
                if name in left.number
                else left.text[name] == right.text[name]
            )
            if not same:
                raise AssertionError(f"{name} was read back otherwise")


def _read_back(document: CgatsDocument) -> CgatsDocument:
    written = write(document)
    try:
        return read(written)
    except CgatsError as fault:
        raise AssertionError(f"what was written is refused: {fault}") from fault


@contextmanager
def alarm(seconds: float) -> Iterator[None]:
    """Raise TimeoutError in what hangs."""

    def ring(*_: object) -> None:
        raise TimeoutError(f"hangs for {seconds} s")

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def main() -> int:
    """Fuzz as the options say and report."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--inputs", type=int, default=200_000)
    options.add_argument("--seed", type=int, default=1)
    chosen = options.parse_args()
    start = time.perf_counter()
    outcome = fuzz(chosen.inputs, chosen.seed)
    total = outcome.read + sum(outcome.refused.values()) + len(outcome.failed)
    print(f"{total} inputs, seed {chosen.seed}, {time.perf_counter() - start:.0f} s")  # noqa: T201
    print(f"read {outcome.read}, refused {sum(outcome.refused.values())}, slowest {outcome.slowest:.3f} s")  # noqa: T201
    for code, count in outcome.refused.most_common():
        print(f"{count:8} {code}")  # noqa: T201
    for data, fault in outcome.failed:
        with tempfile.NamedTemporaryFile(prefix="cgats-", suffix=".txt", delete=False) as kept:
            kept.write(data)
        print(f"FAILED {fault}: {kept.name}")  # noqa: T201
    return 1 if outcome.failed else 0


if __name__ == "__main__":
    sys.exit(main())
