"""Processor time of texts made to be slow: how it grows with each doubling of their size. Ratios alone tell.

Run by hand: `.venv/bin/python tests/benchmarks/bench_hostile.py [--bytes 100000] [--only WORD]`. Linear time doubles;
a row is marked where it grows by more than 2.6 twice in turn. Memory beside it, in sizes of the largest text.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fuzz.growth import DOUBLINGS, memory
from tests.fuzz.hostile import CASES

STEEP = 2.6
TURNS = 3
QUICKEST = 0.004
"""Seconds; what takes less is not told apart from what every text takes."""


def seconds(run: Callable[[bytes], object], data: bytes) -> float:
    """The best of some turns."""
    times = []
    for _ in range(TURNS):
        start = time.process_time()
        run(data)
        times.append(time.process_time() - start)
    return min(times)


def main() -> None:
    """A row for each shape."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--bytes", type=int, default=50_000)
    options.add_argument("--only", default="")
    chosen = options.parse_args()
    for name, (shape, run) in CASES.items():
        if chosen.only not in name:
            continue
        texts = [shape(chosen.bytes << doubling) for doubling in range(DOUBLINGS + 1)]
        times = [seconds(run, text) for text in texts]
        ratios = [after / before for before, after in pairwise(times)]
        steep = times[-1] > QUICKEST and all(ratio > STEEP for ratio in ratios[-2:])
        told = " ".join(f"{ratio:5.2f}" for ratio in ratios)
        speed = 1e3 * times[-1] / (len(texts[-1]) / 1e6)
        held = memory(run, texts[-1]) / len(texts[-1])
        mark = "  <-- steep" if steep else ""
        print(f"{name:55} {told}  {speed:7.0f} ms/MB  {held:5.1f} B/B{mark}", flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
