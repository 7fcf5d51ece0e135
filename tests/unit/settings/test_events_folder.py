"""The folder of event files must not meet what else the sentinel keeps or takes."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.toml import LEAST, faults, settings

ENDING = 'put_aside = "aside"\n'


def with_events(place: str) -> str:
    return LEAST.replace(ENDING, f'{ENDING}events = "{place}"\n')


def test_a_folder_of_events_starts_at_the_folder_of_the_settings(tmp_path: Path) -> None:
    assert settings(tmp_path).folders.events is None
    assert faults(tmp_path, with_events("events")) == []


@pytest.mark.parametrize("place", ["drop", "drop/events", "."])
def test_it_must_lie_apart_from_the_drop_folders(tmp_path: Path, place: str) -> None:
    told = faults(tmp_path, with_events(place))
    expected = f"folders.events: expected a folder apart from the drop folder {tmp_path}/drop, got {tmp_path / place}"
    assert any(line.endswith(expected) for line in told)


@pytest.mark.parametrize(("place", "key"), [("archive", "folders.archive"), (".", "store.path")])
def test_nothing_that_is_kept_may_lie_in_it(tmp_path: Path, place: str, key: str) -> None:
    told = faults(tmp_path, with_events(place))
    assert any(f"{key}: expected a place outside the events folder {tmp_path / place}, got " in line for line in told)


def test_what_is_put_aside_must_not_be_taken_again(tmp_path: Path) -> None:
    told = faults(tmp_path, with_events("aside"))
    assert told == [f":4:1: folders.put_aside: expected another folder than the events folder, got {tmp_path}/aside"]
