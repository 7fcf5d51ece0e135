"""The curve of one ink: how much to send for what is asked, so that its tone scale comes back to the aim."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.visual import scale_between
from sentinel.core.recalibration.inks import YULE_NIELSEN_N, Ink, InkModel
from sentinel.core.recalibration.light import Light
from sentinel.core.recalibration.smoothing import KNOTS, hats, rising, smooth_line
from sentinel.core.recalibration.terms import Terms

_ROUNDS = 3
_SURE = 4.0  # two standard errors: a solid is reduced, or told to be too weak, where its steps say so
_PROBE = 1.0
_TUKEY = 4.685  # 95 % efficiency for normal noise; Beaton and Tukey, Technometrics 16, 1974 (from memory)


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """`asked` and `sent` (knots,) in percent of the ink, straight between; it rises from 0 and never passes 100.

    `moved` is how far it moves the ink's tone scale, ΔE00 (root mean square over its steps); `freedom` how many free
    parameters the readings decided, 0 for a straight curve; `short` by how much ink its solid is too weak, in percent.
    """

    ink: str
    sent: FloatArray
    moved: float = 0.0
    freedom: float = 0.0
    short: float = 0.0

    @property
    def asked(self) -> FloatArray:
        """Ink amounts the job asks for, in percent: (knots,)."""
        return KNOTS

    @property
    def straight(self) -> bool:
        """Whether it sends what is asked."""
        return bool(np.array_equal(self.sent, KNOTS))

    def __call__(self, amounts: npt.ArrayLike) -> FloatArray:
        """What to send for ink amounts in percent, of any shape."""
        sent: FloatArray = np.interp(np.asarray(amounts, float), KNOTS, self.sent)
        return sent


def straight_curve(ink: str) -> Curve:
    """Sends what is asked."""
    return Curve(ink, KNOTS)


def curve_of(ink: Ink, model: InkModel, light: Light, terms: Terms) -> Curve:
    """The curve of an ink from its own steps, aim and reading each on its own paper."""
    scale = _ToneScale(ink, model, light)
    noise = np.sqrt(2.0) * float(np.mean(terms.sheet_noise))
    change, freedom = np.zeros(len(KNOTS)), 0.0
    short = 0.0
    for _ in range(_ROUNDS):
        change, freedom, short = _bettered(scale, change, noise, terms.bend)
        change = _held(change, terms.least_slope) - KNOTS
    moved = scale.moved(change)
    if moved < terms.least_move:
        return straight_curve(ink.name)
    return Curve(ink.name, KNOTS + change, moved, freedom, short)


class _ToneScale:
    """The steps of one ink: their aim as it would look on the paper that was read, and what other amounts give."""

    def __init__(self, ink: Ink, model: InkModel, light: Light) -> None:
        self._ink, self._light, self._floor = ink, light, model.floor
        self.amounts = ink.amounts[ink.steps]
        self._read = light.reading[ink.steps]
        on_paper = light.reading[model.paper].mean(axis=0) / light.aim[model.paper].mean(axis=0)
        self._aim = light.lab(light.aim[ink.steps] * on_paper)
        self._before = light.lab(self._read)
        self._visual = scale_between(self._aim, self._before)
        self._filter = ink.filter(self.amounts)
        self.design = hats(self.amounts)

    def at(self, change: FloatArray, more: FloatArray | float = 0.0) -> FloatArray:
        """Lab of the steps with other amounts, and a little more."""
        amounts = np.clip(np.clip(self.amounts + self.design @ change, 0.0, 100.0) + more, 0.0, 100.0)
        ratio = self._ink.filter(amounts) / self._filter
        return self._light.lab((self._read - self._floor) * ratio**YULE_NIELSEN_N + self._floor)

    def off(self, change: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What is left to the aim, and what a percent more of ink does to that: (steps, 3) each, in ΔE00."""
        sign = np.where(self.amounts + self.design @ change > 100.0 - _PROBE, -1.0, 1.0)
        now, then = self.at(change), self.at(change, sign * _PROBE)
        return self._visual(now - self._aim), self._visual(then - now) * (sign / _PROBE)[:, None]

    def moved(self, change: FloatArray) -> float:
        """ΔE00 from the steps as read to those with other amounts, root mean square."""
        length: FloatArray = np.linalg.norm(self._visual(self.at(change) - self._before), axis=1)
        return float(np.sqrt(np.mean(length**2)))


def _bettered(scale: _ToneScale, change: FloatArray, noise: float, bend: float) -> tuple[FloatArray, float, float]:
    """One round of Gauss and Newton, steps far off weighed less; the solid stays where nothing speaks against it.

    With the line its free parameters, and by how much ink the solid falls short.
    """
    off, slope = scale.off(change)
    size = np.maximum((slope * slope).sum(axis=1), 1e-6)
    wanted = scale.design @ change - (off * slope).sum(axis=1) / size
    weight = np.sqrt(size) / noise
    left = (wanted - scale.design @ smooth_line(scale.design * weight[:, None], wanted * weight, bend)[0]) * weight
    weight = weight * _tukey(left)
    design, goal = scale.design * weight[:, None], wanted * weight
    line, freedom = smooth_line(design, goal, bend)
    held, held_freedom = smooth_line(design, goal, bend, (0, len(KNOTS) - 1))
    worse = float(((design @ held - goal) ** 2).sum() - ((design @ line - goal) ** 2).sum())
    if line[-1] < 0.0 and worse > _SURE:
        return line, freedom, 0.0
    return held, held_freedom, max(float(line[-1]), 0.0) if worse > _SURE else 0.0


def _tukey(left: FloatArray) -> FloatArray:
    """Square roots of Tukey's weights of what is left in units of its noise."""
    bound = _TUKEY * max(1.0, 1.4826 * float(np.median(np.abs(left))))
    weights: FloatArray = np.clip(1.0 - (left / bound) ** 2, 0.0, None)
    return weights


def _held(change: FloatArray, least_slope: float) -> FloatArray:
    """What is sent (knots,): rising by the least slope or more, from 0, to 100 at most."""
    steady = least_slope * KNOTS
    above = rising(KNOTS + change - steady)
    sent: FloatArray = np.clip(above - above[0], 0.0, 100.0 - steady[-1]) + steady
    return sent
