"""Kept targets: versions and retirements as they are written down, and which version holds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any


@dataclass(frozen=True, slots=True)
class KeptTarget:
    """A target that the sentinel keeps itself, in the archive by its hash.

    `source` says in a line where it is from, `facts` in full how it came about. `approved_by` is the second person who
    answers for an aim that was taken from checks.
    """

    name: str
    sha256: str
    source: str
    added_by: str
    approved_by: str | None
    added_at: datetime
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Retirement:
    """Who took a version of a target out of use, and why."""

    by: str
    why: str
    at: datetime


@dataclass(frozen=True, slots=True)
class TargetVersion:
    """One version of a kept target, counted from 1 under its name; never edited, at most retired."""

    version: int
    target: KeptTarget
    retirement: Retirement | None = None


class VersionUse(StrEnum):
    """What a version is good for now."""

    IN_USE = "in-use"
    """New checks are scored against it."""
    UNUSED = "unused"
    """The newest under its name, which the settings do not call for."""
    REPLACED = "replaced"
    """A newer one holds."""
    RETIRED = "retired"


def in_use(versions: Iterable[TargetVersion]) -> TargetVersion | None:
    """The version that a name stands for: the newest that is not retired. `versions` are those of one name."""
    open_ones = [each for each in versions if each.retirement is None]
    return max(open_ones, key=lambda each: each.version, default=None)


def use_of(version: TargetVersion, newest: TargetVersion | None, called_for: bool) -> VersionUse:
    """Where a version stands: `newest` is what `in_use` says of its name, `called_for` whether the settings want it."""
    if version.retirement is not None:
        return VersionUse.RETIRED
    if newest is None or newest.version != version.version:
        return VersionUse.REPLACED
    return VersionUse.IN_USE if called_for else VersionUse.UNUSED
