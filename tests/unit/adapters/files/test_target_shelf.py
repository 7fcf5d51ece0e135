"""Targets are read once, and again when their file changes; what was read goes to the archive."""

from __future__ import annotations

import hashlib
import math
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.stamps import TargetHashes
from sentinel.adapters.files.targets import TargetShelf
from sentinel.core.scoring.policy import TargetSource
from sentinel.core.verdict import Code, Unscored
from tests.support import cgats


@pytest.fixture
def path(tmp_path: Path) -> Path:
    place = tmp_path / "house.txt"
    place.write_text(cgats.text(m=None))
    return place


@pytest.fixture
def file(path: Path) -> TargetSource:
    return TargetSource(file=path, colour_path="ink-space", m_condition="M2")


def test_a_target_is_what_its_file_says_with_what_was_declared(file: TargetSource, path: Path) -> None:
    target = TargetShelf().target("house", file)
    assert target.name == "house"
    assert target.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert target.condition.m == "M2"
    assert target.measurement.chart.ids == tuple(f"A{n}" for n in range(1, 11))


@pytest.mark.parametrize(
    ("declared", "adopted_from", "sheets"),
    [
        (None, None, 1.0),
        (None, "4: sha256 a table 1; 7: sha256 b table 1; 9: sha256 c table 1", 3.0),
        (12.0, "4: sha256 a table 1; 7: sha256 b table 1", 12.0),
        (math.inf, None, math.inf),
    ],
)
def test_an_aim_is_the_mean_of_so_many_sheets(
    path: Path, file: TargetSource, declared: float | None, adopted_from: str | None, sheets: float
) -> None:
    """As declared, else as many as it was adopted from, else one."""
    path.write_text(cgats.text(m=None, keywords={"ADOPTED_FROM": adopted_from} if adopted_from else None))
    assert TargetShelf().target("house", replace(file, aim_sheets=declared)).aim_sheets == sheets


def test_an_untouched_target_is_read_once(file: TargetSource) -> None:
    shelf = TargetShelf()
    assert shelf.target("house", file) is shelf.target("house", file)


def test_a_changed_target_is_read_again(file: TargetSource, path: Path) -> None:
    shelf = TargetShelf()
    before = shelf.target("house", file)
    path.write_text(cgats.text(shift=1.25, m=None))
    after = shelf.target("house", file)
    assert before.measurement.lab is not None
    assert after.measurement.lab is not None
    assert (after.measurement.lab - before.measurement.lab)[:, 0] == pytest.approx(1.25)


def test_what_was_read_is_kept_in_the_archive(file: TargetSource, path: Path, tmp_path: Path) -> None:
    archive = Archive(tmp_path / "archive")
    target = TargetShelf(archive).target("house", file)
    assert archive.fetch(target.sha256) == path.read_bytes()


def test_a_missing_target_is_unscored_with_its_path(file: TargetSource, path: Path) -> None:
    path.unlink()
    with pytest.raises(Unscored) as outcome:
        TargetShelf().target("house", file)
    assert outcome.value.reason.code is Code.TARGET_NOT_READABLE
    assert str(outcome.value.reason.message) == (f"expected the aim house at {path}, got: No such file or directory")


ODD: dict[str, tuple[Callable[[Path], object], str]] = {
    "a pipe": (os.mkfifo, "expected a file, got something else"),
    "a device": (lambda path: path.symlink_to("/dev/zero"), "expected a file, got something else"),
    "a folder": (Path.mkdir, "expected a file, got something else"),
    "a text without end": (
        lambda path: path.open("wb").truncate(1 << 40),
        "expected at most 256000000 bytes, got more",
    ),
}


@pytest.mark.parametrize(("make", "said"), ODD.values(), ids=ODD)
def test_a_target_that_is_no_file_holds_nobody(
    file: TargetSource, path: Path, make: Callable[[Path], object], said: str
) -> None:
    path.unlink()
    make(path)
    with pytest.raises(Unscored) as outcome:
        TargetShelf().target("house", file)
    assert str(outcome.value.reason.message).startswith(f"expected the aim house at {path}, got: {said}")
    assert TargetHashes().hash_of("house", file, lambda _: ()) is None


def test_a_target_that_is_no_cgats_text_is_unscored_with_its_name(file: TargetSource, path: Path) -> None:
    path.write_text("scribble")
    with pytest.raises(Unscored, match="the aim house cannot be read: ") as outcome:
        TargetShelf().target("house", file)
    assert outcome.value.reason.code is Code.TARGET_NOT_READABLE
