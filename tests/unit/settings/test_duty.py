"""`[duty]`: what is refused, with its place; gaps; what the core gets."""

from __future__ import annotations

from datetime import time
from pathlib import Path

import pytest

from sentinel.core.cases.duty import OffDuty, WorkShift
from sentinel.core.cases.notice_policy import QuietHours
from sentinel.errors import AdminError
from sentinel.settings.loading import load
from sentinel.settings.models import MOST_SHIFTS
from sentinel.settings.references import duty_gaps
from sentinel.settings.resolving import Snapshot
from tests.support.room import Room

PEOPLE = '[recipients.ana]\nurl_env = "A"\n[recipients.ben]\nurl_env = "B"\n'
DAY = '[duty.day]\nhours = [06:00:00, 18:00:00]\nrecipients = ["ana"]\n'


def faults(room: Room, text: str) -> str:
    with pytest.raises(AdminError) as refused:
        room.configure(extra=PEOPLE + text)
    return str(refused.value)


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ('[duty.day]\nrecipients = ["anna"]\n', "duty.day.recipients: expected a recipient of this file"),
        ("[duty.day]\nrecipients = []\n", "duty.day.recipients: "),
        ('[duty.day]\nrecipients = ["ana"]\ndays = []\n', "duty.day.days: "),
        (
            '[duty.day]\nrecipients = ["ana"]\nhours = [06:00:00, 06:00:00]\n',
            "duty.day: expected a shift that lasts, got 06:00:00 to 06:00:00",
        ),
        ('[duty.day]\nrecipients = ["ana"]\ndays = ["montag"]\n', "duty.day.days[1]: expected 'monday'"),
        (
            f'{DAY}[duty.late]\nhours = [17:00:00, 23:00:00]\nrecipients = ["ben"]\n',
            "duty.late: expected shifts that do not overlap, got 'day' and 'late' both on monday 17:00",
        ),
        (
            '[duty.night]\nhours = [22:00:00, 06:00:00]\nrecipients = ["ben"]\ndays = ["sunday"]\n'
            '[duty.day]\ndays = ["monday"]\nrecipients = ["ana"]\n',
            "duty.day: expected shifts that do not overlap, got 'night' and 'day' both on monday 00:00",
        ),
    ],
)
def test_what_is_refused(room: Room, text: str, fault: str) -> None:
    assert fault in faults(room, text)


def test_a_shift_at_fault_brings_up_no_fault_that_it_may_not_have(room: Room) -> None:
    told = faults(room, f"{DAY}[duty.late]\nhours = 5\n")
    assert "overlap" not in told
    assert "duty.late" in told


def test_more_shifts_than_anybody_has_are_refused(room: Room) -> None:
    many = "".join(f'[duty.s{number}]\nrecipients = ["ana"]\n' for number in range(MOST_SHIFTS + 1))
    assert "duty: " in faults(room, many)


def test_gaps_are_told_and_refuse_nothing(room: Room) -> None:
    settings = room.configure(extra=PEOPLE + DAY).loaded.settings
    gaps = duty_gaps(settings)
    assert len(gaps) == 7
    assert gaps[0] == "nobody from monday 18:00 to tuesday 06:00: what is not urgent waits for the next shift"
    assert duty_gaps(room.configure().loaded.settings) == []


def test_whoever_has_shifts_is_told_by_them_alone(room: Room) -> None:
    policy = room.configure(extra=PEOPLE + DAY).house.notices
    assert policy.duty.shifts == (WorkShift("day", ("ana",), time(6), time(18)),)
    assert isinstance(policy.subscribers["ana"].quiet, OffDuty)
    quiet = policy.subscribers["ben"].quiet
    assert isinstance(quiet, QuietHours)
    assert quiet.days_off


def test_the_shifts_of_the_guide_load(tmp_path: Path) -> None:
    guide = Path("config/README.md").read_text()
    [example] = [each for each in guide.split("```toml\n")[1:] if each.startswith("[duty.day]")]
    room = Room(tmp_path / "room")
    people = "".join(f'[recipients.{name}]\nurl_env = "A"\n' for name in ("hall", "lead", "night", "standby"))
    week = 'name = "hall"\nworking_days = ["monday", "tuesday", "wednesday", "thursday", "friday"]\n'
    text = room.config.read_text().replace('name = "hall"\n', week)
    room.config.write_text(text + people + example.partition("```")[0])
    assert set(load(room.config).settings.duty) == {"day", "night", "weekend"}
    assert Snapshot(load(room.config)).house.notices.duty.shifts
