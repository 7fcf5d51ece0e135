"""Reading a chart of 1617 patches with 36 bands: ours against Little CMS and numpy.loadtxt, in one run.

Run by hand: `.venv/bin/python tests/benchmarks/bench_cgats.py`. The figures are ratios of the best of many turns,
taken in alternation, so that a busy machine touches all of them alike.
"""

from __future__ import annotations

import io
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from sentinel.core.measurement.cgats import measurements, read
from tests.published.little_cms import LittleCms

PATCHES, BANDS, TURNS = 1617, 36, 60


def chart(quoted: bool = False, comma: bool = False) -> bytes:
    """A CGATS text of about 609 kB."""
    rng = np.random.default_rng(17)
    fields = ["SAMPLE_ID", "SAMPLE_NAME", "CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"]
    fields += [f"SPECTRAL_NM{380 + 10 * band}" for band in range(BANDS)]
    lines = []
    for patch, (inks, spectrum) in enumerate(
        zip(rng.choice([0, 10, 20, 40, 55, 70, 85, 100], (PATCHES, 4)), rng.random((PATCHES, BANDS)), strict=True)
    ):
        name = f"{chr(65 + patch % 26)}{patch // 26 + 1}"
        cells = [str(patch + 1), f'"{name}"' if quoted else name, *map(str, inks.tolist())]
        cells += [f"{value:.7f}" for value in spectrum]
        lines.append("\t".join(cells).replace(".", "," if comma else "."))
    header = [
        "CGATS.17",
        'ORIGINATOR "bench"',
        'MEASUREMENT_GEOMETRY "45/0, M1"',
        f"NUMBER_OF_FIELDS {len(fields)}",
        "BEGIN_DATA_FORMAT",
        "\t".join(fields),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {PATCHES}",
        "BEGIN_DATA",
    ]
    return "\n".join([*header, *lines, "END_DATA", ""]).encode()


def read_all(data: bytes) -> float:
    """Read, and touch every array and every id."""
    document = read(data)
    table = document.tables[0]
    return sum(float(column.sum()) for column in table.number.values()) + len(table.text["SAMPLE_ID"])


def measure(data: bytes) -> int:
    """Read on to the measurement."""
    return len(measurements(read(data))[0].chart.ids)


def loadtxt(data: bytes) -> float:
    """The cut block alone, read as numbers by numpy (its text columns left out)."""
    block = data[data.index(b"BEGIN_DATA\n") + 11 : data.index(b"END_DATA\n")]
    return float(np.loadtxt(io.BytesIO(block), usecols=[0, *range(2, 6 + BANDS)]).sum())


def best(calls: dict[str, Callable[[], object]]) -> dict[str, float]:
    """The best time of each call in ms."""
    times = dict.fromkeys(calls, float("inf"))
    for _ in range(TURNS):
        for name, call in calls.items():
            start = time.perf_counter()
            call()
            times[name] = min(times[name], 1e3 * (time.perf_counter() - start))
    return times


def main() -> None:
    """Print the times and the ratios that the project holds itself to."""
    library = LittleCms()
    data, quoted, comma = chart(), chart(quoted=True), chart(comma=True)
    times = best(
        {
            "Little CMS load and free": lambda: library.free(library.load(None, data, len(data))),
            "numpy.loadtxt on the block": lambda: loadtxt(data),
            "read, every array touched": lambda: read_all(data),
            "read and measurements": lambda: measure(data),
            "read, quoted names (careful way)": lambda: read_all(quoted),
            "read, decimal commas": lambda: read_all(comma),
        }
    )
    theirs, numpys = times["Little CMS load and free"], times["numpy.loadtxt on the block"]
    print(f"{PATCHES} patches x {BANDS} bands, {len(data)} bytes; best of {TURNS}\n")  # noqa: T201
    for name, taken in times.items():
        print(f"{name:34} {taken:7.2f} ms  {taken / theirs:6.3f} of Little CMS  {taken / numpys:6.3f} of loadtxt")  # noqa: T201


if __name__ == "__main__":
    main()
