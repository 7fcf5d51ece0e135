"""A cause as it is told: with its confidence, its evidence and its sentence, and who can do something about it; made
of weighed explanations, given that something is wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.causes import Cause, Sign
from sentinel.core.diagnosis.design_matrix import Design
from sentinel.core.diagnosis.explanations import CausePart, Explanation
from sentinel.core.message import Message, msg

Who = Literal["operator", "colour lead", "instrument's keeper"]

WHO_ACTS: Mapping[Cause, Who] = {
    Cause.WRONG_SUBSTRATE: "operator",
    Cause.PATCH_ORDER: "operator",
    Cause.NOT_DRY: "operator",
    Cause.MODE: "operator",
    Cause.SOLID: "operator",
    Cause.TONE: "colour lead",
    Cause.SHADE: "colour lead",
    Cause.SCALE: "instrument's keeper",
    Cause.OUTLYING: "operator",
    Cause.UNEXPLAINED: "colour lead",
}

FORBIDS_RECALIBRATION = frozenset(
    {Cause.WRONG_SUBSTRATE, Cause.PATCH_ORDER, Cause.NOT_DRY, Cause.MODE, Cause.SCALE, Cause.OUTLYING}
)
"""While one of these is plausible, recalibrating would build the fault into the curves."""

CERTAIN = 0.9


@dataclass(frozen=True, slots=True)
class Evidence:
    """`figures` by name, and the sentence they stand in."""

    sentence: Message
    figures: Mapping[str, Any] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """`sentence` in English, beside it how it is made as `Message.as_json` tells it, and the figures."""
        made = self.sentence.as_json()
        return {"sentence": made.pop("message"), **made, **self.figures}


@dataclass(frozen=True, slots=True)
class Finding:
    """One cause. `ink` is the chart's name of the ink, `sign` +1 for stronger, heavier, lighter paper or a higher
    reading, -1 for the contrary; None where the cause has none. `confidence` holds given that something is wrong.
    `predicted` is what ΔE00 would be without the cause: `de00_mean`, `de00_p95`, `de00_max`; where recalibrating helps
    and can be foretold, `recalibrated` holds what it would bring, see `recalibrating`."""

    cause: Cause
    ink: str | None
    sign: Sign | None
    confidence: float
    evidence: Evidence
    recalibration_helps: bool
    predicted: Mapping[str, Any]

    @property
    def who_acts(self) -> Who:
        """Whose hands it is in first."""
        return WHO_ACTS[self.cause]

    def as_json(self) -> dict[str, Any]:
        """The form of the JSON contract."""
        return {
            "cause": self.cause.value,
            "ink": self.ink,
            "sign": self.sign,
            "confidence": self.confidence,
            "evidence": self.evidence.as_json(),
            "who_acts": self.who_acts,
            "recalibration_helps": self.recalibration_helps,
            "predicted": dict(self.predicted),
        }


def answer(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """The shortest head of the list that reaches 0.9 in total; the whole list where it does not."""
    total = 0.0
    for number, finding in enumerate(findings, start=1):
        total += finding.confidence
        if total >= CERTAIN:
            return findings[:number]
    return findings


def sentence(cause: Cause, ink: str | None, sign: Sign | None, size: float) -> Message:
    """`size` is the departure in ΔE00 where it shows most."""
    pattern = SENTENCES.get((cause, sign == 1)) or SENTENCES.get((cause, None)) or OF_NO_CAUSE
    if cause not in OF_INKS:
        return pattern.format(size=size)
    return pattern.format(inks=msg("ink {ink}", ink=ink) if ink else msg("all inks"), size=size)


OF_INKS = frozenset({Cause.SOLID, Cause.TONE})

SENTENCES: Mapping[tuple[Cause, bool | None], Message] = {
    (Cause.SOLID, True): msg("{inks} stronger than in the aim, by up to {size:.1f} ΔE00"),
    (Cause.SOLID, False): msg("{inks} weaker than in the aim, by up to {size:.1f} ΔE00"),
    (Cause.TONE, True): msg("the tones of {inks} heavier by up to {size:.1f} ΔE00, solids in place"),
    (Cause.TONE, False): msg("the tones of {inks} lighter by up to {size:.1f} ΔE00, solids in place"),
    (Cause.NOT_DRY, None): msg("all inks darker together, by up to {size:.1f} ΔE00, as on a print that has not dried"),
    (Cause.SHADE, None): msg("the bare stock moved by {size:.1f} ΔE00, and all that lies on it moved along"),
    (Cause.SCALE, True): msg("all patches lighter by one factor, bare stock by {size:.1f} ΔE00"),
    (Cause.SCALE, False): msg("all patches darker by one factor, bare stock by {size:.1f} ΔE00"),
    (Cause.MODE, True): msg(
        "more light of a brightener, bare stock by {size:.1f} ΔE00: light patches differ as between M0, M1 and M2"
    ),
    (Cause.MODE, False): msg(
        "less light of a brightener, bare stock by {size:.1f} ΔE00: light patches differ as between M0, M1 and M2"
    ),
}
"""By the cause, and whether its sign is +1; None where the sign changes nothing."""

OF_NO_CAUSE = msg("mean {size:.1f} ΔE00 in a way that no cause known here makes")


LEAST_TOLD = 0.005
PLAUSIBLE = 0.05
MOST_NAMED = 20
OF_PAPER = frozenset({Cause.SHADE, Cause.SCALE, Cause.MODE})


@dataclass(frozen=True, slots=True, eq=False)
class FigureBasis:
    """What the figures of a finding are made from; `rivals` are reading less their aim (n, 3), in visual units."""

    inks: tuple[str, ...]
    labels: tuple[str, ...]
    design: Design
    residual: FloatArray
    rivals: dict[str, FloatArray]
    outlying: npt.NDArray[np.bool_]


def findings_of(
    sheet: FigureBasis, found: Sequence[Explanation], shares: FloatArray, outlying: float
) -> tuple[Finding, ...]:
    """Best first. `shares` (explanations,) is the posterior; `outlying` the probability that patches lie apart whatever
    else is wrong. None where the sheet is more likely healthy."""
    healthy = float(shares[0])
    wrong = 1 - (1 - outlying) * healthy
    if wrong < 0.5:
        return ()
    totals: dict[CausePart, float] = {}
    best: dict[CausePart, tuple[float, Explanation]] = {}
    for each, share in zip(found, shares.tolist(), strict=True):
        for part in each.parts:
            totals[part] = totals.get(part, 0.0) + share / len(each.parts) * (1 - outlying / 2) / wrong
            best[part] = max(best.get(part, (-1.0, each)), (share, each), key=lambda pair: pair[0])
    apart = CausePart(Cause.OUTLYING)
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


def _finding(part: CausePart, confidence: float, explanation: Explanation, sheet: FigureBasis) -> Finding:
    ink = None if part.ink is None else sheet.inks[part.ink]
    evidence, left = _evidence(part, explanation, sheet), _left(part, explanation, sheet)
    return Finding(part.cause, ink, part.sign, confidence, evidence, False, left)


def _evidence(part: CausePart, explanation: Explanation, sheet: FigureBasis) -> Evidence:
    if part.cause is Cause.OUTLYING:
        rows = np.flatnonzero(sheet.outlying)
        names = [sheet.labels[row] for row in rows[:MOST_NAMED]] if sheet.labels else []
        words = msg(
            "{count} odd patch reads far off what all others point to",
            "{count} odd patches read far off what all others point to",
            count=len(rows),
        )
        return Evidence(words, {"count": len(rows), "patches": names})
    if part.rival is not None:
        own, other = (figures(each)["de00_mean"] for each in (sheet.residual, sheet.rivals[part.rival]))
        words = msg(
            "the aim of {stock} fits better: mean {mean:.2f} ΔE00 instead of {own:.2f} ΔE00",
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


def _size(part: CausePart, theta: FloatArray, design: Design) -> float:
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


def _left(part: CausePart, explanation: Explanation, sheet: FigureBasis) -> dict[str, float]:
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
