"""The inks of a printer on a stock."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class InkSet:
    """What is in the printer, in the order of its channels, and what this stock leaves out.

    Photo stock carries no matte black (common practice, no published source): its absence is right there, its
    presence is a wrong chart.
    """

    inks: tuple[str, ...] = ()
    left_out: frozenset[str] = frozenset()
