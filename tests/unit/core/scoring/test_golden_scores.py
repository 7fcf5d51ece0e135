"""Scores change with RULES_VERSION or not at all."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import pytest

from sentinel.core.scoring.score import RULES_VERSION
from tests.unit.core.scoring.golden import GOLDEN, SameVersionError, Scores, differences, scores, write

HOW = "after a change that is meant: raise RULES_VERSION, then python -m tests.unit.core.scoring.golden"
KEPT: Scores = {"case": {"verdict": "pass", "metrics": {"all": {"de00_mean": 1.0}}, "lab": [[50.0, 0.0, 0.0]]}}


def changed(by: float) -> Scores:
    other = copy.deepcopy(KEPT)
    other["case"]["lab"][0][2] += by
    return other


def with_more() -> Scores:
    other = copy.deepcopy(KEPT)
    other["case"]["metrics"]["all"]["de00_median"] = 0.9
    other["case"]["metrics"]["dark"] = {"de00_mean": 1.1}
    other["another case"] = {"verdict": "fail"}
    return other


def test_scores_are_those_kept_under_this_rules_version() -> None:
    kept = json.loads(GOLDEN.read_text(encoding="utf-8"))
    assert kept["rules_version"] == RULES_VERSION, HOW
    assert differences(kept["scores"], scores()) == [], HOW


def test_a_difference_is_told_with_its_place() -> None:
    assert differences(KEPT, changed(2e-9)) == ["case / lab [0] [2]: 0.0 became 2e-09"]
    assert differences(KEPT, changed(1e-10)) == []


def test_a_case_that_came_or_went_is_a_difference() -> None:
    assert differences(KEPT, {}) != []
    assert differences({}, KEPT) != []


def test_changed_scores_are_not_written_under_the_same_version(tmp_path: Path) -> None:
    path = tmp_path / "golden.json"
    write(path, 1, KEPT)
    before = path.read_text()
    with pytest.raises(SameVersionError, match="case / lab"):
        write(path, 1, changed(1.0))
    assert path.read_text() == before
    write(path, 2, changed(1.0))
    written = json.loads(path.read_text())
    assert (written["rules_version"], written["scores"]) == (2, changed(1.0))


def test_new_figures_join_a_version_only_where_that_is_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "golden.json"
    write(path, 1, KEPT)
    with pytest.raises(SameVersionError, match="de00_median"):
        write(path, 1, with_more())
    write(path, 1, with_more(), additions=True)
    assert json.loads(path.read_text())["scores"] == with_more()


@pytest.mark.parametrize("other", [changed(1.0), {}, {"case": {"verdict": "pass"}}], ids=["changed", "gone", "lost"])
def test_what_changed_or_went_joins_no_version_as_an_addition(tmp_path: Path, other: Scores) -> None:
    path = tmp_path / "golden.json"
    write(path, 1, KEPT)
    with pytest.raises(SameVersionError, match="raise RULES_VERSION first"):
        write(path, 1, other, additions=True)
