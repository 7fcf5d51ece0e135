"""Whether an instrument began to read otherwise, from what it read on all printers against what was expected there.

What a printer's filter expected on some morning, and how surely, is held against everything that was read since. A
shift of one instrument is common to all that it read, whichever printer made it, and to nothing else; a jump of a
printer is common to that printer, whichever instrument read it. Both are weighed by Bayes factors of mean shifts in
correlated normal errors, with normal priors (Jeffreys 1961; Kass and Raftery 1995; West and Harrison 1997, ch. 11).
Where one instrument read everything, its shift and a common one of all printers are the same readings: then it says so
(`apart` is False), and a reference reading or a second instrument has to tell.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray, IntArray
from sentinel.core.drift.wear import TOLD_BY_AN_INK


@dataclass(frozen=True, slots=True)
class InstrumentRules:
    """What is expected of instruments; sizes in scatters of a reading. Common practice, no published source."""

    size: float = 2.0
    """How far a figure shifts where an instrument does."""
    days_between: float = 200.0
    """Of shifts of one instrument."""
    jump: float = 6.0
    """How far an ink of a printer jumps that nobody told of."""
    days_between_jumps: float = 300.0
    days_between_runs: float = 60.0
    """In which all inks of a printer move within days, for whatever reason."""
    wider: float = 1.4
    """By how much what was expected is off more than the filter says."""
    farthest: float = 3.0
    """A reading counts for no more than so many of its expected deviations: it may be misread."""
    odds: float = 30.0
    """From which odds on a shift is told."""
    fewest: int = 3
    """Readings by the instrument."""


INSTRUMENTS = InstrumentRules()


@dataclass(frozen=True, slots=True, eq=False)
class Unexpected:
    """What was read (n) of one printer since some morning, less what was expected then, in scatters.

    `instrument` (n,) names who read it; `error` (n, f), NaN where a figure is not known; `covariance` (i, n, n) of the
    errors of an ink's figures, the scatter of the readings in it; `shown` (n, i) how strongly the condition shows what
    the printer does; `figures` (f,) names the figures, which printers share; `ink_of` (f,) numbers their inks.
    """

    instrument: Sequence[str]
    error: FloatArray
    covariance: FloatArray
    shown: FloatArray
    figures: Sequence[Hashable]
    ink_of: IntArray


class InstrumentShift(NamedTuple):
    """An instrument reads otherwise by so much (`by`, in scatters, figure by figure), with the odds of that.

    `apart` tells whether others read enough to tell it from a common drift of all printers; `readings` of it.
    """

    instrument: str
    odds: float
    apart: bool
    readings: int
    by: dict[Hashable, float]


class _Common(NamedTuple):
    """Of a shift that is common to some readings of a printer: how surely (f,) and how much (f,) they tell of it."""

    sure: FloatArray
    much: FloatArray


def shifted_instruments(
    printers: Sequence[Unexpected], days: float, rules: InstrumentRules = INSTRUMENTS
) -> list[InstrumentShift]:
    """The instruments that read otherwise since that morning, `days` ago; one at a time is looked for."""
    found = []
    for name in sorted({one for each in printers for one in each.instrument}):
        own = [np.array([one == name for one in each.instrument], float) for each in printers]
        readings = int(sum(each.sum() for each in own))
        if readings < rules.fewest:
            continue
        shift = _shifts(printers, own, rules)
        drift = _shifts(printers, [np.ones_like(each) for each in own], rules)
        rival = sum(_jumps(each, days, rules) for each, mine in zip(printers, own, strict=True) if mine.any())
        log_odds = shift.log_factor - rival + np.log(days / rules.days_between)
        if log_odds > np.log(rules.odds):
            apart = shift.log_factor - drift.log_factor > np.log(rules.odds)
            elsewhere = readings < sum(len(each.instrument) for each in printers)
            found.append(
                InstrumentShift(name, float(np.exp(min(log_odds, 700.0))), apart and elsewhere, readings, shift.by)
            )
    return found


class _Shift(NamedTuple):
    log_factor: float
    by: dict[Hashable, float]


def _shifts(printers: Sequence[Unexpected], held: Sequence[FloatArray], rules: InstrumentRules) -> _Shift:
    """That all figures of the readings `held` shifted, against that none did."""
    sure: dict[Hashable, float] = {}
    much: dict[Hashable, float] = {}
    worth: dict[Hashable, float] = {}
    for each, of in zip(printers, held, strict=True):
        if of.any():
            told = _told(each, np.tile(of[:, None], len(each.figures)), rules)
            counts = np.bincount(each.ink_of)
            for number, figure in enumerate(each.figures):
                sure[figure] = sure.get(figure, 0.0) + float(told.sure[number])
                much[figure] = much.get(figure, 0.0) + float(told.much[number])
                worth[figure] = min(TOLD_BY_AN_INK / counts[each.ink_of[number]], 1.0)
    factor = sum(worth[one] * _log_factor(sure[one], much[one], rules.size) for one in sure)
    by = {one: much[one] / (sure[one] + rules.size**-2) for one in sure}
    return _Shift(float(factor), by)


def _jumps(printer: Unexpected, days: float, rules: InstrumentRules) -> float:
    """The log of how much better the readings are foretold where inks of the printer may have jumped as well."""
    told = _told(printer, printer.shown[:, printer.ink_of], rules)
    each = np.array([_log_factor(s, m, rules.jump) for s, m in zip(told.sure, told.much, strict=True)])
    counts = np.bincount(printer.ink_of)
    by_ink = np.bincount(printer.ink_of, each) * np.minimum(TOLD_BY_AN_INK / np.maximum(counts, 1), 1.0)
    likely, run = (1.0 - np.exp(-days / each) for each in (rules.days_between_jumps, rules.days_between_runs))
    by_inks = np.logaddexp(np.log1p(-likely), np.log(likely) + by_ink).sum()
    whole = _shifts([printer], [np.ones(len(printer.instrument))], rules).log_factor
    return float(np.logaddexp(np.log1p(-run) + by_inks, np.log(run) + whole))


def _log_factor(sure: float, much: float, size: float) -> float:
    """Of a normal shift of this size against none."""
    return float(-0.5 * np.log1p(size**2 * sure) + 0.5 * size**2 * much**2 / (1.0 + size**2 * sure))


def _told(printer: Unexpected, held: FloatArray, rules: InstrumentRules) -> _Common:
    """What the readings tell of a shift that each shows by `held` (n, f)."""
    sure, much = np.zeros(len(printer.figures)), np.zeros(len(printer.figures))
    for number, ink in enumerate(printer.ink_of):
        known = ~np.isnan(printer.error[:, number])
        if known.any():
            covariance = rules.wider**2 * printer.covariance[ink][np.ix_(known, known)]
            wide = rules.farthest * np.sqrt(np.diag(covariance))
            error, shows = np.clip(printer.error[known, number], -wide, wide), held[known, number]
            solved = np.linalg.solve(covariance, np.column_stack([error, shows]))
            much[number], sure[number] = shows @ solved
    return _Common(sure, much)
