"""What the settings tell the planning of a round, and the drying time that holds."""

from __future__ import annotations

from pathlib import Path

import pytest

from sentinel.core.conditions.name import ConditionName
from sentinel.settings.loading import load
from sentinel.settings.resolving import Snapshot
from tests.support.toml import LEAST, faults, settings, written

ROOM = """\
[printers.north]
technology = "aqueous-dye"
[printers.south]
technology = "uv"
[printers.west]
technology = "latex"
[substrates.satin-240]
drying_hours = 6
drying_hours_by_technology = { uv = 0, latex = 0.5 }
[substrates.matte-190]
drying_hours_by_technology = { uv = 0 }
[substrates.canvas-340]
"""


@pytest.mark.parametrize(
    ("condition", "hours"),
    [
        ("north/satin-240", 6.0),
        ("south/satin-240", 0.0),
        ("west/satin-240", 0.5),
        ("west/satin-240/fine", 0.5),
        ("south/matte-190", 0.0),
        ("north/matte-190", None),
        ("north/canvas-340", None),
    ],
)
def test_the_drying_time_is_that_of_the_stock_with_the_ink_of_the_printer(
    tmp_path: Path, condition: str, hours: float | None
) -> None:
    name = ConditionName.parse(condition)
    assert name is not None
    snapshot = Snapshot(load(written(tmp_path, f'{LEAST}{ROOM}[conditions."{condition}"]\n')))
    assert snapshot.conditions[name].facts.drying_hours == hours


def test_a_room_that_says_nothing_has_times_to_plan_with(tmp_path: Path) -> None:
    told = settings(tmp_path, '[printers.north]\n[targets.house]\nfile = "house.txt"\ncolour_path = "ink-space"\n')
    printer, target = told.printers["north"], told.targets["house"]
    assert (printer.roll_change_minutes, printer.adapter_minutes) == (10, 0)
    assert (target.print_minutes, target.measuring_minutes, target.metres) == (10.0, 10.0, None)
    assert (told.round.soon_days, told.round.assumed_drying_hours) == (1.0, 24.0)


REFUSED = {
    "[printers.north]\nroll_change_minutes = 0": "printers.north.roll_change_minutes: expected",
    "[printers.north]\nroll_change_minutes = 2.5": "printers.north.roll_change_minutes: expected",
    "[printers.north]\nadapter_minutes = -1": "printers.north.adapter_minutes: expected",
    "[substrates.satin-240]\ndrying_hours = 0": "substrates.satin-240.drying_hours: expected",
    "[substrates.satin-240]\ncore_inches = 0": "substrates.satin-240.core_inches: expected",
    "[substrates.satin-240.drying_hours_by_technology]\nuv = -1": "drying_hours_by_technology.uv: expected",
    "[substrates.satin-240.drying_hours_by_technology]\nwax = 1": "drying_hours_by_technology.wax",
    "[round]\nassumed_drying_hours = 0": "round.assumed_drying_hours: expected",
    "[round]\nassumed_drying_hours = 1e7": "round.assumed_drying_hours: expected",
    "[round]\nsoon_days = -1": "round.soon_days: expected",
    '[targets.house]\ncolour_path = "ink-space"\nprint_minutes = 0': "targets.house.print_minutes: expected",
    '[targets.house]\ncolour_path = "ink-space"\nmeasuring_minutes = 0': "targets.house.measuring_minutes: expected",
    '[targets.house]\ncolour_path = "ink-space"\nmetres = 0': "targets.house.metres: expected",
}


@pytest.mark.parametrize(("text", "told"), REFUSED.items())
def test_a_time_or_length_that_makes_no_sense_is_refused_with_its_line(tmp_path: Path, text: str, told: str) -> None:
    [fault] = faults(tmp_path, f"{LEAST}{text}\n")
    assert told in fault
    assert fault.startswith(f":{len((LEAST + text).splitlines())}:1: ")
