"""Targets the sentinel keeps: the shelf asks which version holds at each use."""

from __future__ import annotations

from pathlib import Path

import pytest

from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.targets import KeptTargets, TargetShelf
from sentinel.core.scoring.policy import TargetSource
from sentinel.core.scoring.target_versions import TargetVersion
from sentinel.core.verdict import Code, Unscored
from tests.support import cgats
from tests.support.records import digest, kept_target, retired

HOUSE = TargetSource(colour_path="ink-space", m_condition="M2")
FIRST, SECOND = cgats.text(m=None), cgats.text(1.25, m=None)


class Ledger:
    """Versions in memory."""

    def __init__(self, *contents: str) -> None:
        self.kept = [kept_target(number, content=text) for number, text in enumerate(contents, 1)]

    def versions(self, name: str) -> list[TargetVersion]:
        return [each for each in self.kept if each.target.name == name]


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    place = Archive(tmp_path / "archive")
    for text in (FIRST, SECOND):
        place.keep(text.encode())
    return place


def refusal(shelf: TargetShelf) -> Unscored:
    with pytest.raises(Unscored) as outcome:
        shelf.target("house", HOUSE)
    return outcome.value


def test_a_target_without_a_file_is_the_newest_version_with_what_was_declared(archive: Archive) -> None:
    target = TargetShelf(kept=KeptTargets(Ledger(FIRST, SECOND).versions, archive)).target("house", HOUSE)
    assert (target.name, target.sha256, target.condition.m) == ("house", digest(SECOND), "M2")


def test_an_unchanged_version_is_read_once(archive: Archive) -> None:
    shelf = TargetShelf(kept=KeptTargets(Ledger(FIRST).versions, archive))
    assert shelf.target("house", HOUSE) is shelf.target("house", HOUSE)


def test_a_new_version_holds_at_the_next_use(archive: Archive) -> None:
    ledger = Ledger(FIRST)
    shelf = TargetShelf(kept=KeptTargets(ledger.versions, archive))
    assert shelf.target("house", HOUSE).sha256 == digest(FIRST)
    ledger.kept.append(kept_target(2, content=SECOND))
    assert shelf.target("house", HOUSE).sha256 == digest(SECOND)
    ledger.kept[1] = retired(ledger.kept[1])
    assert shelf.target("house", HOUSE).sha256 == digest(FIRST)


def test_where_no_version_is_left_there_is_no_target(archive: Archive) -> None:
    ledger = Ledger(FIRST)
    shelf = TargetShelf(kept=KeptTargets(ledger.versions, archive))
    shelf.target("house", HOUSE)
    ledger.kept = [retired(ledger.kept[0])]
    told = refusal(shelf).reason
    assert told.code is Code.NO_TARGET
    assert str(told.message).startswith("expected a version of the aim house in use, got none")


def test_a_file_goes_before_kept_versions(archive: Archive, tmp_path: Path) -> None:
    path = tmp_path / "house.txt"
    path.write_text(FIRST)
    file = TargetSource(file=path, colour_path="ink-space")
    shelf = TargetShelf(kept=KeptTargets(Ledger(SECOND).versions, archive))
    assert shelf.target("house", file).sha256 == digest(FIRST)


def test_a_version_that_the_archive_lost_is_not_readable(tmp_path: Path) -> None:
    other = Archive(tmp_path / "other")
    other.keep(b"another file")
    told = refusal(TargetShelf(kept=KeptTargets(Ledger(FIRST).versions, other))).reason
    assert told.code is Code.TARGET_NOT_READABLE
    assert str(told.message) == "expected the aim house in the archive, got: No such file or directory"


def test_other_bytes_under_its_hash_are_not_taken(archive: Archive, tmp_path: Path) -> None:
    name = digest(FIRST)
    (tmp_path / "archive" / name[:2] / name).write_text(SECOND)
    told = refusal(TargetShelf(kept=KeptTargets(Ledger(FIRST).versions, archive))).reason
    assert told.code is Code.TARGET_NOT_READABLE
    assert f"other bytes under the name {name}" in str(told.message)


def test_without_kept_targets_a_target_needs_a_file() -> None:
    assert refusal(TargetShelf()).reason.code is Code.NO_TARGET
