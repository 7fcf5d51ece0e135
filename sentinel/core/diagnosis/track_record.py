"""How often each confidence of a diagnosis was right, held against what people told with evidence. Light: no numpy."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt
from typing import Any

EDGES = (0.0, 0.3, 0.5, 0.7, 0.9, 1.0)
"""Of the confidences that are counted together; the last of them takes its upper edge in."""

FEWEST = 20
"""Of fewer cases nothing is said."""

NORMAL_95 = 1.959964
"""The 97.5 % point of the normal distribution: 95 % lie between minus and plus so much."""


def wilson_interval(right: int, cases: int) -> tuple[float, float]:
    """Lowest and highest share that `right` of `cases` speak for, 95 %: the score interval of E. B. Wilson, Probable
    inference, the law of succession, and statistical inference, J. Am. Stat. Assoc. 22 (1927) 209-212."""
    if cases == 0:
        return 0.0, 1.0
    share, square = right / cases, NORMAL_95**2
    middle = (share + square / (2 * cases)) / (1 + square / cases)
    half = NORMAL_95 / (1 + square / cases) * sqrt(share * (1 - share) / cases + square / (4 * cases**2))
    return max(middle - half, 0.0), min(middle + half, 1.0)


@dataclass(frozen=True, slots=True)
class ConfidenceBin:
    """Findings told with a confidence from `low` to `high`: how many, and how many of them were right."""

    low: float
    high: float
    findings: int
    right: int

    @property
    def enough(self) -> bool:
        """Whether there are so many that something can be said."""
        return self.findings >= FEWEST

    def as_json(self) -> dict[str, Any]:
        """`share` is null where there is none; `interval` the lowest and highest share these few or many speak for."""
        return {
            "from": self.low,
            "to": self.high,
            "findings": self.findings,
            "right": self.right,
            "share": round(self.right / self.findings, 4) if self.findings else None,
            "interval": [round(end, 4) for end in wilson_interval(self.right, self.findings)],
            "enough": self.enough,
        }


@dataclass(frozen=True, slots=True)
class KnownCase:
    """The `findings` of a check, best first, as they are kept, and what it really had: `cause` as a diagnosis calls it,
    None where nothing was wrong, and the `ink` where one was told."""

    findings: Sequence[Mapping[str, Any]]
    cause: str | None
    ink: str | None = None

    def is_right(self, finding: Mapping[str, Any]) -> bool:
        """Whether it names the cause, and no other ink than the one told."""
        return finding["cause"] == self.cause and (None in (self.ink, finding["ink"]) or finding["ink"] == self.ink)


@dataclass(frozen=True, slots=True)
class TrackRecord:
    """`first` of the finding that came first of each check, `all` of all findings; `cases` checks in all, of which
    `silent` had a fault and no finding, `false_alarms` findings and no fault."""

    cases: int
    silent: int
    false_alarms: int
    first: tuple[ConfidenceBin, ...]
    all: tuple[ConfidenceBin, ...]


def track_record(cases: Sequence[KnownCase]) -> TrackRecord:
    """How often each confidence was right."""
    told = [[(each["confidence"], case.is_right(each)) for each in case.findings] for case in cases]
    return TrackRecord(
        cases=len(cases),
        silent=sum(case.cause is not None and not case.findings for case in cases),
        false_alarms=sum(case.cause is None and bool(case.findings) for case in cases),
        first=_bins(pair for pairs in told for pair in pairs[:1]),
        all=_bins(pair for pairs in told for pair in pairs),
    )


def _bins(found: Iterable[tuple[float, bool]]) -> tuple[ConfidenceBin, ...]:
    """Of confidences, each with whether it was right."""
    counts = [[0, 0] for _ in EDGES[1:]]
    for confidence, right in found:
        place = sum(confidence >= edge for edge in EDGES[1:-1])
        counts[place][0] += 1
        counts[place][1] += right
    return tuple(
        ConfidenceBin(low, high, findings, right)
        for (low, high), (findings, right) in zip(pairwise(EDGES), counts, strict=True)
    )
