"""What the curves leave, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.recalibration.curve import Curve
from sentinel.core.recalibration.inks import InkModel
from sentinel.core.recalibration.noise import StrayModel

What = Literal["paper", "solid", "overprints", "noise"]


@dataclass(frozen=True, slots=True)
class Remains:
    """A part of what is left, as ΔE00: of the bare paper; of the solid of one `ink` that is too weak, out of a curve's
    reach; of overprints beyond what noise explains, root mean square; of noise alone, the mean of aim and new sheet."""

    what: What
    ink: str | None
    de00: float


def remains(
    model: InkModel, curves: tuple[Curve, ...], left: FloatArray, stray: StrayModel, of_aim: float, of_new: float
) -> tuple[Remains, ...]:
    """From the differences left (n, 3) in units of ΔE00; `of_aim` and `of_new` are sizes of the sheets' straying."""
    length = np.linalg.norm(left, axis=1)
    over = np.flatnonzero((model.device > 0).sum(axis=1) > 1)
    found = [Remains("paper", None, float(length[model.paper].mean()))]
    found += [
        Remains("solid", ink.name, float(length[ink.steps[ink.amounts[ink.steps] >= ink.amounts.max()]].mean()))
        for ink, curve in zip(model.inks, curves, strict=True)
        if curve.short > 0
    ]
    if len(over):
        strayed = 2.0 * of_aim**2 * (stray.variance + (stray.whole**2).sum(axis=(0, 2)))[over]
        found.append(Remains("overprints", None, float(np.sqrt(max(0.0, np.mean(length[over] ** 2 - strayed))))))
    return (*found, Remains("noise", None, float(np.hypot(of_aim, of_new))))
