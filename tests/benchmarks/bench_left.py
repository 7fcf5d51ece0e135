"""Looks at a drop folder in which many files were left, as multiples of listing it by the system alone.

    .venv/bin/python -m tests.benchmarks.bench_left [FILES]

`first` is the look after a start, `again` one that lists everything, `named` one at a file that an event named.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.settings.site import FoldersTable

IGNORE = FoldersTable.model_fields["ignore"].default


def seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def listed(folder: Path) -> None:
    with os.scandir(folder) as entries:
        for _ in entries:
            pass


def main() -> None:
    """Prints a line a kind of look."""
    files = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    with tempfile.TemporaryDirectory(dir="/dev/shm") as place:
        drop, aside = Path(place) / "drop", Path(place) / "aside"
        drop.mkdir()
        for number in range(files):
            (drop / f"{number}.txt").touch()
        left = {found.origin for found in DropFolders([drop], aside, IGNORE).found()}
        folders = DropFolders([drop], aside, IGNORE)
        alone = min(seconds(lambda: listed(drop)) for _ in range(5))
        first = seconds(lambda: folders.found((), left))

        def again() -> None:
            folders._listed_until = 0.0
            folders.found((), left)

        whole = min(seconds(again) for _ in range(5))
        new = drop / "new.txt"
        new.touch()
        named = seconds(lambda: folders.found({str(new)}, left))
        print(f"{files} files left, listed by the system in {1e3 * alone:.0f} ms")  # noqa: T201
        for name, took in (("first", first), ("again", whole), ("named", named)):
            print(f"{name:>6} {took / alone:8.2f} times that, {1e3 * took:9.2f} ms")  # noqa: T201


if __name__ == "__main__":
    main()
