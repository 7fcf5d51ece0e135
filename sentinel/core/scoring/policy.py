"""What a measurement is scored under: limits, own groups, how figures are made, inks. Light: no numpy."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, NamedTuple, Protocol, TypeVar

from sentinel.core.measurement import Backing, MCondition

AT_LIMIT = 1e-9
"""The part of a limit by which a figure may be beyond it and still be at it: the noise of binary arithmetic."""


class Limit(NamedTuple):
    """Above `warn` a warning, above `act` a failure, both in the unit of the metric.

    After a failure the condition counts as failing until the metric is at most `recover`; None is the action limit.
    """

    warn: float
    act: float
    recover: float | None = None


Told_co = TypeVar("Told_co", covariant=True)


class Figures(Protocol[Told_co]):
    """A number, or an array of them."""

    def __gt__(self, limit: float, /) -> Told_co: ...


def beyond(value: Figures[Told_co], limit: float) -> Told_co:
    """Whether a figure, or each of several, is above a limit; one at it is not."""
    return value > limit * (1 + AT_LIMIT)


Limits = Mapping[str, Mapping[str, Limit]]
"""{group: {metric: limit}}"""


def laid_over(below: Limits, above: Limits) -> Limits:
    """`below` with every single limit that `above` names replaced or added."""
    groups = [*below, *(group for group in above if group not in below)]
    return {group: {**below.get(group, {}), **above.get(group, {})} for group in groups}


def mark(limits: Limits) -> str:
    """A short name of a set of limits; equal limits have the same."""
    plain = {group: {name: list(limit) for name, limit in each.items()} for group, each in limits.items() if each}
    return hashlib.sha256(json.dumps(plain, sort_keys=True).encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class OwnGroup:
    """A group of patches of the print room's own: by name or id, or by a condition on device values."""

    names: tuple[str, ...] = ()
    where: str | None = None


DensityStatus = Literal["A", "E", "T"]
"""As `core.colour.density` has them."""


@dataclass(frozen=True, slots=True)
class ScoringOptions:
    """`ink_names` name the channels of an n-channel chart in their order; `own_groups` replace or add groups;
    `share_beyond` is the CIEDE2000 difference whose excess is counted; `ink_space` allows tone values;
    `density_status` is that of ISO 5-3."""

    ink_names: tuple[str, ...] = ()
    own_groups: Mapping[str, OwnGroup] = field(default_factory=dict, hash=False)
    share_beyond: float = 3.0
    ink_space: bool = True
    density_status: DensityStatus = "E"

    def as_json(self) -> dict[str, Any]:
        """For the record."""
        return {
            "ink_names": list(self.ink_names),
            "own_groups": {
                name: {"names": list(own.names), "where": own.where} for name, own in self.own_groups.items()
            },
            "share_beyond": self.share_beyond,
            "ink_space": self.ink_space,
            "density_status": self.density_status,
        }

    @classmethod
    def from_json(cls, record: Mapping[str, Any]) -> ScoringOptions:
        """From the record; older ones do not say a density status, and hold no densities."""
        own = {name: OwnGroup(tuple(each["names"]), each["where"]) for name, each in record["own_groups"].items()}
        status = record.get("density_status", "E")
        return cls(tuple(record["ink_names"]), own, record["share_beyond"], record["ink_space"], status)


@dataclass(frozen=True, slots=True)
class InkSet:
    """What is in the printer, in the order of its channels, and what this stock leaves out.

    Photo stock carries no matte black (common practice, no published source): its absence is right there, its
    presence is a wrong chart.
    """

    inks: tuple[str, ...] = ()
    left_out: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class ScoringRules:
    """`score_unknown_m` scores where M condition is not known on both sides; `least_patches` and `least_share` of a
    target must be read; a rival target fits better below `rival_share` of the failed mean difference."""

    score_unknown_m: bool
    least_patches: int
    least_share: float
    rival_share: float


@dataclass(frozen=True, slots=True)
class TargetSource:
    """Where the aim values of a target are: measurement number `table` (from 1) of a CGATS file, or, without one, the
    newest kept version in use.

    `colour_path` is `ink-space` or `through-profile`; M condition, backing and the serial number of the `instrument`
    fill what the file does not say. `least_share` is that of its patches a file must hold, where it has one of its own.
    `required` are groups of patches without which there is no verdict; None leaves it to what the file holds.
    `aim_sheets` is of how many sheets the aim is the mean, infinite for published data, None where nobody said.
    """

    file: Path | None = None
    table: int = 1
    colour_path: str = "ink-space"
    m_condition: MCondition | None = None
    backing: Backing | None = None
    instrument: str | None = None
    least_share: float | None = None
    required: tuple[str, ...] | None = None
    aim_sheets: float | None = None


@dataclass(frozen=True, slots=True)
class TargetPolicy:
    """What a check against one target is scored under on one printing condition; `mark` is that of the limits."""

    source: TargetSource
    limits: Limits
    mark: str
    least_share: float
    reckoning: ScoringOptions


@dataclass(frozen=True, slots=True)
class ScoringPolicy:
    """What measurements of one printing condition are scored under.

    `own` names the targets of the condition, in order; `targets` are all that the settings have, as they would hold
    here. `stocks` are those used on its printer, each with what people call the stock, or stocks.
    """

    own: tuple[str, ...]
    targets: Mapping[str, TargetPolicy]
    stocks: Mapping[str, str]
    inks: InkSet
    rules: ScoringRules

    def own_limits(self, target: str) -> Limits:
        """Those of a target of the condition; none where it is no longer one of them."""
        return self.targets[target].limits if target in self.own else {}

    @property
    def rivals(self) -> dict[str, str]:
        """The targets of other conditions of the printer, each with its stock."""
        return {target: stock for target, stock in self.stocks.items() if target not in self.own}
