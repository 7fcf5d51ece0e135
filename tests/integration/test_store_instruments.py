"""What an instrument read around a check, and what it says of the instrument. On a real store."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from sentinel.adapters.store.store import Store
from sentinel.core.conditions.checks import moved_alike
from tests.support.clock import NOON
from tests.support.records import check
from tests.support.room import SITE

DAY = timedelta(days=1)
SATIN = "north/satin-240"
HISTORY = {
    SATIN: {-30: 0.0, -20: 0.1, -10: 0.2, 5: 9.0},
    "south/satin-240": {-9: 0.0, -7: 0.5, 0: 2.5},
    "south/gone-away": {-40: 0.0, -35: 0.0},
    "west/fresh": {0: 3.0},
}
"""Mean ΔL* by the day of the reading, which is that of the check under diagnosis or one before or after it."""


@pytest.fixture
def store(tmp_path: Path) -> Store:
    store = Store(tmp_path / "store.sqlite", SITE)
    with store.transaction() as session:
        for condition, readings in HISTORY.items():
            for day, dl in readings.items():
                record = check(f"{condition} {day}", condition, measured_at=NOON + day * DAY)
                session.checks.add(replace(record, metrics={"all": {"dl_mean": dl}}))
        session.checks.add(replace(check("other", "south/other"), instrument="0077", metrics={"all": {"dl_mean": 5.0}}))
    return store


def test_only_what_can_be_compared_is_fetched_the_oldest_first(store: Store) -> None:
    with store.transaction() as session:
        found = session.checks.lightness("0042", SATIN, NOON, DAY, 1)
    assert [(each.condition, (each.at - NOON).days, each.dl) for each in found] == [
        (SATIN, -20, 0.1),
        (SATIN, -10, 0.2),
        ("south/satin-240", -7, 0.5),
        ("south/satin-240", 0, 2.5),
        ("west/fresh", 0, 3.0),
    ]


@pytest.mark.parametrize(("dl", "alike"), [(2.2, 1.0), (4.2, 0.0), (-1.8, -1.0), (0.5, None)])
def test_others_that_moved_as_far_speak_for_the_instrument(store: Store, dl: float, alike: float | None) -> None:
    """Satin stood at 0.2 before; the other condition of that day has moved by 2."""
    with store.transaction() as session:
        found = session.checks.lightness("0042", SATIN, NOON, DAY, 1)
    assert moved_alike(SATIN, dl, found, NOON, DAY) == (None if alike is None else pytest.approx(alike))
