"""How far long work is: a bar with rate and time left at a terminal, nothing anywhere else."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from typing import TypeVar

Each = TypeVar("Each")


class Progress:
    """Hands on what is worked at, and shows how far it is on standard error."""

    def __init__(self, what: str, unit: str) -> None:
        self._what = what
        self._unit = unit

    def __call__(self, work: Sequence[Each]) -> Iterable[Each]:
        """Each in turn."""
        return self._shown(work) if sys.stderr.isatty() else iter(work)

    def _shown(self, work: Sequence[Each]) -> Iterator[Each]:
        from tqdm import tqdm

        yield from tqdm(work, desc=self._what, unit=f" {self._unit}s", file=sys.stderr, leave=False, dynamic_ncols=True)
