"""What the print room decides about curves; apart from the rest, since settings load no numpy."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Terms:
    """What the settings decide, see [recalibration] there.

    `sheet_noise` is the least and greatest mean ΔE00 of a sheet from the mean print; `bend` how far a curve may leave
    the straight line between its neighbours, in percent, 5 % apart; `least_slope` the least rise of a curve; below
    `least_move` (ΔE00 over an ink's steps, root mean square) its curve stays straight.
    """

    sheet_noise: tuple[float, float]
    bend: float
    least_slope: float
    least_move: float
