"""Notices against receivers that refuse, hang, answer 429 and 500, cut off, or never confirm; and a long outage.

The counts are those of the receivers' own logs. The long run, of 1,000 cases: `python -m tests.faults.storm`.
"""

from __future__ import annotations

from pathlib import Path

from tests.faults.progress import done
from tests.faults.storm import bad_servers, long_outage
from tests.support.amount import amount


def test_no_notice_is_lost_or_changed_or_overtaken_on_the_way_to_bad_servers(tmp_path: Path) -> None:
    cases = amount(4, long=20)
    storm, deaths = bad_servers(tmp_path, cases, share=0.4, hangs=1, chance=1.2 / cases)
    storm.stop()
    for each in storm.outcomes():
        print(each)  # noqa: T201 - shown where the test fails
        assert (each.notices, each.withdrawn, each.lost, each.changed, each.out_of_order) == (
            cases * 3 // 2,
            0,
            [],
            [],
            [],
        )
    assert deaths > 0
    assert sum(each.repeated for each in storm.outcomes()) >= deaths
    assert set(storm.room.statuses()) == {"sent"}


def test_after_an_outage_of_three_days_everything_is_told_in_a_few_messages(tmp_path: Path) -> None:
    cases = amount(9, long=54)
    storm, waited = long_outage(tmp_path, cases, apart=3, pace=amount(5400, long=1800))
    storm.stop()
    for each in storm.outcomes():
        print(each)  # noqa: T201 - shown where the test fails
        assert (each.withdrawn, each.lost, each.changed, each.out_of_order) == (0, [], [], [])
        assert waited[each.recipient] >= cases
        assert each.messages <= 4
    assert done(storm.room)
