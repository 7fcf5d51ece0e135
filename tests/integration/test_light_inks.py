"""A light ink off, in a room that says which inks its printer splits: what is recorded. The sheet
is of the print simulator; the diagnosis itself is judged in tests/simulation/diagnosis."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from demo.simulator.checks import LabelledCheck
from tests.integration.test_withheld_verdicts import SATIN, drawn, room_of
from tests.support.room import Staff

PRINTER = "[printers.north]\n"


@pytest.fixture(scope="module")
def weak() -> LabelledCheck:
    return drawn("light ink")


def recorded(staff: Staff, check: LabelledCheck, said: str) -> dict[tuple[str, str | None], dict[str, Any]]:
    """The findings of the check in a room where this is said of the printer."""
    if said:
        staff.room.configure((PRINTER, f"{PRINTER}{said}\n"))
        staff = Staff(staff.room)
    staff.take(f"{SATIN}/sheet.txt", check.file)
    [(diagnosis,)] = staff.rows('SELECT diagnosis FROM "check"')
    return {(each["cause"], each["ink"]): each for each in json.loads(str(diagnosis))}


@pytest.mark.parametrize("said", ["", 'light_inks = ["C", "M", "K"]'])
def test_a_light_ink_off_is_recorded_with_its_ink_and_forbids_recalibrating(
    tmp_path: Path, weak: LabelledCheck, said: str
) -> None:
    staff = room_of(tmp_path, weak)
    found = recorded(staff, weak, said)
    [label] = weak.labels
    own = found["light-ink", label.ink]
    assert own["answers"]
    assert own["sign"] == label.sign
    assert own["who_acts"] == "operator"
    assert not any(each["recalibration_helps"] for each in found.values())


def test_where_the_printer_splits_none_no_light_ink_is_looked_for(tmp_path: Path, weak: LabelledCheck) -> None:
    found = recorded(room_of(tmp_path, weak), weak, "light_inks = []")
    assert "light-ink" not in {cause for cause, _ in found}
