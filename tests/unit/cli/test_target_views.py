"""Kept targets as text, as a table and as JSON."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

from sentinel.application.kept_targets import ListedTarget
from sentinel.cli.target_views import added_text, retired_text, target_json, target_text, targets_table
from sentinel.core.scoring.target_versions import TargetVersion, VersionUse
from tests.support.records import kept_target, retired

LISBON = ZoneInfo("Europe/Lisbon")
USERS = ("north/satin-240", "south/satin-240")
FACTS: dict[str, Any] = {
    "patches": 10,
    "quantity": "reflectance",
    "m_condition": "M1",
    "backing": "white",
    "condition": "north/satin-240",
    "checks": [{"check": number, "sha256": "a", "table": 1, "verdict": "pass"} for number in (4, 6, 7)],
    "instruments": ["0042"],
    "spread": {"de00_mean": 0.251, "de00_max": 1.349, "patch": "A4"},
    "rejected": [],
    "missing": 0,
    "unread": [],
    "reference": None,
}


def adopted(**facts: Any) -> TargetVersion:
    version = kept_target(2)
    source = "mean of checks 4, 6, 7 of north/satin-240"
    return replace(version, target=replace(version.target, source=source, approved_by="Ben", facts={**FACTS, **facts}))


def listed(version: TargetVersion, use: VersionUse = VersionUse.IN_USE) -> ListedTarget:
    return ListedTarget(version, use, USERS if use is VersionUse.IN_USE else ())


def lines(**facts: Any) -> list[str]:
    return target_text(listed(adopted(**facts)), LISBON).splitlines()


def test_the_table_tells_each_version_in_a_line() -> None:
    table = targets_table([listed(kept_target(1), VersionUse.REPLACED), listed(adopted())], LISBON)
    head, _, first, second = table.splitlines()
    assert head.split() == ["target", "version", "since", "sha256", "source", "spread", "state", "used", "by"]
    assert "2026-03-02 12:00" in first
    assert kept_target(1).target.sha256[:12] in first
    assert first.rstrip().endswith(
        "file house.txt" + " " * (first.index("replaced") - first.index("file") - 14) + "replaced"
    )
    assert "0.25, worst 1.35" in second
    assert second.endswith("in-use    north/satin-240, south/satin-240")


def test_a_table_of_none_has_its_head() -> None:
    assert targets_table([], LISBON).startswith("target")


def test_an_adopted_target_says_where_it_is_from_and_who_answers_for_it() -> None:
    assert lines() == [
        "target house, version 2: in-use for north/satin-240, south/satin-240",
        "source: mean of checks 4, 6, 7 of north/satin-240",
        "kept: 2026-03-02 12:00 by Ana, approved by Ben",
        f"sha256: {kept_target(2).target.sha256}",
        "holds: 10 patches as reflectance, M1, white backing",
        "instruments: 0042",
        "spread: mean ΔE00 0.25 of the readings from the mean of their patch, worst 1.35 (A4)",
        "outliers rejected: 0",
        "reference: none was given, so nothing tells how far this aim is from published data",
        "caution: an aim taken from a drifted printer makes its drift the norm; Ben answers for this one",
    ]


def test_what_speaks_against_an_adopted_aim_is_told() -> None:
    told = lines(
        checks=[{"check": 4, "verdict": "pass"}, {"check": 6, "verdict": "fail"}],
        rejected=[{"check": 6, "patch": "A4", "de00": 5.804}],
        missing=2,
        unread=["A9"],
    )
    assert "failed checks among them: 6" in told
    assert "outliers rejected: 1: check 6 A4 (ΔE00 5.80)" in told
    assert "readings missing: 2" in told
    assert "patches left out, read by no check: A9" in told


def test_the_spread_of_one_check_is_not_known() -> None:
    assert "spread: not known from one check" in lines(spread=None)


def test_the_distance_from_a_reference_is_told() -> None:
    reference = {"file": "FOGRA39L.txt", "patches": 9, "de00_mean": 1.234, "de00_p95": 2.0, "de00_max": 3.456}
    said = "reference: ΔE00 from FOGRA39L.txt: mean 1.23, 95th percentile 2.00, maximum 3.46, over 9 patches"
    assert said in lines(reference=reference)


def test_a_target_from_a_file_has_no_word_of_checks() -> None:
    text = target_text(listed(kept_target(1)), LISBON)
    assert "source: file house.txt\nkept: 2026-03-02 12:00 by Ana\n" in text
    assert text.endswith("holds: 10 patches as Lab, M1, backing not told")


def test_a_retired_version_says_by_whom_and_why() -> None:
    text = target_text(listed(retired(kept_target(1)), VersionUse.RETIRED), LISBON)
    assert text.startswith("target house, version 1: retired\n")
    assert text.endswith("retired: 2026-03-02 12:00 by Ben: the stock is gone")


def test_the_json_holds_all_of_it() -> None:
    shown = json.loads(json.dumps(target_json(listed(retired(adopted()), VersionUse.RETIRED))))
    assert shown == {
        "schema": "sentinel.target/1",
        "target": "house",
        "version": 2,
        "state": "retired",
        "conditions": [],
        "sha256": kept_target(2).target.sha256,
        "source": "mean of checks 4, 6, 7 of north/satin-240",
        "since": "2026-03-02T12:00:00+00:00",
        "by": "Ana",
        "approved_by": "Ben",
        "facts": FACTS,
        "retired": {"at": "2026-03-02T12:00:00+00:00", "by": "Ben", "why": "the stock is gone"},
    }
    assert target_json(listed(kept_target(1)))["retired"] is None
    assert target_json(listed(kept_target(1)))["conditions"] == list(USERS)


def test_adding_tells_from_when_it_holds_or_why_it_does_not() -> None:
    assert added_text(listed(kept_target(1)), LISBON, None).endswith(
        "\nnew checks are scored against it; past ones keep the target they had"
    )
    unused = added_text(listed(kept_target(1), VersionUse.UNUSED), LISBON, "the settings have no [targets.house]")
    assert unused.endswith("\nnot used yet: the settings have no [targets.house]")


def test_retiring_tells_what_holds_instead() -> None:
    gone = retired(kept_target(2))
    told = "house version 2 is retired; past checks keep it. "
    assert retired_text(gone, listed(kept_target(1)), USERS) == f"{told}Version 1 is in-use."
    assert retired_text(gone, None, USERS) == (
        f"{told}No version is left: new checks of north/satin-240, south/satin-240 are unscored (no-target)."
    )
    assert retired_text(gone, None, ()) == f"{told}No version is left; no printing condition is scored against it."
