"""CGATS texts of one chart as several prints and instruments give it: invented inks, one Lab a patch."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tests.support import cgats
from tests.support.cgats import Patch

TONES = (10, 20, 30, 40, 50, 60, 70, 80, 90, 100)
PAPER = np.array([95.0, 0.5, -3.0])
SOLIDS = np.array([[55.0, -36.0, -49.0], [48.0, 73.0, -4.0], [89.0, -5.0, 92.0], [18.0, 0.5, 0.5]])


def printed(
    *, ink: int | None = None, more: float = 0.0, paper: float = 0.0, noise: float = 0.08, seed: int = 1
) -> list[Patch]:
    """A sheet: `more` of an ink as a share of its colour, `paper` added to L* of every patch, by its share of bare
    stock; the readings stray by `noise` in each component."""
    amounts = [(0, 0, 0, 0), (0, 0, 0, 0)]
    amounts += [_alone(column, tone) for column in range(4) for tone in TONES]
    amounts += [(100, 100, 0, 0), (100, 0, 100, 0), (0, 100, 100, 0), (50, 40, 40, 0), (25, 19, 19, 0), (75, 66, 66, 0)]
    random = np.random.default_rng(seed)
    patches = []
    for device in amounts:
        share = np.array(device) / 100
        laid = share * np.where(np.arange(4) == ink, 1 + more, 1.0)
        colour = PAPER + (laid[:, None] * (SOLIDS - PAPER)).sum(axis=0) / max(1.0, laid.sum() ** 0.5)
        colour = colour + np.array([paper, 0, 0]) + random.normal(0, noise, 3)
        patches.append(Patch(device, (float(max(colour[0], 3.0)), float(colour[1]), float(colour[2]))))
    return patches


def _alone(column: int, tone: int) -> tuple[int, int, int, int]:
    first, second, third, fourth = (tone if place == column else 0 for place in range(4))
    return first, second, third, fourth


def read_by(patches: list[Patch], scale: float, shift: float = 0.0) -> list[Patch]:
    """The same sheet by another instrument: L*, a* and b* `scale` as large, L* moved by `shift`."""
    return [
        Patch(each.device, (scale * each.lab[0] + shift, scale * each.lab[1], scale * each.lab[2])) for each in patches
    ]


def file_of(patches: list[Patch], serial: str | None = None, keywords: Mapping[str, str] | None = None) -> str:
    """As a file; `serial` is the instrument's."""
    said = {"INSTRUMENT_SERIAL_NUMBER": serial} if serial else {}
    return cgats.text(patches=patches, keywords={**said, **(keywords or {})})
