"""Which version of a kept target holds."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from sentinel.core.records import TargetVersion


class Standing(StrEnum):
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


def standing(version: TargetVersion, newest: TargetVersion | None, called_for: bool) -> Standing:
    """Where a version stands: `newest` is what `in_use` says of its name, `called_for` whether the settings want it."""
    if version.retirement is not None:
        return Standing.RETIRED
    if newest is None or newest.version != version.version:
        return Standing.REPLACED
    return Standing.IN_USE if called_for else Standing.UNUSED
