"""The patches that are farthest off, with both of their colours, to be shown."""

from __future__ import annotations

from typing import Any

import numpy as np

from sentinel.core.colour.difference import de00
from sentinel.core.scoring.matching import Match


def worst_patches(match: Match, count: int) -> list[dict[str, Any]]:
    """At most `count` patches, the worst first: `patch`, `aim` and `read` as [L*, a*, b*], `de00`."""
    differences = de00(match.aim, match.lab)
    return [
        {
            "patch": match.labels[row],
            "aim": match.aim[row].tolist(),
            "read": match.lab[row].tolist(),
            "de00": float(differences[row]),
        }
        for row in np.argsort(differences, kind="stable")[::-1][:count].tolist()
    ]
