"""The figures of a study, from its judged checks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean

from demo.simulator.faults import Label
from tests.simulation.diagnosis.judging import Judged

HEALTHY = "healthy"
BINS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.0)


@dataclass(frozen=True, slots=True)
class Figures:
    """Shares are None where there is nothing to share.

    `right` is of the checks with a fault, `any_right` of those where at least one true cause was answered;
    `confidently_wrong` of all checks; `length` is the mean length of answers to faults; `ink_right` and `sign_right`
    are of right causes that have one; `called_healthy` of the healthy prints.
    """

    checks: int
    right: float | None
    any_right: float | None
    confidently_wrong: float | None
    length: float | None
    ink_right: float | None
    sign_right: float | None
    called_healthy: float | None


def figures(judged: Sequence[Judged]) -> Figures:
    """The figures of these checks together."""
    faulty = [each for each in judged if not each.healthy]
    return Figures(
        checks=len(judged),
        right=_share(each.right for each in faulty),
        any_right=_share(each.found > 0 for each in faulty),
        confidently_wrong=_share(each.confidently_wrong for each in judged),
        length=fmean(len(each.answer) for each in faulty) if faulty else None,
        ink_right=_of_labels(judged, Judged.ink_right),
        sign_right=_of_labels(judged, Judged.sign_right),
        called_healthy=_share(each.right for each in judged if each.healthy),
    )


def by_case(judged: Iterable[Judged]) -> dict[str, list[Judged]]:
    """The checks of each case or pair of cases."""
    cases: dict[str, list[Judged]] = {}
    for each in judged:
        cases.setdefault(" + ".join(each.cases), []).append(each)
    return dict(sorted(cases.items()))


def confusion(judged: Iterable[Judged]) -> dict[str, Counter[str]]:
    """Of checks with one cause or none: true cause to how often each cause came first ('healthy' for an empty list)."""
    table: dict[str, Counter[str]] = {}
    for each in judged:
        if len(each.labels) > 1:
            continue
        true = each.labels[0].cause if each.labels else HEALTHY
        called = each.findings[0].cause if each.findings else HEALTHY
        table.setdefault(true, Counter())[called] += 1
    return dict(sorted(table.items()))


@dataclass(frozen=True, slots=True)
class Bin:
    """Findings with a confidence from `low` on: how many, their mean confidence, the share whose cause was true."""

    low: float
    high: float
    findings: int
    confidence: float
    right: float


def reliability(judged: Iterable[Judged]) -> list[Bin]:
    """The bins of `BINS` that hold a finding."""
    found = [
        (f.confidence, f.cause in {label.cause for label in each.labels}) for each in judged for f in each.findings
    ]
    bins = []
    for low, high in pairwise(BINS):
        inside = [(c, true) for c, true in found if low <= c < high or (high == 1.0 and c == 1.0)]
        if inside:
            bins.append(Bin(low, high, len(inside), fmean(c for c, _ in inside), fmean(true for _, true in inside)))
    return bins


def _share(facts: Iterable[bool]) -> float | None:
    known = list(facts)
    return fmean(known) if known else None


def _of_labels(judged: Iterable[Judged], fact: Callable[[Judged, Label], bool | None]) -> float | None:
    told = [fact(each, label) for each in judged for label in each.labels]
    return _share(one for one in told if one is not None)
