"""What a service that lives for months takes of the machine: memory, descriptors and threads flat, the store linear.

By hand, two years: `python -m tests.faults.months 24` prints every month.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

from tests.faults.months import lived
from tests.support.amount import amount

SETTLED = 2
"""The month, counted from 0, after which nothing grows any more but what is on record."""


def test_months_lose_nothing_and_leave_nothing_behind(tmp_path: Path) -> None:
    months = amount(1, long=3, by_hand="SENTINEL_FAULT_MONTHS")
    years, taken = lived(tmp_path, months)
    for each in taken:
        print(each)  # noqa: T201 - shown where the test fails
    assert years.kept() == years.dropped > 10 * months
    assert years.room.dropped() == []
    assert years.post.taken > 0
    assert {each.descriptors for each in taken[SETTLED:]} <= {taken[-1].descriptors}
    assert {each.threads for each in taken} == {taken[0].threads}
    if months <= SETTLED + 1:
        return
    settled, last = taken[SETTLED], taken[-1]
    assert last.objects < 1.05 * settled.objects
    assert last.resident_kb < 1.25 * settled.resident_kb
    grown = [after.store_kb - before.store_kb for before, after in pairwise(taken)]
    half = len(grown) // 2
    assert sum(grown[half:]) / len(grown[half:]) < 1.5 * sum(grown[:half]) / half
    assert last.calls_a_check < 1.5 * settled.calls_a_check
