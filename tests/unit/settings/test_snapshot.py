"""The settings as the core works with them."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from sentinel.core.conditions.name import ConditionName
from sentinel.core.measurement import MeasurementCondition
from sentinel.core.scoring.policy import mark
from sentinel.settings.loading import load
from sentinel.settings.resolving import Snapshot
from tests.support.toml import LEAST, written

ROOM = """\
[due]
max_age_days = 7
[printers.north]
aliases = ["Printer 1"]
[printers.south]
[substrates.satin]
label = "White satin"
[substrates.bare]
[substrates.film]
opacity = "transparent"
[targets.house]
file = "house.txt"
colour_path = "ink-space"
[targets.strip]
file = "strip.txt"
colour_path = "ink-space"
[conditions."north/satin"]
targets = ["house", "strip"]
max_age_days = 0.5
[conditions."north/film"]
targets = ["strip"]
[conditions."north/bare"]
[conditions."south/film"]
measurable = true
[conditions."south/satin"]
not_measurable = "the roll is torn"
[instruments.0042]
m_condition = "M2"
backing = "white"
[[routes]]
by = "folder"
m_condition = "M1"
backing = "black"
"""
SATIN, FILM = ConditionName("north", "satin"), ConditionName("north", "film")
NORTH_BARE = ConditionName("north", "bare")
SOUTH_SATIN, SOUTH_FILM = ConditionName("south", "satin"), ConditionName("south", "film")


@pytest.fixture
def snapshot(tmp_path: Path) -> Snapshot:
    return Snapshot(load(written(tmp_path, LEAST + ROOM)))


def test_a_condition_keeps_its_own_age_else_that_of_all(snapshot: Snapshot) -> None:
    assert snapshot.conditions[SATIN].due.max_age == timedelta(hours=12)
    assert snapshot.conditions[FILM].due.max_age == timedelta(days=7)


@pytest.mark.parametrize(
    ("condition", "codes"),
    [
        (SATIN, []),
        (FILM, ["transparent"]),
        (SOUTH_FILM, []),
        (SOUTH_SATIN, ["declared-not-measurable"]),
    ],
)
def test_obstacles_come_from_the_substrate_unless_somebody_declared(
    snapshot: Snapshot, condition: ConditionName, codes: list[str]
) -> None:
    assert [reason.code.value for reason in snapshot.conditions[condition].obstacles] == codes


def test_the_words_of_a_declaration_are_kept(snapshot: Snapshot) -> None:
    [reason] = snapshot.conditions[SOUTH_SATIN].obstacles
    assert str(reason.message).endswith("the roll is torn")


def test_the_targets_of_a_printer_s_other_conditions_are_named_with_their_stocks(snapshot: Snapshot) -> None:
    assert snapshot.conditions[NORTH_BARE].scoring.rivals == {
        "house": "White satin",
        "strip": "White satin or film",
    }
    assert snapshot.conditions[FILM].scoring.rivals == {"house": "White satin"}
    assert snapshot.conditions[SATIN].scoring.rivals == {}
    assert snapshot.conditions[SOUTH_FILM].scoring.rivals == {}


def test_spellings_are_known_by_their_folded_form(snapshot: Snapshot) -> None:
    assert snapshot.catalogue.printers == {"north": "north", "printer1": "north", "south": "south"}


def test_a_condition_is_resolved_when_it_is_first_asked_for_and_kept(snapshot: Snapshot) -> None:
    assert snapshot.conditions[SATIN] is snapshot.house.conditions[SATIN]
    assert snapshot.conditions[SATIN] is not snapshot.conditions[FILM]
    assert list(snapshot.conditions) == [SATIN, FILM, NORTH_BARE, SOUTH_FILM, SOUTH_SATIN]


def test_a_condition_that_the_settings_do_not_have_has_no_policy(snapshot: Snapshot) -> None:
    with pytest.raises(KeyError):
        snapshot.conditions[ConditionName("south", "bare")]


def test_every_target_is_known_as_it_would_hold_on_a_condition(snapshot: Snapshot) -> None:
    scoring = snapshot.conditions[FILM].scoring
    assert scoring.own == ("strip",)
    assert set(scoring.targets) == {"house", "strip"}
    assert scoring.targets["house"].mark == mark(scoring.targets["house"].limits)


SAID = MeasurementCondition(m="M0", backing="white")
SILENT = MeasurementCondition(illuminant="D50", observer=2)


def test_what_a_file_says_is_not_overruled(snapshot: Snapshot) -> None:
    assert snapshot.house.declared(SAID, "0042", snapshot.house.routes[0]) == SAID


@pytest.mark.parametrize(
    ("serial", "with_route", "declared"),
    [
        ("0042", True, ("M2", "white")),
        ("0042", False, ("M2", "white")),
        (None, True, ("M1", "black")),
        ("0043", True, ("M1", "black")),
        (None, False, (None, None)),
    ],
)
def test_a_silent_file_takes_what_its_instrument_else_its_route_declares(
    snapshot: Snapshot, serial: str | None, with_route: bool, declared: tuple[str | None, str | None]
) -> None:
    found = snapshot.house.declared(SILENT, serial, snapshot.house.routes[0] if with_route else None)
    assert (found.m, found.backing) == declared
    assert (found.illuminant, found.observer) == ("D50", 2)
