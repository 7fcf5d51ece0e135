"""Inks that a driver splits: one column of the chart, its light tones printed with a light ink in place of the full."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.scoring.groups import families

SPLIT_OFTEN = frozenset("CMK")
"""Families of inks that wide-format printers commonly print with a light ink, too; yellow is light enough by itself
(common practice, no published source)."""

_FULL = re.compile(r"(?:VIVID|V)*(?:C|CYAN|M|MAGENTA|Y|YELLOW)|(?:PHOTO|P|MATT?E?|M)*(?:K|BK|BLACK)")

ALONE, UNTIL = 0.2, 0.7
"""Of full coverage: up to the first the light ink makes all of a tone, from the second on none of it (common practice,
no published source)."""
SOONEST, LATEST = 0.55, 0.85
"""Where it may end instead: every driver splits in its own way."""


def light_share(amount: FloatArray, until: float = UNTIL) -> FloatArray:
    """Which part of a tone the light ink makes, at amounts of 0 to 1: falls from 1 to 0."""
    share: FloatArray = np.clip((until - amount) / (until - ALONE), 0.0, 1.0)
    return share


def reach_share(amount: FloatArray) -> FloatArray:
    """What part more it makes where it reaches furthest up than where it does least."""
    return light_share(amount, LATEST) - light_share(amount, SOONEST)


def split_columns(inks: Sequence[str], told: Sequence[str] | None) -> frozenset[int]:
    """The columns of a chart that may be printed with a light ink which has no column of its own.

    `told` are those that a printer is said to split, by their names or as C, M, Y, K; None where nobody said: then
    those that often are.
    """
    of = families(tuple(inks))
    full = [_is_full(ink, inks) for ink in inks]
    apart = {family for family, whole in zip(of, full, strict=True) if not whole}
    if told is None:
        meant = [family in SPLIT_OFTEN for family in of]
    else:
        kinds = {family for family in families(tuple(told)) if family}
        meant = [ink in told or family in kinds for ink, family in zip(inks, of, strict=True)]
    return frozenset(
        column
        for column, family in enumerate(of)
        if meant[column] and (family is None or (full[column] and family not in apart))
    )


def _is_full(ink: str, inks: Sequence[str]) -> bool:
    """No light sister: neither by its name nor written small beside a capital."""
    small = len(ink) == 1 and ink.islower() and ink.upper() in inks
    return not small and _FULL.fullmatch(re.sub(r"[^A-Z0-9]", "", ink.upper())) is not None
