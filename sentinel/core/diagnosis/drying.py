"""How the prints of a stock move while they dry, learnt from sheets that were read twice.

A part of a print that is off by w just after printing is off by w·exp(-h/τ) after h hours (common practice, no
published source). A pair of readings tells what moved in between; several tell w of every part and one τ for all.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.causes import SOLID_SIZE, Cause, Way
from sentinel.core.diagnosis.design_matrix import Design
from sentinel.core.diagnosis.movement import NINETY

SCALE_OF_CHANNEL = ("mid", "skew", "whole")
"""The three moves of a channel, as `field.channel_moves` has them."""

GREY_OF_CHANNELS = "grey"


class InkMove(NamedTuple):
    """A way in which a print moves while it dries: `strength` or `tone` of an ink, `mid`, `skew` or `whole` of a
    channel, `density` of a chart that tells neither, `surface`, and `paper` along L*, a* and b*. `of` names which."""

    kind: str
    of: str = ""


class MoveSize(NamedTuple):
    """How far it moved, ΔE00 where it shows most, and the standard deviation of that."""

    de00: float
    error: float


@dataclass(frozen=True, slots=True)
class DryingPair:
    """Two readings of one sheet, `first` and `second` hours after it was printed, and what moved in between."""

    condition: str
    substrate: str
    first: float
    second: float
    changes: Mapping[InkMove, MoveSize]


def ink_moves(design: Design, inks: Sequence[str]) -> dict[InkMove, int]:
    """The departures of a design that drying may move, by what they are."""
    found: dict[InkMove, int] = {}
    channels = design.places("channel")
    for place, each in enumerate(design.departures):
        if each.kind in ("strength", "tone") and each.ink is not None:
            found[InkMove(each.kind, inks[each.ink])] = place
        elif each.kind == "surface" or (each.kind == "density" and not channels):
            found[InkMove(each.kind)] = place
    for axis, place in zip("Lab", design.places("paper"), strict=True):
        found[InkMove("paper", axis)] = place
    for number, place in enumerate(channels):
        channel, scale = divmod(number, len(SCALE_OF_CHANNEL))
        name = inks[channel] if channel < len(inks) else GREY_OF_CHANNELS
        found[InkMove(SCALE_OF_CHANNEL[scale], name)] = place
    return found


HOUSE, STOCK, OWN = 1.0, 1.5, 1.5
"""ΔE00 just after printing, standard deviations: of what all prints of a house have in common, of a stock beside that,
of a printing condition beside its stock (common practice, no published source)."""

REREAD = 0.15
"""ΔE00 by which a part differs between two readings of a dry sheet (common practice, no published source)."""

OF_STOCK, OF_HOUSE = 0.5, 0.2
"""What a pair of the same stock elsewhere, and of another stock, counts beside one of the condition: a power prior
(Ibrahim and Chen, Statistical Science 15, 2000)."""

TIMES: FloatArray = np.geomspace(0.05, 150.0, 40)
"""Hours: the time constants that are weighed."""

USUAL_TIME, TIME_SPREAD = 4.0, 1.2
"""Hours, and the spread of the logarithm: aqueous and solvent ink take some hours, latex and UV minutes (common
practice, no published source)."""

DRY_IN = 3.0
"""Time constants after which a print is called dry: a twentieth is left."""
SOONEST = 0.2

DRY_ALIKE = 4.0
"""All parts of a print dry by one room: however many there are, they tell the speed as so many would."""

FREE = 4.0
"""Degrees of freedom of Student's t by which pairs count less that are unlike the others: it may be another sheet."""
ROUNDS = 4

VISIBLE = 1.0
"""ΔE00 of the part that moves most from which a chart is wet enough to matter."""

STEADY = 0.3
"""ΔE00 that is left of it where the print is called steady: what readings differ by."""

ENOUGH = 3.0
"""So many pairs are believed as much as the settings."""

SURELY = 2.0
"""Standard deviations from which a movement has a direction."""

KNOWN_WITHIN = 6.0
"""Times its lower bound that the upper one of a drying time may be, to be told as known."""
STEADY_LEAST = 0.5
"""Hours: nobody measures sooner."""

_MISSING = 1e6
_QUANTILES = np.array([NormalDist().inv_cdf((step + 0.5) / 15) for step in range(15)])


class Span(NamedTuple):
    """A middle value, and the 90 % interval around it."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class DryingBehaviour:
    """What was learnt of one printing condition.

    `moves` (k) are the parts; `shares` (t,) the probability of each of `TIMES`; under each of these a part is off by
    `wet` (t, k) ΔE00 just after printing, with the standard deviation `spread` (t, k). `pairs` of the condition itself
    were read, between `first` and `last` hours after printing, `others` elsewhere; `trust` (0 to 1) is what all this
    counts beside the settings.
    """

    moves: tuple[InkMove, ...]
    shares: FloatArray
    wet: FloatArray
    spread: FloatArray
    pairs: int
    others: int
    first: float
    last: float
    trust: float

    def change(self, first: float, last: float) -> tuple[FloatArray, FloatArray]:
        """How far each part moves between these hours after printing, and the standard deviation: (k,) each."""
        gone = (np.exp(-last / TIMES) - np.exp(-first / TIMES))[:, None]
        return self._over_times(gone)

    def left(self, hours: float) -> tuple[FloatArray, FloatArray]:
        """How far each part is still off at this hour, and the standard deviation: (k,) each."""
        return self._over_times(np.exp(-hours / TIMES)[:, None])

    def _over_times(self, factor: FloatArray) -> tuple[FloatArray, FloatArray]:
        mean = self.shares @ (self.wet * factor)
        square = self.shares @ ((self.wet**2 + self.spread**2) * factor**2)
        return mean, np.sqrt(np.maximum(square - mean**2, 0.0))

    @property
    def main(self) -> int:
        """The part that moved most, for what is known of it, over the hours at which sheets were read."""
        mean, deviation = self.change(self.first, self.last)
        return int(np.argmax(np.abs(mean) - deviation))

    @property
    def moved(self) -> bool:
        """Whether anything surely moves."""
        mean, deviation = self.change(self.first, self.last)
        return bool((np.abs(mean) > np.maximum(SURELY * deviation, STEADY)).any())

    def likely_wet(self, hours: float) -> float:
        """The probability that the part that moves most is off by more than `VISIBLE` at this hour."""
        factor = np.exp(-hours / TIMES)
        mean, deviation = self.wet[:, self.main] * factor, np.maximum(self.spread[:, self.main] * factor, 1e-9)
        normal = np.vectorize(NormalDist().cdf)
        beyond = normal((mean - VISIBLE) / deviation) + normal((-mean - VISIBLE) / deviation)
        return float(self.shares @ beyond)

    def steady(self) -> Span:
        """Hours after printing until less than `STEADY` is left of the part that moves most."""
        sizes = np.abs(self.wet[:, [self.main]] + self.spread[:, [self.main]] * _QUANTILES)
        hours = TIMES[:, None] * np.log(np.maximum(sizes / STEADY, 1.0))
        shares = np.repeat(self.shares[:, None] / len(_QUANTILES), len(_QUANTILES), axis=1)
        order = np.argsort(hours, axis=None)
        reached = np.cumsum(shares.ravel()[order])
        at = [float(hours.ravel()[order][min(np.searchsorted(reached, q), hours.size - 1)]) for q in (0.05, 0.5, 0.95)]
        return Span(*at)

    @property
    def steady_known(self) -> Span | None:
        """The same, None where the readings leave it open."""
        found = self.steady()
        return found if self.moved and found.high <= KNOWN_WITHIN * max(found.low, STEADY_LEAST) else None

    def as_json(self) -> dict[str, Any]:
        """As commands print it: hours after printing, movements in ΔE00."""
        change, deviation = self.change(self.first, self.last)
        steady = self.steady_known
        return {
            "pairs": self.pairs,
            "others": self.others,
            "first_hours": round(self.first, 2),
            "last_hours": round(self.last, 2),
            "moves": [
                {
                    "what": move.kind,
                    "of": move.of or None,
                    "de00": round(size, 2),
                    "plus_minus": round(NINETY * give, 2),
                }
                for move, size, give in zip(self.moves, change.tolist(), deviation.tolist(), strict=True)
            ],
            "steady_hours": None
            if steady is None
            else {name: round(value, 1) for name, value in steady._asdict().items()},
        }

    def gone_in(self, hours: float) -> float:
        """The share of what a chart is off by because it is wet that goes within so many hours, at whatever age."""
        return float(self.shares @ (1 - np.exp(-hours / TIMES)))


def gone_in_hours(hours: float, dry_after: float) -> float:
    """The same where a print is known to be dry after some hours, 0 for at once."""
    return 1 - math.exp(-hours * DRY_IN / max(dry_after, SOONEST))


def drying_behaviour(
    pairs: Sequence[DryingPair], condition: str, substrate: str, told_hours: float | None = None
) -> DryingBehaviour | None:
    """What these pairs tell of a printing condition of this stock; None where there are none.

    Those of other printers and stocks are drawn on as far as the condition has none of its own. `told_hours` is when
    the settings call it dry, which says where the speed is looked for first.
    """
    moves = tuple(dict.fromkeys(move for pair in pairs for move in pair.changes))
    if not moves:
        return None
    values, noise = _observed(pairs, moves)
    own = np.array([pair.condition == condition for pair in pairs])
    stock = np.array([pair.substrate == substrate for pair in pairs])
    counts = np.where(own, 1.0, np.where(stock, OF_STOCK, OF_HOUSE))
    fit = _fitted(pairs, values, noise / counts, substrate, condition)
    middle = USUAL_TIME if told_hours is None else max(told_hours / DRY_IN, SOONEST)
    away = (np.log(TIMES) - np.log(middle)) / TIME_SPREAD
    weights = np.ones(len(pairs))
    there = (noise < _MISSING).sum(axis=0)
    for _ in range(ROUNDS):
        logs, left, wet, spread = fit(weights)
        shares = np.exp(logs - 0.5 * away**2 - (logs - 0.5 * away**2).max())
        shares /= shares.sum()
        residual = np.einsum("t,tkn->kn", shares, left)
        far = (residual**2 / noise).sum(axis=0)
        weights = np.minimum((FREE + there) / (FREE + far), 1.0)
    hours = [(pair.first, pair.second) for pair, mine in zip(pairs, own, strict=True) if mine or not own.any()]
    worth = float((counts * weights).sum())
    return DryingBehaviour(
        moves=moves,
        shares=shares,
        wet=wet,
        spread=spread,
        pairs=int(own.sum()),
        others=int((~own).sum()),
        first=min(first for first, _ in hours),
        last=max(last for _, last in hours),
        trust=worth / (worth + ENOUGH),
    )


def _observed(pairs: Sequence[DryingPair], moves: Sequence[InkMove]) -> tuple[FloatArray, FloatArray]:
    """What moved and its variance, by part and pair: (k, n) each; parts that a chart does not have are not known."""
    values, noise = np.zeros((len(moves), len(pairs))), np.full((len(moves), len(pairs)), _MISSING)
    for column, pair in enumerate(pairs):
        for row, move in enumerate(moves):
            change = pair.changes.get(move)
            if change is not None:
                values[row, column] = change.de00
                noise[row, column] = change.error**2 + REREAD**2
    return values, noise


class _Fit(NamedTuple):
    """Under each of `TIMES`: ln of its likelihood (t,), what is left of every observation (t, k, n), and of the
    condition what each part is off by just after printing, with the standard deviation: (t, k) each."""

    logs: FloatArray
    left: FloatArray
    wet: FloatArray
    spread: FloatArray


def _fitted(
    pairs: Sequence[DryingPair], values: FloatArray, noise: FloatArray, substrate: str, condition: str
) -> Callable[[FloatArray], _Fit]:
    """Under each of `TIMES` a normal model of all pairs, parts by themselves: what conditions have in common is drawn
    towards their stock and house."""
    names = [pair.condition for pair in pairs]
    stocks = [pair.substrate for pair in pairs]
    kinship = _kinship(names, stocks, names, stocks)
    to_own = _kinship([condition], [substrate], names, stocks)[0]
    gone = np.array([np.exp(-pair.second / TIMES) - np.exp(-pair.first / TIMES) for pair in pairs]).T
    alike = gone[:, :, None] * gone[:, None, :] * kinship
    at_own = gone * to_own
    part = min(1.0, DRY_ALIKE / len(values))

    def fit(weights: FloatArray) -> _Fit:
        own_noise = noise / weights
        inner = alike[:, None] + own_noise[None, :, :, None] * np.eye(len(pairs))
        target = np.broadcast_to(at_own[:, None, :, None], (len(TIMES), len(values), len(pairs), 1))
        data = np.broadcast_to(values[None, :, :, None], target.shape)
        solved = np.linalg.solve(inner, np.concatenate([data, target], axis=3))
        by_data, by_own = solved[..., 0], solved[..., 1]
        logs = -0.5 * (values * by_data).sum(axis=2) - 0.5 * np.linalg.slogdet(inner)[1]
        mean = (at_own[:, None, :] * by_data).sum(axis=2)
        variance = HOUSE**2 + STOCK**2 + OWN**2 - (at_own[:, None, :] * by_own).sum(axis=2)
        return _Fit(part * logs.sum(axis=1), own_noise * by_data, mean, np.sqrt(np.maximum(variance, 0.0)))

    return fit


def _kinship(
    names: Sequence[str], stocks: Sequence[str], other_names: Sequence[str], other_stocks: Sequence[str]
) -> FloatArray:
    """How much what two conditions are off by just after printing varies together: (n, m)."""
    same_stock = np.array(stocks)[:, None] == np.array(other_stocks)[None, :]
    same = np.array(names)[:, None] == np.array(other_names)[None, :]
    return np.asarray(HOUSE**2 + STOCK**2 * same_stock + OWN**2 * same)


STRAY = 0.2
"""Of what a part moves, how much it may move otherwise on another print."""
BESIDE = 0.6
"""Of the weight of a wet chart what the learnt way has where much was learnt: another print may dry otherwise."""
LEAST_LEFT = 1.0
"""ΔE00 that a chart may be wet by at any hour."""


def learnt_way(behaviour: DryingBehaviour, design: Design, inks: Sequence[str], hours: float | None) -> Way | None:
    """The way in which a wet chart of this stock shows; None where nothing surely moves that this chart can show.

    `hours` after printing tell how far it can still be off; its `share` is that of all ways of a wet chart.
    """
    if not behaviour.moved:
        return None
    places = ink_moves(design, inks)
    mean, deviation = behaviour.left(0.0 if hours is None else hours)
    known = [(places[move], row) for row, move in enumerate(behaviour.moves) if move in places]
    main, stray = np.zeros(len(design.departures)), np.zeros(len(design.departures))
    for place, row in known:
        main[place], stray[place] = mean[row], np.hypot(deviation[row], STRAY * mean[row])
    largest = float(np.abs(main).max())
    if largest <= 0:
        return None
    size = SOLID_SIZE if hours is None else min(SOLID_SIZE, max(LEAST_LEFT, 2 * largest))
    moving = np.flatnonzero(stray)
    strays = np.minimum(stray[moving] / largest, 1.0) * size
    aside = np.zeros((len(main), len(moving)))
    aside[moving, range(len(moving))] = strays
    directions = np.column_stack([size * main / largest, aside])
    return Way(Cause.NOT_DRY, None, BESIDE * behaviour.trust, directions, main / largest, one_sign=True)
