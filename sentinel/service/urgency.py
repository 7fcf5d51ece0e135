"""How pressing a failed check is: whether to confirm it first, to raise the alarm, or to hold production at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from sentinel.core.reasons import Code

Urgency = Literal["confirm", "alarm", "urgent"]


def urgency(check: Mapping[str, Any], count: int, confirm_first: bool, gross_factor: float) -> Urgency:
    """Of a check that failed for the `count`th time in a row; `check` has its reasons, metrics and limits.

    A suspected wrong stock and a figure beyond `gross_factor` times its action limit are urgent at once: production
    may be running.
    """
    if any(reason["code"] == Code.RIVAL_FITS_BETTER.value for reason in check["reasons"]) or _gross(
        check, gross_factor
    ):
        return "urgent"
    return "confirm" if count == 1 and confirm_first else "alarm"


def _gross(check: Mapping[str, Any], factor: float) -> bool:
    return any(
        abs(check["metrics"].get(group, {}).get(metric, 0.0)) > factor * limit[1]
        for group, limits in check["limits"].items()
        for metric, limit in limits.items()
    )
