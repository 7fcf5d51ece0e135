"""Charts, stocks and cores of one printer that differ in name alone, so that one order of them stands for all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from sentinel.core.planning.jobs import Job


class Group(NamedTuple):
    """Jobs as bits, and all that counts of them but their names."""

    jobs: int
    likeness: Hashable


def begun_before(jobs: Mapping[int, Job], core_of: Sequence[Hashable]) -> dict[int, list[int]]:
    """By job, sets of jobs: while one of them is still to print as a whole, the job need not be next.

    Charts of a stock are twins when they take the same times, stocks of a core when their charts are, and cores when
    their stocks are. Twins of which none is begun can change places in any plan, so they are begun in the order in
    which they are numbered. `core_of` tells the core of every stock; stock 0 is the one that is loaded, so that no
    other is like it, nor another core like its core.
    """
    before: dict[int, list[int]] = {number: [] for number in jobs}
    cores: dict[Hashable, list[Group]] = {}
    for stock in sorted({job.stock for job in jobs.values()}):
        charts = [Group(1 << number, job[3:]) for number, job in jobs.items() if job.stock == stock]
        _chain(charts, before)
        if stock:
            cores.setdefault(core_of[stock], []).append(_together(charts))
    for stocks in cores.values():
        _chain(stocks, before)
    _chain([_together(stocks) for core, stocks in cores.items() if core != core_of[0]], before)
    return before


def _together(groups: Sequence[Group]) -> Group:
    alike = Counter(group.likeness for group in groups)
    return Group(sum(group.jobs for group in groups), frozenset(alike.items()))


def _chain(groups: Iterable[Group], before: dict[int, list[int]]) -> None:
    """Each waits until the one before it that is like it has begun."""
    last: dict[Hashable, int] = {}
    for group in groups:
        for number, waits_for in before.items():
            if group.jobs >> number & 1 and group.likeness in last:
                waits_for.append(last[group.likeness])
        last[group.likeness] = group.jobs
