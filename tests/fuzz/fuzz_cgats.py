"""A mutator of structured texts: whatever comes, the readers read it or raise their own error, and soon.

Texts come out of the grammar (`grammar`) and out of invented readings in many styles, and get one to four wounds. What
is read of a measurement file is held against the ranges that the reader states, written, and read back; files of events
are read to events. By hand: `.venv/bin/python tests/fuzz/fuzz_cgats.py --inputs 5000000 --seed 7`. An input is made of
its seed alone (`--only SEED`). One that fails is kept beside the temporary files and its path printed; the exit code is
then 1.
"""

from __future__ import annotations

import argparse
import random
import signal
import sys
import tempfile
import time
import tracemalloc
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from sentinel.core.arrays import FloatArray
from sentinel.core.conditions.event_input import EventFileError, events_of
from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import CgatsDocument, CgatsError, measurements, read, write
from sentinel.core.measurement.cgats.ranges import RANGES
from sentinel.core.measurement.cgats.reflectance import HIGHEST, LOWEST
from tests.fuzz import grammar
from tests.fuzz.hostile import KNOWN, NOW
from tests.unit.core.measurement.cgats.readings import BAND_SPELLINGS, CASES, Reading, Style, render

SLOWEST = 1.0
"""Seconds of the processor that one small input may take."""
WEIGHED = 40
"""Of so many inputs one has its memory measured, since that takes time."""
LEAST_WEIGHED = 1000
"""Bytes of a text for which memory is counted by the byte; of shorter ones it is mostly what every text takes."""
HEAVIEST = 3_000_000
"""Bytes that reading one small input may hold; the most of it are buffers of fixed size."""

WORDS = [
    *(b"BEGIN_DATA", b"END_DATA", b"BEGIN_DATA_FORMAT", b"END_DATA_FORMAT", b"NUMBER_OF_SETS", b"NUMBER_OF_FIELDS"),
    *(b"SAMPLE_ID", b"LAB_L", b"XYZ_Y", b"SPECTRAL_NM", b"SPECTRAL_DEC", b"SPECTRAL_NM380", b"KEYWORD", b"CGATS.17"),
    *(b"\t", b" ", b"\n", b"\r", b"\r\n", b"\f", b"\x00", b"\x1a", b"\xef\xbb\xbf", b"\xff\xfe", b"\xc2\xa0", b"\xb2"),
    *(b'"', b'""', b"'", b"#", b" #", b",", b".", b"-", b"+", b"e", b"E-2", b"NA", b"nan", b"inf", b"1e999", b"0x10"),
    *(b".INCLUDE", b"$INCLUDE x", b"9" * 20, b"1" * 400, b"0" * 30, b"\xe2\x80\xa8", b"\xd9\xa3", b"CREATED", b"M1"),
]


def _text(rng: random.Random) -> bytes:
    """A small text of invented readings in some style."""
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


Texts = Sequence[Callable[[], bytes]]


def mutate(rng: random.Random, whole: bytes, texts: Texts) -> bytes:
    """A text with one to four wounds; `texts` make what is cut out of other texts, each only when it is wanted."""
    data = bytearray(whole)
    for _ in range(rng.choice([1, 1, 1, 2, 3, 4])):
        rng.choice(WOUNDS)(rng, data, texts)
    return bytes(data)


def _span(rng: random.Random, data: bytearray) -> tuple[int, int]:
    start = rng.randrange(len(data) + 1)
    return start, min(len(data), start + rng.choice([1, 1, 2, 5, 20, 100]))


def _change(rng: random.Random, data: bytearray, texts: Texts) -> None:
    if data:
        data[rng.randrange(len(data))] = rng.randrange(256)


def _drop(rng: random.Random, data: bytearray, texts: Texts) -> None:
    start, end = _span(rng, data)
    del data[start:end]


def _double(rng: random.Random, data: bytearray, texts: Texts) -> None:
    start, end = _span(rng, data)
    data[start:start] = data[start:end] * rng.choice([1, 1, 2, 10])


def _insert(rng: random.Random, data: bytearray, texts: Texts) -> None:
    start, _ = _span(rng, data)
    data[start:start] = rng.choice(WORDS) * rng.choice([1, 1, 1, 3])


def _replace(rng: random.Random, data: bytearray, texts: Texts) -> None:
    start, end = _span(rng, data)
    data[start:end] = rng.choice(WORDS)


def _move(rng: random.Random, data: bytearray, texts: Texts) -> None:
    start, end = _span(rng, data)
    piece = data[start:end]
    del data[start:end]
    start, _ = _span(rng, data)
    data[start:start] = piece


def _splice(rng: random.Random, data: bytearray, texts: Texts) -> None:
    start, end = _span(rng, data)
    other = rng.choice(texts)()
    at = rng.randrange(len(other) + 1)
    data[start:end] = other[at : at + rng.choice([10, 50, 400])]


def _double_a_line(rng: random.Random, data: bytearray, texts: Texts) -> None:
    start, end = _line(rng, data)
    data[start:start] = data[start:end] * rng.choice([1, 1, 3])


def _drop_a_line(rng: random.Random, data: bytearray, texts: Texts) -> None:
    start, end = _line(rng, data)
    del data[start:end]


def _move_a_line(rng: random.Random, data: bytearray, texts: Texts) -> None:
    start, end = _line(rng, data)
    line = data[start:end]
    del data[start:end]
    at, _ = _line(rng, data)
    data[at:at] = line


def _line(rng: random.Random, data: bytearray) -> tuple[int, int]:
    at = rng.randrange(len(data) + 1)
    return data.rfind(b"\n", 0, at) + 1, data.find(b"\n", at) + 1 or len(data)


def _cut(rng: random.Random, data: bytearray, texts: Texts) -> None:
    del data[rng.randrange(len(data) + 1) :]


Wound = Callable[[random.Random, bytearray, Texts], None]
WOUNDS: tuple[Wound, ...] = (
    *(_change, _change, _drop, _drop, _double, _insert, _insert, _replace, _move, _splice, _cut),
    *(_double_a_line, _drop_a_line, _move_a_line),
)


@dataclass
class Outcome:
    """How many inputs were read or refused with which code, and those that failed with their seeds.

    `slowest` is in seconds of the processor, `heaviest` in bytes held for each byte of a text that is no shorter than
    LEAST_WEIGHED; both with their seeds.
    """

    read: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    slowest: tuple[float, int] = (0.0, 0)
    heaviest: tuple[float, int] = (0.0, 0)
    failed: list[tuple[int, bytes, str]] = field(default_factory=list)

    @property
    def inputs(self) -> int:
        """How many there were."""
        return self.read + sum(self.refused.values()) + len(self.failed)


ENDING = ".txt"
"""Of files of measurements."""


def text_of(seed: int) -> tuple[str, bytes]:
    """The name and the bytes of an input."""
    rng = random.Random(seed)
    kind = rng.random()
    name, whole = (
        grammar.events(rng) if kind < 0.15 else ("sheet.txt", grammar.sheet(rng) if kind < 0.75 else _text(rng))
    )
    if rng.random() < 0.15:
        return name, whole
    return name, mutate(
        rng, whole, (lambda: grammar.events(rng)[1] if kind < 0.15 else grammar.sheet(rng), lambda: whole)
    )


def fuzz(inputs: int, seed: int, failures: int = 5) -> Outcome:
    """Read so many mutated texts; stops after some failures."""
    outcome = Outcome()
    for own in range(seed * 1_000_000_000, seed * 1_000_000_000 + inputs):
        name, data = text_of(own)
        start = time.process_time()
        try:
            with alarm(5 * SLOWEST):
                check(name, data)
            outcome.read += 1
        except CgatsError as fault:
            outcome.refused[fault.code] += 1
        except EventFileError:
            outcome.refused["events refused"] += 1
        except Exception as fault:
            outcome.failed.append((own, data, repr(fault)))
        taken = time.process_time() - start
        outcome.slowest = max(outcome.slowest, (taken, own))
        if taken > SLOWEST:
            outcome.failed.append((own, data, f"took {taken:.1f} s"))
        if own % WEIGHED == 0:
            _weigh(outcome, own, name, data)
        if len(outcome.failed) >= failures:
            break
    return outcome


def _weigh(outcome: Outcome, seed: int, name: str, data: bytes) -> None:
    tracemalloc.start()
    try:
        read_all(name, data)
    except (CgatsError, EventFileError):
        pass
    except Exception:
        return  # told already
    finally:
        held = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    if len(data) >= LEAST_WEIGHED:
        outcome.heaviest = max(outcome.heaviest, (held / len(data), seed))
    if held > HEAVIEST:
        outcome.failed.append((seed, data, f"held {held} bytes"))


def read_all(name: str, data: bytes) -> None:
    """Read on to the measurements, or to the events."""
    if name.endswith(ENDING):
        measurements(read(data))
    else:
        events_of(name, data, KNOWN, NOW)


def check(name: str, data: bytes) -> None:
    """Read on to the measurements, hold them against their ranges, write what was read, and read that again."""
    if not name.endswith(ENDING):
        read_all(name, data)
        return
    document = read(data)
    for measurement in measurements(document):
        _within_ranges(measurement)
    again = _read_back(document)
    for left, right in zip(document.tables, again.tables, strict=True):
        if left.fields != right.fields or set(left.number) != set(right.number):
            raise AssertionError("other fields were read back")
        for field_name in left.fields:
            same = (
                np.array_equal(left.number[field_name], right.number[field_name], equal_nan=True)
                if field_name in left.number
                else left.text[field_name] == right.text[field_name]
            )
            if not same:
                raise AssertionError(f"{field_name} was read back otherwise")


def _within_ranges(measurement: Measurement) -> None:
    if measurement.lab is not None:
        for axis, name in enumerate(("LAB_L", "LAB_A", "LAB_B")):
            _within(measurement.lab[:, axis], RANGES[name].lowest, RANGES[name].highest, name)
    if measurement.xyz is not None:
        _within(measurement.xyz, LOWEST * 100, HIGHEST * 100, "XYZ")
    if measurement.reflectance is not None:
        _within(measurement.reflectance, LOWEST, HIGHEST, "reflectance")
    _within(measurement.chart.device, -1.0, 65_536.0 * 255, "device values")


def _within(values: FloatArray, lowest: float, highest: float, name: str) -> None:
    known = values[~np.isnan(values)]
    if ((known < lowest - 1e-9) | (known > highest + 1e-9)).any():
        raise AssertionError(f"{name} of {known.min():g} to {known.max():g} was read")


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

    before = signal.signal(signal.SIGVTALRM, ring)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def main() -> int:
    """Fuzz as the options say and report."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--inputs", type=int, default=200_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--only", type=int, metavar="SEED", help="print one input and go through it")
    chosen = options.parse_args()
    if chosen.only is not None:
        name, data = text_of(chosen.only)
        print(name, data)  # noqa: T201
        check(name, data)
        return 0
    start = time.perf_counter()
    outcome = fuzz(chosen.inputs, chosen.seed)
    print(f"{outcome.inputs} inputs, seed {chosen.seed}, {time.perf_counter() - start:.0f} s")  # noqa: T201
    print(f"read {outcome.read}, refused {sum(outcome.refused.values())}; {worst(outcome)}")  # noqa: T201
    for code, count in outcome.refused.most_common():
        print(f"{count:8} {code}")  # noqa: T201
    for seed, data, fault in outcome.failed:
        with tempfile.NamedTemporaryFile(prefix="cgats-", suffix=".txt", delete=False) as kept:
            kept.write(data)
        print(f"FAILED {fault}: seed {seed}, {kept.name}")  # noqa: T201
    return 1 if outcome.failed else 0


def worst(outcome: Outcome) -> str:
    """The slowest and the heaviest input in words."""
    (slowest, slow), (heaviest, heavy) = outcome.slowest, outcome.heaviest
    return f"slowest {slowest * 1e3:.0f} ms (seed {slow}), most memory {heaviest:.0f} B a byte (seed {heavy})"


if __name__ == "__main__":
    sys.exit(main())
