"""Roll changes on one printer: what each takes, and the least that a set of stocks needs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


class Changeover:
    """Stocks are numbered as they stand in `cores`, 0 the one that is loaded."""

    def __init__(self, cores: Sequence[str | None], change_minutes: int, adapter_minutes: int) -> None:
        self.core_of = _classes(cores) if adapter_minutes else [0] * len(cores)
        """By stock. Where no adapter takes time, all are as if of one core."""
        self._change, self._adapter = change_minutes, adapter_minutes
        self.minutes = [[self._between(old, new) for new in range(len(cores))] for old in range(len(cores))]
        """By the stock on the printer, then by the one that follows."""
        self.longest = max(map(max, self.minutes))

    def _between(self, old: int, new: int) -> int:
        if old == new:
            return 0
        return self._change + (self._adapter if self.core_of[old] != self.core_of[new] else 0)

    def fewest(self, loaded: int, wanted: Iterable[int]) -> int:
        """The least minutes of changes for charts of the stocks `wanted`, in any order.

        Exact: every other stock must come on once and every other core once, and the order by core, then by stock,
        beginning with what is loaded, needs no more.
        """
        stocks = set(wanted) - {loaded}
        cores = {self.core_of[stock] for stock in stocks} - {self.core_of[loaded]}
        return len(stocks) * self._change + len(cores) * self._adapter


def _classes(cores: Sequence[str | None]) -> Sequence[str | int]:
    """A core nobody told is like no other: then no order seems to save an adapter that it may need."""
    return [stock if core is None else core for stock, core in enumerate(cores)]
