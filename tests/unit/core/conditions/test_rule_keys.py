"""`explain` names keys of [due] that are there, and that switch the rule they are named for."""

from __future__ import annotations

from pathlib import Path

import pytest

from sentinel.core.conditions.due import RULES, PastCheck
from sentinel.core.conditions.explanation import KEYS, explain
from sentinel.core.conditions.state import Situation
from sentinel.core.verdict import Verdict
from tests.support.clock import NOON
from tests.support.room import Room

OFF = {
    "warned_times": "0", "after": "[]", "target_changed": "false", "forecast": "false",
    "by": '"age"', "drift": "false",
}  # fmt: skip
ON = {
    "warned_times": "2", "max_age_days": "5.0", "after": '["heads"]', "square_metres": "120.0",
    "standstill_days": "3.0", "celsius": "[18.0, 26.0]", "percent_humidity": "[40.0, 60.0]",
    "target_changed": "true", "limits_changed": "true", "forecast": "true", "by": '"risk"', "drift": "true",
}  # fmt: skip


def settings_of(folder: Path, **keys: str) -> dict[str, object]:
    """By rule what `explain` says it is set to, with these keys in [due]."""
    room = Room(folder / str(len(list(folder.iterdir()))))
    snapshot = room.configure(extra="[due]\n" + "".join(f"{key} = {value}\n" for key, value in keys.items()))
    policy = next(iter(snapshot.house.conditions.values()))
    found = explain(Situation(policy.due, (PastCheck(1, NOON, Verdict.PASS),)), NOON)
    return {answer.rule: answer.setting for answer in found.answers}


def test_every_rule_names_its_keys() -> None:
    assert KEYS.keys() == RULES.keys()
    assert [rule for rule, keys in KEYS.items() if not keys] == ["failed", "pinned"], "which no key switches off"


@pytest.mark.parametrize(("rule", "key"), [(rule, key) for rule, keys in KEYS.items() for key in keys])
def test_a_key_switches_its_rule(tmp_path: Path, rule: str, key: str) -> None:
    on = settings_of(tmp_path, **{key: ON[key]})[rule]
    off = settings_of(tmp_path, **({key: OFF[key]} if key in OFF else {}))[rule]
    assert on is not None
    assert off != on
    assert off is None or key == "max_age_days", "an age there always is"
