"""From weighed explanations to findings: put together by cause, given that something is wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sentinel.core.cgats.document import FloatArray
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.departures import Design
from sentinel.core.diagnosis.explanation import Explanation, Part
from sentinel.core.diagnosis.findings import FORBIDS_RECALIBRATION, Evidence, Finding
from sentinel.core.diagnosis.wording import sentence
from sentinel.core.said import said

LEAST_TOLD = 0.005
PLAUSIBLE = 0.05
MOST_NAMED = 20
OF_PAPER = frozenset({Cause.SHADE, Cause.SCALE, Cause.MODE})


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """What the figures of a finding are made from; `rivals` are reading less their aim (n, 3), in visual units."""

    inks: tuple[str, ...]
    labels: tuple[str, ...]
    design: Design
    residual: FloatArray
    rivals: dict[str, FloatArray]
    outlying: npt.NDArray[np.bool_]


def findings_of(sheet: Sheet, found: Sequence[Explanation], shares: FloatArray, outlying: float) -> tuple[Finding, ...]:
    """Best first. `shares` (explanations,) is the posterior; `outlying` the probability that patches lie apart whatever
    else is wrong. None where the sheet is more likely healthy."""
    healthy = float(shares[0])
    wrong = 1 - (1 - outlying) * healthy
    if wrong < 0.5:
        return ()
    totals: dict[Part, float] = {}
    best: dict[Part, tuple[float, Explanation]] = {}
    for each, share in zip(found, shares.tolist(), strict=True):
        for part in each.parts:
            totals[part] = totals.get(part, 0.0) + share / len(each.parts) * (1 - outlying / 2) / wrong
            best[part] = max(best.get(part, (-1.0, each)), (share, each), key=lambda pair: pair[0])
    apart = Part(Cause.OUTLYING)
    totals[apart] = totals.get(apart, 0.0) + outlying * (1 + healthy) / 2 / wrong
    best.setdefault(apart, (0.0, found[0]))
    told = [
        _finding(part, confidence, best[part][1], sheet)
        for part, confidence in totals.items()
        if confidence > LEAST_TOLD
    ]
    return advised(sorted(told, key=lambda finding: -finding.confidence))


def advised(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Recalibration is said to help an ink's finding only where nothing that forbids it is plausible."""
    forbidden = sum(each.confidence for each in findings if each.cause in FORBIDS_RECALIBRATION) >= PLAUSIBLE
    return tuple(replace(each, recalibration_helps=not forbidden and _is_curable(each)) for each in findings)


def _is_curable(finding: Finding) -> bool:
    """Curves bring tones back and take ink away; they cannot make a weak solid stronger."""
    return finding.cause is Cause.TONE or (finding.cause is Cause.SOLID and finding.sign == 1)


def _finding(part: Part, confidence: float, explanation: Explanation, sheet: Sheet) -> Finding:
    ink = None if part.ink is None else sheet.inks[part.ink]
    evidence, left = _evidence(part, explanation, sheet), _left(part, explanation, sheet)
    return Finding(part.cause, ink, part.sign, confidence, evidence, False, left)


def _evidence(part: Part, explanation: Explanation, sheet: Sheet) -> Evidence:
    if part.cause is Cause.OUTLYING:
        rows = np.flatnonzero(sheet.outlying)
        names = [sheet.labels[row] for row in rows[:MOST_NAMED]] if sheet.labels else []
        words = said(
            "{count} patch lies far from where all others put it",
            "{count} patches lie far from where all others put them",
            count=len(rows),
        )
        return Evidence(words, {"count": len(rows), "patches": names})
    if part.rival is not None:
        own, other = (figures(each)["de00_mean"] for each in (sheet.residual, sheet.rivals[part.rival]))
        words = said(
            "the aim of {stock} fits better: mean ΔE00 {mean:.2f} instead of {own:.2f}",
            stock=part.rival,
            mean=other,
            own=own,
        )
        return Evidence(words, {"rival": part.rival, "margin": round(own - other, 2)})
    if part.cause is Cause.UNEXPLAINED:
        size = figures(sheet.residual)["de00_mean"]
    else:
        size = _size(part, explanation.theta, sheet.design)
    name = None if part.ink is None else sheet.inks[part.ink]
    return Evidence(sentence(part.cause, name, part.sign, size), {"de00": round(size, 2)})


def _size(part: Part, theta: FloatArray, design: Design) -> float:
    """ΔE00 where the cause shows most."""
    if part.cause in OF_PAPER:
        return float(np.linalg.norm(theta[design.places("paper") + design.places("emission")]))
    kinds = ("tone", "skew") if part.cause is Cause.TONE else ("strength", "gaps")
    own = [
        abs(float(size))
        for each, size in zip(design.departures, theta, strict=True)
        if each.kind in kinds and part.ink in (None, each.ink)
    ]
    return max(own, default=0.0)


def _left(part: Part, explanation: Explanation, sheet: Sheet) -> dict[str, float]:
    """ΔE00, near enough, without the cause."""
    if part.cause is Cause.OUTLYING:
        return figures(sheet.residual[~sheet.outlying])
    if part.rival is not None:
        return figures(sheet.rivals[part.rival])
    return figures(sheet.residual - sheet.design.columns @ explanation.theta)


def figures(difference: FloatArray) -> dict[str, float]:
    """Mean, 95th percentile and maximum length of differences in visual units (n, 3); rows with NaN are left out."""
    length = np.linalg.norm(difference, axis=1)
    length = length[~np.isnan(length)]
    if not len(length):
        return {}
    return {
        "de00_mean": round(float(length.mean()), 2),
        "de00_p95": round(float(np.percentile(length, 95)), 2),
        "de00_max": round(float(length.max()), 2),
    }
