"""What a diagnosis is worth on foreign cases, and the figures of many."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist, fmean

from sentinel.core.verdict import Verdict
from tests.simulation.diagnosis.figures import BINS
from tests.simulation.diagnosis.foreign.asking import Asked
from tests.simulation.diagnosis.foreign.cases import ForeignCase
from tests.simulation.diagnosis.foreign.charts import Kind

CONFIDENT = 0.9
USUAL_MOVEMENT = 0.6
"""Mean ΔE00 up to which sheets move as those of most stocks do."""
NOTHING = "(nothing)"


@dataclass(frozen=True, slots=True)
class Judged:
    """One case with what was said of it. `truths` hold for each fault the causes that name it, `moved` the same of what
    is no fault; `oracle` are the causes that one who knows the world answers by, where it was asked."""

    world: str
    named: str
    kinds: tuple[str, ...]
    truths: tuple[frozenset[str], ...]
    moved: frozenset[str]
    chart: Kind
    movement: float
    severity: float
    asked: Asked
    oracle: tuple[str, ...] | None = None

    @property
    def single(self) -> bool:
        """Whether one thing is wrong."""
        return len(self.truths) == 1

    @property
    def healthy(self) -> bool:
        """Whether nothing is wrong, and nothing moved beyond the ordinary."""
        return not self.truths and not self.moved

    @property
    def full_and_usual(self) -> bool:
        """Whether the goal for full charts is meant."""
        return self.chart == "full" and self.movement <= USUAL_MOVEMENT

    @property
    def misread(self) -> bool:
        """Whether its patches stand in another order."""
        return "order" in self.kinds

    @property
    def true(self) -> frozenset[str]:
        """Every cause that is right to name."""
        return self.moved.union(*self.truths)

    @property
    def found(self) -> int:
        """How many faults the answer names."""
        return sum(bool(truth & set(self.asked.answer)) for truth in self.truths)

    @property
    def right(self) -> bool:
        """Whether the answer names every fault."""
        return self.found == len(self.truths)

    @property
    def confidently_wrong(self) -> bool:
        """Whether a cause that is not true was called with `CONFIDENT` or more."""
        return any(each.confidence >= CONFIDENT and each.cause not in self.true for each in self.asked.findings)

    @property
    def off(self) -> bool:
        """Whether people hear that the sheet is beyond a limit."""
        return self.asked.verdict in (Verdict.WARN, Verdict.FAIL)

    @property
    def first(self) -> str:
        """The cause that came first."""
        return self.asked.findings[0].cause if self.asked.findings else NOTHING


def judge(case: ForeignCase, asked: Asked, oracle: tuple[str, ...] | None = None) -> Judged:
    """The case with what was said of it."""
    moved = frozenset().union(*(fault.accepted for fault in case.faults)) if case.small else frozenset()
    return Judged(
        case.world,
        case.named,
        tuple(fault.kind for fault in case.faults),
        tuple(case.truths),
        moved,
        case.room.layout.kind,
        case.movement,
        case.severity,
        asked,
        oracle,
    )


@dataclass(frozen=True, slots=True)
class Share:
    """So many `hits` among so many `checks`."""

    hits: int
    checks: int

    @property
    def interval(self) -> tuple[float, float]:
        """Wilson's of 95 % (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927)."""
        z, n = NormalDist().inv_cdf(0.975), self.checks
        p = self.hits / n
        middle = (p + z * z / (2 * n)) / (1 + z * z / n)
        half = z / (1 + z * z / n) * (p * (1 - p) / n + z * z / (4 * n * n)) ** 0.5
        return max(middle - half, 0.0), min(middle + half, 1.0)


def share(judged: Iterable[Judged], of: Callable[[Judged], bool], hit: Callable[[Judged], bool]) -> Share:
    """Of the cases that `of` picks, those that `hit`."""
    picked = [each for each in judged if of(each)]
    return Share(sum(map(hit, picked)), len(picked))


@dataclass(frozen=True, slots=True)
class Bin:
    """Findings with a confidence from `low` to `high`: how many, their mean confidence, how many named a truth."""

    low: float
    high: float
    findings: int
    confidence: float
    true: int


def reliability(judged: Iterable[Judged]) -> list[Bin]:
    """Of all findings but those on what is no fault."""
    found = [(f.confidence, f.cause in each.true) for each in judged if not each.moved for f in each.asked.findings]
    bins = []
    for low, high in pairwise(BINS):
        inside = [(sure, true) for sure, true in found if low <= sure < high or (high == 1.0 and sure >= 1.0)]
        if inside:
            bins.append(Bin(low, high, len(inside), fmean(s for s, _ in inside), sum(true for _, true in inside)))
    return bins


def came_first(judged: Sequence[Judged]) -> dict[str, Counter[str]]:
    """Of checks with at most one fault, by what is true, how often each cause came first."""
    table: dict[str, Counter[str]] = {}
    for each in judged:
        if len(each.truths) < 2:
            table.setdefault(each.named, Counter())[each.first] += 1
    return dict(sorted(table.items()))
