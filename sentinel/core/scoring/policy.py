"""What the settings decide about scoring."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Policy:
    """`score_unknown_m` scores where M condition is not known on both sides; `least_patches` and `least_share` of a
    target must be read; a rival target fits better below `rival_share` of the failed mean difference."""

    score_unknown_m: bool
    least_patches: int
    least_share: float
    rival_share: float
