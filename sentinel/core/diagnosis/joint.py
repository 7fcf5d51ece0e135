"""Sets of causes that may hold together, each with its probability: how likely one cause is in all of them, and the
fewest causes that answer."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.design_matrix import Design
from sentinel.core.diagnosis.explanations import CausePart, Explanation

MOST_WEIGHED = 8
"""An answer is sought among so many of the likeliest causes; those beyond come after them one by one."""

ROUNDING = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class FigureBasis:
    """What the figures of a finding are made from: `residual` is reading less aim, `rivals` are reading less theirs
    (n, 3), in visual units; `outlying` (n,) the patches that lie apart, `paper` (n,) those without ink, `full` (n,) the
    full tones; `instruments` are that of the aim and that of the reading, where they are known to differ."""

    inks: tuple[str, ...]
    labels: tuple[str, ...]
    paper: BoolArray
    full: BoolArray
    design: Design
    residual: FloatArray
    rivals: dict[str, FloatArray]
    outlying: BoolArray
    instruments: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Possibility:
    """All that is wrong together (`parts`, none twice; none for a healthy sheet), its `share` of probability, and what
    it is told from. Those of another order of patches stand on the figures of that order."""

    parts: tuple[CausePart, ...]
    share: float
    explanation: Explanation
    source: FigureBasis

    def also(self, cause: Cause, share: float) -> Possibility:
        """The same with one more thing wrong, and another share."""
        one_more = CausePart(cause)
        parts = self.parts if one_more in self.parts else (*self.parts, one_more)
        return replace(self, parts=parts, share=share)

    def times(self, factor: float) -> Possibility:
        """With a part of its share."""
        return replace(self, share=self.share * factor)


def either(possible: Iterable[Possibility], cause: Cause, likely: float) -> list[Possibility]:
    """Each with and without another thing wrong that is `likely` whatever else is."""
    found = list(possible)
    if not likely:
        return found
    return [*(each.times(1 - likely) for each in found), *(each.also(cause, each.share * likely) for each in found)]


def healthy(possible: Iterable[Possibility]) -> float:
    """The probability that nothing is wrong."""
    return sum(each.share for each in possible if not each.parts)


def given_wrong(possible: Iterable[Possibility]) -> list[Possibility]:
    """Those with something wrong; their shares are 1 in all."""
    faulty = [each for each in possible if each.parts]
    wrong = sum(each.share for each in faulty)
    return faulty if abs(wrong - 1) < ROUNDING else [each.times(1 / wrong) for each in faulty]


def marginals(possible: Iterable[Possibility]) -> dict[CausePart, float]:
    """The probability of each cause, given that something is wrong; they need not add to 1."""
    totals: dict[CausePart, float] = {}
    for each in given_wrong(possible):
        for part in each.parts:
            totals[part] = totals.get(part, 0.0) + each.share
    return {part: min(total, 1.0) for part, total in totals.items()}


def fewest(possible: Sequence[Possibility], likely: Mapping[CausePart, float], enough: float) -> frozenset[CausePart]:
    """The fewest causes of which it is so likely (`enough`) that they hold all that is wrong, given that something is.

    Of several sets as small the likeliest; all of them where none is enough. `likely` are the marginals.
    """
    ranked = sorted(likely, key=lambda part: -likely[part])
    number = {part: place for place, part in enumerate(ranked)}
    faulty = given_wrong(possible)
    shares = np.array([each.share for each in faulty])
    holds = np.zeros((len(faulty), len(ranked)), dtype=bool)
    for row, each in enumerate(faulty):
        holds[row, [number[part] for part in each.parts]] = True

    def inside(chosen: Sequence[int]) -> float:
        others = np.ones(len(ranked), dtype=bool)
        others[list(chosen)] = False
        return float(shares[~holds[:, others].any(axis=1)].sum())

    few = range(min(MOST_WEIGHED, len(ranked)))
    for size in range(1, len(few) + 1):
        best = _likeliest(itertools.combinations(few, size), inside)
        if inside(best) >= enough:
            return frozenset(ranked[place] for place in best)
    for size in range(len(few) + 1, len(ranked)):
        if inside(range(size)) >= enough:
            return frozenset(ranked[:size])
    return frozenset(ranked)


def _likeliest(sets: Iterable[tuple[int, ...]], inside: Callable[[Sequence[int]], float]) -> tuple[int, ...]:
    return max(sets, key=inside)
