"""What is expected before the file is looked at: weights of causes, changed by what is known around the check."""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.subject import Context

SURELY_WET, SURELY_DRY = 6.0, 0.05
DRY_AFTER = 3.0
"""Times the stock's drying time after which nobody would think of a wet chart."""

NEW_LOT, OLD_LOT = 4.0, 0.5
MODES_DIFFER, MODE_UNKNOWN, MODES_AGREE = 50.0, 1.0, 0.6
MOVED_ALIKE = 10.0
"""How many times more a scale error is expected where other readings of the instrument moved just alike."""


def expected(weights: Mapping[str, float], context: Context) -> dict[str, float]:
    """`weights` by cause and for `healthy`, with the context in them.

    Facts change what is expected, never what the file shows: a new lot alone is no finding.
    """
    factors = {
        Cause.NOT_DRY: _wet(context.hours_since_print, context.drying_hours),
        Cause.SHADE: {True: NEW_LOT, False: OLD_LOT, None: 1.0}[context.new_lot],
        Cause.MODE: _mode(context),
        Cause.SCALE: MOVED_ALIKE ** (context.moved_alike or 0.0),
    }
    known = {cause.value: factor for cause, factor in factors.items()}
    return {name: weight * known.get(name, 1.0) * context.weights.get(name, 1.0) for name, weight in weights.items()}


def _wet(hours: float | None, drying: float | None) -> float:
    if hours is None or drying is None or drying <= 0:
        return 1.0
    if hours < drying:
        return SURELY_WET
    return SURELY_DRY if hours > DRY_AFTER * drying else 1.0


def _mode(context: Context) -> float:
    if context.aim_m is None or context.reading_m is None:
        return MODE_UNKNOWN
    return MODES_AGREE if context.aim_m == context.reading_m else MODES_DIFFER
