"""Any call to the disk may fail, once or for a while: nothing is lost, nothing told twice, all comes right."""

from __future__ import annotations

import random
from pathlib import Path

from tests.faults import injected, known, lived_through
from tests.faults.disk import Call
from tests.support.amount import LONG, amount


def test_whatever_call_fails_nothing_is_lost_and_nothing_is_told_twice(tmp_path: Path) -> None:
    """The small setting goes through one call at each place that matters most, the same ones each time."""
    seed = random.randrange(2**32) if LONG else 0
    runs = amount(0, long=60, by_hand="SENTINEL_FAULT_RUNS")
    outcomes = list(injected.gone_through(tmp_path, () if runs else SMALL, runs, seed))
    injected.rows(outcomes)
    assert len(outcomes) == (runs or len(SMALL))
    assert all(each.failed for each in outcomes if each.fault.many == 0 and each.fault.call is not Call.OPEN)
    bad = [f"{each.fault}: back {each.back:g} s; {each.fate}" for each in outcomes if not each.good]
    left = [each for each in outcomes if not each.good and known.after_injection(each) is None]
    assert not left, "\n".join([f"seed {seed}", *bad])


SMALL = (
    "archive|WRITE|ENOSPC|1|0|1|work",
    "archive|RENAME|EIO|1|1|1|work",
    "drop folder|UNLINK|EIO|1|0|1|work",
    "put-aside folder|RENAME|EDQUOT|1|0|1|work",
    "store|WRITE|EIO|40|1|1|work",
    "store|SYNC|EIO|3|0|1|work",
)

if LONG:  # real waits take real time

    def test_the_installed_service_lives_through_a_disk_that_fails_for_a_while(tmp_path: Path) -> None:
        seed = random.randrange(2**32)
        faults = lived_through.sample(amount(0, long=6, by_hand="SENTINEL_FAULT_RUNS"), seed)
        outcomes = list(lived_through.gone_through(tmp_path, faults))
        for each in outcomes:
            lived_through.row(each)
        assert len(outcomes) == len(faults)
        left = [each for each in outcomes if not each.good and known.after_living_through(each) is None]
        assert not left, "\n".join([f"seed {seed}", *map(str, left)])
