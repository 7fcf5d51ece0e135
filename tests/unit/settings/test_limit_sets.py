"""Limits laid over one another: house, then the kind of chart, then the condition."""

from __future__ import annotations

from pathlib import Path

import pytest

from sentinel.core.scoring.policy import Limit
from sentinel.settings.targets_and_limits import HOUSE_LIMITS, chain, named_set
from tests.support.toml import limits_for, settings

ROOM = """\
[printers.north]
[substrates.satin]
[targets.house]
file = "house.txt"
colour_path = "ink-space"
{target}
[conditions."north/satin"]
targets = ["house"]
{condition}
"""
CONDITION = "north/satin"


def room(target: str = "", condition: str = "", sets: str = "") -> str:
    return ROOM.format(target=target, condition=condition) + sets


def mean_of_all(folder: Path, extra: str) -> Limit:
    return limits_for(settings(folder, extra), "house", CONDITION)["all"]["de00_mean"]


def test_the_house_limits_hold_where_nothing_is_said(tmp_path: Path) -> None:
    assert limits_for(settings(tmp_path, room()), "house", CONDITION) == HOUSE_LIMITS


LAYERS = {
    "house": (room(sets="[limits.house]\nall.de00_mean = { warn = 1.0, act = 1.5 }\n"), (1.0, 1.5)),
    "set of the target": (
        room(
            target='limit_set = "strip"',
            sets="[limits.house]\nall.de00_mean = { warn = 1.0, act = 1.5 }\n"
            "[limits.strip]\nall.de00_mean = { warn = 4.0, act = 5.0 }\n",
        ),
        (4.0, 5.0),
    ),
    "set of the condition over that of the target": (
        room(
            target='limit_set = "strip"',
            condition='limit_set = "proof"',
            sets="[limits.strip]\nall.de00_mean = { warn = 4.0, act = 5.0 }\n"
            "[limits.proof]\nall.de00_mean = { warn = 0.5, act = 0.7 }\n",
        ),
        (0.5, 0.7),
    ),
    "single limit of the condition over all": (
        room(
            condition='limit_set = "proof"\nlimits.all.de00_mean = { warn = 9.0, act = 9.5 }',
            sets="[limits.proof]\nall.de00_mean = { warn = 0.5, act = 0.7 }\n",
        ),
        (9.0, 9.5),
    ),
}


@pytest.mark.parametrize(("extra", "limit"), LAYERS.values(), ids=LAYERS)
def test_the_nearest_layer_decides(tmp_path: Path, extra: str, limit: tuple[float, float]) -> None:
    assert mean_of_all(tmp_path, extra) == Limit(*limit)


def test_a_layer_changes_what_it_names_alone(tmp_path: Path) -> None:
    extra = room(condition="limits.paper.de00_max = { warn = 2.0, act = 4.0 }")
    limits = limits_for(settings(tmp_path, extra), "house", CONDITION)
    assert limits["paper"] == {**HOUSE_LIMITS["paper"], "de00_max": Limit(2.0, 4.0)}
    assert {**limits, "paper": {}} == {**HOUSE_LIMITS, "paper": {}}


def test_a_set_stands_on_what_it_is_based_on(tmp_path: Path) -> None:
    sets = settings(
        tmp_path,
        "[limits.house]\nall.de00_max = { warn = 7.0, act = 7.5 }\n"
        "[limits.strip]\nall.de00_mean = { warn = 4.0, act = 5.0 }\n"
        '[limits.short]\nbased_on = "strip"\nall.de00_p95 = { warn = 5.0, act = 8.0 }\n',
    ).limits
    assert named_set(sets, "short")["all"] == {
        "de00_mean": Limit(4.0, 5.0),
        "de00_p95": Limit(5.0, 8.0),
        "de00_max": Limit(7.0, 7.5),
    }
    assert chain(sets, "short") == ["short", "strip", "house"]


def test_a_house_set_that_is_not_written_is_the_default(tmp_path: Path) -> None:
    sets = settings(tmp_path, '[limits.strip]\nbased_on = "house"\n').limits
    assert named_set(sets, "strip") == HOUSE_LIMITS
