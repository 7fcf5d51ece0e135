"""Kept targets in the service's own work: a new version, a retired one, and what past checks keep."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from sentinel.adapters.files.archive import Archive
from sentinel.core.scoring.target_versions import Retirement
from sentinel.settings.targets_and_limits import TargetTable
from tests.support import cgats
from tests.support.clock import NOON, FakeClock
from tests.support.records import digest, kept_target
from tests.support.room import Room, Staff

SATIN = "north/satin-240"
WITHOUT_FILE = ('file = "targets/house.txt"\n', "")
HIGHER = cgats.text(cgats.FAILING)
"""An aim so much lighter that what passes by one fails by the other."""


@pytest.fixture
def staff(room: Room, clock: FakeClock) -> Iterator[Staff]:
    room.configure(WITHOUT_FILE)
    workers = Staff(room, clock)
    yield workers
    workers.store.close()


def keep(staff: Staff, content: str, name: str = "house") -> None:
    Archive(staff.room.archive).keep(content.encode())
    with staff.store.transaction() as session:
        session.targets.add(kept_target(1, name, content).target)


def reasons(staff: Staff) -> str:
    return " ".join(str(found) for (found,) in staff.rows("SELECT reasons FROM unscored_file ORDER BY seq"))


def test_checks_are_scored_against_the_version_in_use_at_their_time(staff: Staff) -> None:
    keep(staff, cgats.text())
    staff.take(f"{SATIN}/one.txt", cgats.text(cgats.GOOD))
    keep(staff, HIGHER)
    staff.take(f"{SATIN}/two.txt", cgats.text(cgats.GOOD + 0.01))
    assert staff.checks() == [(SATIN, "pass"), (SATIN, "fail")]
    kept = [(check.target, check.target_hash) for check in staff.room.checks()]
    assert kept == [("house", digest(cgats.text())), ("house", digest(HIGHER))]


def test_a_retired_version_gives_way_to_the_one_before(staff: Staff) -> None:
    keep(staff, cgats.text())
    keep(staff, HIGHER)
    with staff.store.transaction() as session:
        session.targets.retire("house", None, Retirement("Ben", "too light", NOON))
    staff.take(f"{SATIN}/one.txt", cgats.text(cgats.GOOD))
    assert staff.checks() == [(SATIN, "pass")]


def test_where_the_only_version_is_retired_a_file_is_unscored_without_a_target(staff: Staff) -> None:
    keep(staff, cgats.text())
    with staff.store.transaction() as session:
        session.targets.retire("house", None, Retirement("Ben", "the stock is gone", NOON))
    staff.take(f"{SATIN}/one.txt", cgats.text(cgats.GOOD))
    assert staff.checks() == []
    assert '"code": "no-target"' in reasons(staff)
    assert "expected a version of the aim house in use, got none" in reasons(staff)


def test_a_condition_with_another_target_left_is_scored_against_that(staff: Staff) -> None:
    strip = '[targets.strip]\ncolour_path = "ink-space"\n'
    staff.room.configure(
        (
            '[conditions."north/satin-240"]\ntargets = ["house"]',
            f'[conditions."{SATIN}"]\ntargets = ["strip", "house"]',
        ),
        extra=strip,
    )
    staff.restart()
    staff.take(f"{SATIN}/one.txt", cgats.text(cgats.GOOD))
    assert staff.checks() == [(SATIN, "pass")]
    keep(staff, cgats.text(cgats.GOOD), "strip")
    staff.take(f"{SATIN}/two.txt", cgats.text(cgats.GOOD + 0.01))
    assert [check.target for check in staff.room.checks()] == ["house", "strip"]


def test_a_kept_target_is_a_rival_like_any_other(staff: Staff) -> None:
    keep(staff, cgats.text())
    staff.room.configure(
        WITHOUT_FILE,
        ('[conditions."north/matte-190"]\ntargets = ["house"]', '[conditions."north/matte-190"]\ntargets = ["matte"]'),
        extra='[targets.matte]\ncolour_path = "ink-space"\n',
    )
    staff.restart()
    keep(staff, HIGHER, "matte")
    staff.take(f"{SATIN}/one.txt", HIGHER)
    [[found]] = staff.rows('SELECT reasons FROM "check"')
    assert "rival-fits-better" in str(found)


def test_the_settings_in_force_are_recorded_with_a_target_without_a_file(staff: Staff) -> None:
    assert staff.snapshot.loaded.settings.targets == {"house": TargetTable(colour_path="ink-space")}
    staff.schedule.in_force(staff.snapshot.in_force)
    [[settings]] = staff.rows("SELECT settings FROM settings_in_force")
    assert '"file": null' in str(settings)
