"""The curve of each ink that brings its tone scale back to the aim, what curves leave, and curves as CGATS and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import scale_between
from sentinel.core.inks.channels import YULE_NIELSEN_N
from sentinel.core.inks.read_inks import (
    KNOTS,
    PairedLight,
    ReadInk,
    ReadInkModel,
    hats,
    rising,
    smooth_line,
)
from sentinel.core.measurement.cgats import document_of, write
from sentinel.core.recalibration.shrinkage import MEAN_LENGTH, Straying, StrayModel
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


def curve_of(ink: ReadInk, model: ReadInkModel, light: PairedLight, terms: Terms) -> Curve:
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

    def __init__(self, ink: ReadInk, model: ReadInkModel, light: PairedLight) -> None:
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


What = Literal["paper", "solid", "overprints", "noise"]


@dataclass(frozen=True, slots=True)
class Remains:
    """A part of what is left, as ΔE00: of the bare paper; of the solid of one `ink` that is too weak, out of a curve's
    reach; of overprints beyond what noise explains, root mean square; of noise alone, the mean of aim and new sheet."""

    what: What
    ink: str | None
    de00: float


def remains(
    model: ReadInkModel,
    curves: tuple[Curve, ...],
    left: FloatArray,
    stray: StrayModel,
    sizes: Straying,
    aim_sheets: float,
) -> tuple[Remains, ...]:
    """From the differences left (n, 3) in units of ΔE00, and how the sheets of reading, aim and print to come stray."""
    length = np.linalg.norm(left, axis=1)
    over = np.flatnonzero((model.device > 0).sum(axis=1) > 1)
    found = [Remains("paper", None, float(length[model.paper].mean()))]
    found += [
        Remains("solid", ink.name, float(length[ink.steps[ink.amounts[ink.steps] >= ink.amounts.max()]].mean()))
        for ink, curve in zip(model.inks, curves, strict=True)
        if curve.short > 0
    ]
    single, gain, density = (float(np.sqrt(np.mean(each**2))) for each in (sizes.single, sizes.gain, sizes.density))
    of_sheet = single**2 * stray.variance + stray.whole_variance(gain, density)
    together = of_sheet * (1.0 + 1.0 / aim_sheets)
    if len(over):
        beyond = float(np.mean(length[over] ** 2 - together[over]))
        found.append(Remains("overprints", None, float(np.sqrt(max(0.0, beyond)))))
    return (*found, Remains("noise", None, MEAN_LENGTH * float(np.mean(np.sqrt(together)))))


@dataclass(frozen=True, slots=True)
class Origin:
    """Where curves come from: the number of the `check`, its printing condition, file and target, and the calibration
    in use when the chart was printed, where that is known."""

    check: int
    condition: str
    file: str
    target: str
    calibration: str | None = None


def statements(origin: Origin) -> tuple[str, ...]:
    """What must be known before curves are used, a sentence each."""
    calibration = origin.calibration or "not named in the settings; ask who printed it"
    return (
        "Tone curves of a recalibration, an ink each, straight between their points.",
        "Direction: the first column is the ink amount the job asks for, in percent; the column of an ink is what to "
        "send.",
        f"Stacks on the calibration in use when the chart was printed ({calibration}): these curves are applied before "
        "it, it stays as it is.",
        f"From check {origin.check} of {origin.condition}, file {origin.file}, against the target {origin.target}.",
        "Not to be used before a wrong stock, a wet chart, blocked nozzles and a misreading are excluded, nor before a "
        "person has signed below; print and measure the chart again afterwards.",
    )


SIGNATURE = ("approved by:", "date:")


def curves_csv(curves: Sequence[Curve], origin: Origin) -> str:
    """Text with a comment line for each statement, a head, and a row for every 5 %."""
    out = io.StringIO()
    out.writelines(f"# {line}\n" for line in (*map(_one_line, statements(origin)), *SIGNATURE))
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["asked_percent", *(f"{curve.ink}_sent_percent" for curve in curves)])
    for row, asked in enumerate(KNOTS):
        writer.writerow([f"{asked:g}", *(f"{curve.sent[row]:.2f}" for curve in curves)])
    return out.getvalue()


def curves_cgats(curves: Sequence[Curve], origin: Origin) -> bytes:
    """A CGATS.17 text: a row for every 5 %, the amount asked and, a column an ink, the amount to send."""
    columns = {"ASKED_PERCENT": [f"{asked:g}" for asked in KNOTS]}
    columns |= {f"SENT_{curve.ink}": [f"{value:.2f}" for value in curve.sent.tolist()] for curve in curves}
    keywords = {
        "DESCRIPTOR": _one_line(f"Tone curves from check {origin.check} of {origin.condition}"),
        "CURVE_DIRECTION": "asked by the job to sent to the printer",
        "STACKS_ON": _one_line(origin.calibration or "the calibration in use when the chart was printed"),
        "APPROVED_BY": "",
    }
    return write(document_of(columns, keywords, comments=[*map(_one_line, statements(origin)), *SIGNATURE]))


def _one_line(text: str) -> str:
    return " ".join(text.split())
