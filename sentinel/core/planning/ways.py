"""What each way of calling for checks costs and saves, worked out from a printer's own records gone through again."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from itertools import pairwise

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.conditions.risk import SHARES, WEEK_DAYS
from sentinel.core.drift.replay import Met, Stretch, WayReplayed
from sentinel.core.message import Message, msg
from sentinel.core.planning.room import ChartMinutes
from sentinel.core.verdict import Verdict

BY_AGE = "age"
WAYS: Mapping[str, float | None] = {BY_AGE: None, **SHARES}
"""Every way of calling, with the probability at which a check is due; None by age."""
AS_MADE = "as made"
"""The checks as they were made, whatever called for them."""

LEAST_READINGS = 16
"""From so many readings on the scatter of a printer's figures is its own."""
LEAST_CHECKS = 8
"""Stretches between checks that a figure stands on at least."""
LEAST_WEEKS = 4.0
DRAWS = 400
BOUNDS = (5.0, 95.0)
"""Percent: 90 % of the draws lie between them."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure a week, with what holds it with 90 % confidence."""

    value: float
    low: float
    high: float

    def times(self, factor: float) -> Estimate:
        """So many times as much."""
        return Estimate(self.value * factor, self.low * factor, self.high * factor)


@dataclass(frozen=True, slots=True)
class WayCost:
    """What a way costs a week: charts, hands-on minutes (None where no chart's times are told), and working days out of
    tolerance that nobody knows of (None where nothing can be said). `checks` are the stretches behind it."""

    way: str
    checks: int
    charts: Estimate | None
    minutes: Estimate | None
    unknown: Estimate | None


@dataclass(frozen=True, slots=True)
class PlaceCosts:
    """The costs of every way for a printer or a condition. `readings` of the printer began at `since`; `lacking` says
    what the figures cannot be trusted for."""

    name: str
    conditions: int
    readings: int
    since: datetime | None
    ways: tuple[WayCost, ...]
    lacking: Message | None


@dataclass(frozen=True, slots=True)
class HandsOn:
    """What tells how long a chart keeps a person busy: the times of each condition's chart, its stock, the minutes of a
    roll change of the printer, which stock was loaded when (in order), and the zone whose days a round is made on."""

    charts: Mapping[str, ChartMinutes | None]
    stocks: Mapping[str, str]
    change_minutes: int
    loaded: Sequence[tuple[datetime, str]]
    zone: tzinfo

    def of(self, stretches: Sequence[Stretch]) -> list[float | None]:
        """For the check at the end of each of these: to measure its chart, and its share of the roll change that all
        charts of its stock on this day need, where another roll is on the printer. None where no chart is known."""
        rounds = [
            None if each.ends is None else (each.ends.astimezone(self.zone).date(), self.stocks[each.condition])
            for each in stretches
        ]
        together = Counter(each for each in rounds if each is not None)
        return [
            0.0 if one is None or each.ends is None else self._minutes(each.condition, each.ends, together[one])
            for each, one in zip(stretches, rounds, strict=True)
        ]

    def _minutes(self, condition: str, at: datetime, together: int) -> float | None:
        chart = self.charts[condition]
        if chart is None:
            return None
        place = bisect_right(self.loaded, at, key=lambda each: each[0])
        on_it = place > 0 and self.loaded[place - 1][1] == self.stocks[condition]
        return chart.measuring_minutes + (0.0 if on_it else self.change_minutes / together)


def lacking_history(readings: int, weeks: float, checks: int) -> Message | None:
    """Why a place cannot be judged yet, by so many readings of its printer in so many weeks and so many of its own
    checks; None where it can."""
    if readings < LEAST_READINGS or weeks < LEAST_WEEKS:
        return TOO_LITTLE.format(
            readings=readings, weeks=round(weeks, 1), least=LEAST_READINGS, least_weeks=LEAST_WEEKS
        )
    return None if checks >= LEAST_CHECKS else TOO_FEW.format(checks=checks, least=LEAST_CHECKS)


TOO_LITTLE = msg(
    "too little history: {readings} readings of the printer in {weeks:g} weeks; it can be judged from {least} readings "
    "in {least_weeks:g} weeks on"
)
TOO_FEW = msg("too little history: {checks} checks in this time; it can be judged from {least} on")


AS_SAID = Estimate(1.0, 1.0, 1.0)
_WORTH = 4.0
"""Prints read out of tolerance that what was said beforehand is worth."""


def share_held(met: Iterable[Met]) -> Estimate:
    """How many prints were read out of tolerance for each that was said to be, by the checks before which anything was
    said: what the house's own record makes of the probabilities of its days. Few checks change little."""
    said = [(each.stated, each.verdict is Verdict.FAIL) for each in met if each.stated is not None]
    expected, out = sum(one for one, _ in said), sum(failed for _, failed in said)
    low, high = count_bounds(out)
    value, lowest, highest = ((count + _WORTH) / (expected + _WORTH) for count in (out, low, high))
    return Estimate(value, lowest, highest)


def cost_of(
    way: str,
    stretches: Sequence[Stretch],
    minutes: Sequence[float | None],
    conditions: int,
    held: Estimate = AS_SAID,
) -> WayCost:
    """What a way costs a week on so many conditions, by its stretches and what each one's check takes. Of the days that
    are expected to be out the share counts that `held`.

    Rates are those of events in the time that was at risk of them, stretches that still run counted with their time;
    bounds by bootstrap over stretches, with a fixed seed (Efron and Tibshirani 1993, ch. 13: percentiles);
    those of fewer checks than LEAST_CHECKS as of a count.
    """
    days = np.array([each.days for each in stretches])
    called = np.array([each.ends is not None for each in stretches], float)
    seen = np.array([each.days - each.blind for each in stretches])
    unknown = np.array([each.unknown for each in stretches])
    known = all(each is not None for each in minutes)
    hands = np.array([each or 0.0 for each in minutes])
    scale = WEEK_DAYS * conditions
    charts, each = _rate(called, days, scale), hands.sum() / max(called.sum(), 1.0)
    few = None if charts is None or called.sum() >= LEAST_CHECKS else _few(int(called.sum()), charts.value, days, scale)
    return WayCost(
        way=way,
        checks=int(called.sum()),
        charts=few or charts,
        minutes=None if not known else few.times(each) if few else _rate(hands, days, scale),
        unknown=_both(_rate(unknown, seen, scale), held),
    )


def _both(found: Estimate | None, held: Estimate) -> Estimate | None:
    """The product, with bounds as of relative errors that are independent."""
    if found is None:
        return None
    value = found.value * held.value
    below = _relative(found.value - found.low, found.value) ** 2 + _relative(held.value - held.low, held.value) ** 2
    above = _relative(found.high - found.value, found.value) ** 2 + _relative(held.high - held.value, held.value) ** 2
    return Estimate(value, value * max(1.0 - math.sqrt(below), 0.0), value * (1.0 + math.sqrt(above)))


def _relative(error: float, value: float) -> float:
    return error / value if value else 0.0


def _few(count: int, value: float, days: FloatArray, scale: float) -> Estimate:
    """Of a few checks resampling says nothing: as of a count."""
    low, high = count_bounds(count)
    return Estimate(value, scale * low / float(days.sum()), scale * high / float(days.sum()))


def count_bounds(count: int) -> tuple[float, float]:
    """What holds the mean behind a Poisson count with 90 % confidence (Garwood 1936), by the chi-squared quantiles of
    Wilson and Hilferty (1931)."""
    return _half_chi_squared(2 * count, -NORMAL_95), _half_chi_squared(2 * count + 2, NORMAL_95)


NORMAL_95 = 1.6449
"""The 95 % quantile of the normal distribution."""


def _half_chi_squared(degrees: int, normal: float) -> float:
    if degrees == 0:
        return 0.0
    spread = 2.0 / (9.0 * degrees)
    return 0.5 * degrees * (1.0 - spread + normal * math.sqrt(spread)) ** 3


def _rate(amounts: FloatArray, times: FloatArray, scale: float) -> Estimate | None:
    if times.sum() <= 0.0:
        return None
    drawn = np.random.default_rng(1).integers(0, len(times), (DRAWS, len(times)))
    sums = times[drawn].sum(axis=1)
    rates = scale * amounts[drawn].sum(axis=1)[sums > 0] / sums[sums > 0]
    low, high = np.percentile(rates, BOUNDS)
    return Estimate(float(scale * amounts.sum() / times.sum()), float(low), float(high))


def added_up(costs: Iterable[WayCost]) -> WayCost:
    """The same of several places together: their figures, and bounds as of errors that are independent."""
    each = list(costs)
    return WayCost(
        way=each[0].way,
        checks=sum(one.checks for one in each),
        charts=_sum([one.charts for one in each]),
        minutes=_sum([one.minutes for one in each]),
        unknown=_sum([one.unknown for one in each]),
    )


def _sum(parts: Sequence[Estimate | None]) -> Estimate | None:
    known = [part for part in parts if part is not None]
    if len(known) < len(parts):
        return None
    value = sum(part.value for part in known)
    below = sum((part.value - part.low) ** 2 for part in known) ** 0.5
    above = sum((part.high - part.value) ** 2 for part in known) ** 0.5
    return Estimate(value, max(value - below, 0.0), value + above)


NEARLY = timedelta(days=1)
"""Two moments that lie less apart are one: rounds are made by the day."""


@dataclass(frozen=True, slots=True)
class ShadowCheck:
    """A check that was made, beside what risk would have had: `skipped` it, though age called for it, or called for it
    earlier than age did (`added_at`). `stated` is how likely the print was said to be out of tolerance."""

    condition: str
    seq: int
    at: datetime
    verdict: Verdict
    stated: float | None
    skipped: bool
    added_at: datetime | None


@dataclass(frozen=True, slots=True)
class Shadow:
    """What risk would have had at this level while checks were made by age. `awaited` are conditions that it has called
    for, age has not, and that were not read since, with when it did."""

    level: str
    share: float
    checks: tuple[ShadowCheck, ...]
    awaited: Mapping[str, datetime]

    @property
    def skipped(self) -> tuple[ShadowCheck, ...]:
        """Checks that age called for and risk would not have."""
        return tuple(each for each in self.checks if each.skipped)

    @property
    def added(self) -> tuple[ShadowCheck, ...]:
        """Checks that it would have had earlier, by a day at least."""
        return tuple(each for each in self.checks if each.added_at is not None)


def shadow_of(level: str, by_age: WayReplayed, by_risk: WayReplayed) -> Shadow:
    """What risk at this level would have had, where both looked on at the same checks."""
    pairs = zip(by_age.met, by_risk.met, strict=True)
    known = _awaited(by_age)
    awaited = {name: at for name, at in _awaited(by_risk).items() if name not in known}
    return Shadow(level, SHARES[level], tuple(_shadowed(age, risk) for age, risk in pairs), awaited)


def _awaited(way: WayReplayed) -> dict[str, datetime]:
    """Conditions whose check is called for and was not made yet."""
    last = {each.condition: each for each in way.stretches}
    read = {met.condition: met.at for met in way.met}
    return {
        name: each.ends
        for name, each in last.items()
        if each.ends is not None and each.begins >= read.get(name, each.begins)
    }


def _shadowed(age: Met, risk: Met) -> ShadowCheck:
    otherwise = min(each for each in (age.called, age.due_at, age.at) if each is not None)
    early = risk.called is not None and otherwise - risk.called >= NEARLY
    return ShadowCheck(
        condition=risk.condition,
        seq=risk.seq,
        at=risk.at,
        verdict=risk.verdict,
        stated=risk.stated,
        skipped=age.wanted and not risk.wanted,
        added_at=risk.called if early else None,
    )


EDGES = (0.0, 0.02, 0.05, 0.1, 0.2, 0.35, 0.7, 1.0)
"""Of the probabilities that are held against what was read."""


@dataclass(frozen=True, slots=True)
class StatedBin:
    """Checks of prints that were said to be out of tolerance with a probability between these: how many there were,
    `stated` on average, and how many were read `out`."""

    low: float
    high: float
    checks: int
    stated: float
    out: int


def bins_of(met: Iterable[Met]) -> tuple[StatedBin, ...]:
    """What was said held against what was read, where anything was said and is not empty."""
    said = [(each.stated, each.verdict is Verdict.FAIL) for each in met if each.stated is not None]
    return tuple(_bins(said))


def _bins(said: Sequence[tuple[float, bool]]) -> Iterator[StatedBin]:
    for low, high in pairwise(EDGES):
        within = [(one, out) for one, out in said if low <= one < high or (high == 1.0 and one >= high)]
        if within:
            stated = sum(one for one, _ in within) / len(within)
            yield StatedBin(low, high, len(within), stated, sum(out for _, out in within))
