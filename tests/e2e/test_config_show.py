"""`config show`: what holds and where it is from; `config schema`: what editors help by, held against the parser."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import tomli
from jsonschema import Draft202012Validator

from tests.support.command import sentinel
from tests.support.room import Room

EXAMPLE = Path(__file__).parents[2] / "config" / "sentinel.toml"


def values(room: Room, *key: str) -> dict[str, dict[str, Any]]:
    shown: dict[str, dict[str, Any]] = sentinel("--config", room.config, "config", "show", *key, "--json").json()
    return shown["values"]


def test_a_value_of_the_file_has_its_line_and_any_other_is_the_default(room: Room) -> None:
    room.configure(extra="[due]\nmax_age_days = 3.0\n")
    line = 1 + room.config.read_text().splitlines().index("max_age_days = 3.0")
    found = values(room, "due")
    assert found["due.max_age_days"] == {"value": 3.0, "line": line}
    assert found["due.gross_factor"] == {"value": 2.0, "line": None}
    assert f"due.max_age_days = 3.0   # line {line}\n" in sentinel("--config", room.config, "config", "show").out


def test_every_value_it_shows_is_that_which_holds(room: Room) -> None:
    """Put back into a file, they are the same settings."""
    found = values(room)
    settings = room.snapshot().loaded.settings
    assert found["folders.archive"]["value"] == str(settings.folders.archive), "a whole path"
    assert found['conditions."north/satin-240".targets']["value"] == ["house"]
    told = {key for key, each in found.items() if each["line"] is not None}
    assert {"site.name", "store.path", "targets.house.file", "substrates.film-clear.opacity"} <= told
    assert not any(key.startswith("due.") for key in told)


def test_one_key_alone_and_one_that_is_none(room: Room) -> None:
    assert list(values(room, "due.max_age_days")) == ["due.max_age_days"]
    done = sentinel("--config", room.config, "config", "show", "folder")
    assert (done.code, done.out) == (2, "")
    assert "did you mean 'folders'?" in done.err


@pytest.fixture(scope="module")
def validator() -> Draft202012Validator:
    schema = json.loads(sentinel("config", "schema").out)
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def faults(validator: Draft202012Validator, text: str) -> list[str]:
    return [each.json_path for each in validator.iter_errors(tomli.loads(text))]


def test_the_schema_takes_what_the_sentinel_takes(validator: Draft202012Validator, room: Room) -> None:
    assert faults(validator, EXAMPLE.read_text()) == []
    assert faults(validator, room.config.read_text()) == []


@pytest.mark.parametrize(
    ("right", "wrong", "path"),
    [
        ('archive = "archive"', 'archvie = "archive"', "$.folders"),
        ('opacity = "transparent"', 'opacity = "clear"', "$.substrates['film-clear'].opacity"),
        ('targets = ["house"]', "targets = 3", "$.conditions['north/satin-240'].targets"),
        ('colour_path = "ink-space"', "", "$.targets.house"),
    ],
)
def test_the_schema_refuses_what_the_sentinel_refuses(
    validator: Draft202012Validator, room: Room, right: str, wrong: str, path: str
) -> None:
    text = room.config.read_text().replace(right, wrong, 1)
    room.config.write_text(text)
    assert sentinel("--config", room.config, "config", "check").code == 2
    assert any(each.startswith(path) for each in faults(validator, text))


def test_the_schema_says_what_each_key_means(validator: Draft202012Validator) -> None:
    due = validator.schema["$defs"]["DueTable"]["properties"]  # type: ignore[index]
    assert due["max_age_days"]["description"] == "A check is due when the last one is older than this."


def test_house_limits_hold_one_by_one(room: Room) -> None:
    room.configure(extra="[limits.house]\nall.de00_mean = { warn = 1.0, act = 1.5 }\n")
    found = values(room, "limits")
    line = 1 + next(n for n, text in enumerate(room.config.read_text().splitlines()) if "de00_mean" in text)
    assert found["limits.house.all.de00_mean.warn"] == {"value": 1.0, "line": line}
    assert found["limits.house.all.de00_p95.act"] == {"value": 6.0, "line": None}
