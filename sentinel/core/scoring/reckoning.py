"""How the figures of a check are made: kept with it, so that it can be scored again in the same way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class OwnGroup:
    """A group of patches of the print room's own: by name or id, or by a condition on device values."""

    names: tuple[str, ...] = ()
    where: str | None = None


@dataclass(frozen=True, slots=True)
class Reckoning:
    """`ink_names` name the channels of an n-channel chart in their order; `own_groups` replace or add groups;
    `share_beyond` is the CIEDE2000 difference whose excess is counted; `ink_space` allows tone values."""

    ink_names: tuple[str, ...] = ()
    own_groups: Mapping[str, OwnGroup] = field(default_factory=dict)
    share_beyond: float = 3.0
    ink_space: bool = True

    def as_json(self) -> dict[str, Any]:
        """For the record."""
        return {
            "ink_names": list(self.ink_names),
            "own_groups": {
                name: {"names": list(own.names), "where": own.where} for name, own in self.own_groups.items()
            },
            "share_beyond": self.share_beyond,
            "ink_space": self.ink_space,
        }

    @classmethod
    def from_json(cls, record: Mapping[str, Any]) -> Reckoning:
        """From the record."""
        own = {name: OwnGroup(tuple(each["names"]), each["where"]) for name, each in record["own_groups"].items()}
        return cls(tuple(record["ink_names"]), own, record["share_beyond"], record["ink_space"])
