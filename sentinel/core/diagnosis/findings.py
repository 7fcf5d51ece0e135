"""A cause as it is told: with its confidence, its evidence and its sentence, and who can do something about it; made
of weighed explanations, given that something is wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.causes import INSTRUMENTS_APART, Cause, Sign
from sentinel.core.diagnosis.design_matrix import Design
from sentinel.core.diagnosis.explanations import CausePart, Explanation
from sentinel.core.diagnosis.joint import FigureBasis, Possibility, fewest, given_wrong, healthy, marginals
from sentinel.core.message import Message, msg
from sentinel.core.scoring.groups import families

Who = Literal["operator", "colour lead", "instrument's keeper"]

WHO_ACTS: Mapping[Cause, Who] = {
    Cause.WRONG_SUBSTRATE: "operator",
    Cause.PATCH_ORDER: "operator",
    Cause.NOT_DRY: "operator",
    Cause.MODE: "operator",
    Cause.SOLID: "operator",
    Cause.TONE: "colour lead",
    Cause.LIGHT_INK: "operator",
    Cause.PRINT: "colour lead",
    Cause.SHADE: "colour lead",
    Cause.SCALE: "instrument's keeper",
    Cause.INSTRUMENT: "instrument's keeper",
    Cause.OUTLYING: "operator",
    Cause.UNEXPLAINED: "colour lead",
}

FORBIDS_RECALIBRATION = frozenset(
    {
        Cause.WRONG_SUBSTRATE,
        Cause.PATCH_ORDER,
        Cause.NOT_DRY,
        Cause.LIGHT_INK,
        Cause.MODE,
        Cause.SCALE,
        Cause.INSTRUMENT,
        Cause.OUTLYING,
    }
)
"""While one of these is plausible, recalibrating would build the fault into the curves."""

CERTAIN = 0.9

FINDING_VERSION = 2
"""Of kept findings: 1, without the number, has shares that add to 1; 2 has marginals and says what is of the answer."""


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
    """One cause. `answers` says whether it is of the answer: the fewest causes that hold all that is wrong with 0.9 or
    more. `ink` is the chart's name of the ink, `sign` +1 for stronger, heavier, lighter paper or a higher
    reading, -1 for the contrary; None where the cause has none. `confidence` holds given that something is wrong,
    and those of several need not add to 1, since they may be at work together.
    `predicted` is what ΔE00 would be without the cause: `de00_mean`, `de00_p95`, `de00_max`; where recalibrating helps
    and can be foretold, `recalibrated` holds what it would bring, see `recalibrating`."""

    cause: Cause
    ink: str | None
    sign: Sign | None
    confidence: float
    evidence: Evidence
    recalibration_helps: bool
    predicted: Mapping[str, Any]
    answers: bool = False

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

    def as_record(self) -> dict[str, Any]:
        """The same as it is kept, with its place in the answer."""
        return {**self.as_json(), "answers": self.answers, "version": FINDING_VERSION}


def answer(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """The fewest causes of which it is 0.9 likely or more that they hold all that is wrong; all where none are."""
    return tuple(finding for finding in findings if finding.answers)


def answer_json(answering: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The answer in the form of the JSON contract, of findings in that form."""
    return [{key: each[key] for key in ("cause", "ink", "sign")} for each in answering]


def answered(diagnosis: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The answer of kept findings; of those of version 1 the shortest head of the list that reaches 0.9."""
    if any("answers" in each for each in diagnosis):
        return [each for each in diagnosis if each.get("answers")]
    told: list[Mapping[str, Any]] = []
    for each in diagnosis:
        told.append(each)
        if sum(one["confidence"] for one in told) >= CERTAIN:
            break
    return told


def sentence(cause: Cause, ink: str | None, sign: Sign | None, size: float) -> Message:
    """`size` is the departure in ΔE00 where it shows most."""
    pattern = SENTENCES.get((cause, sign == 1)) or SENTENCES.get((cause, None)) or OF_NO_CAUSE
    if cause is Cause.LIGHT_INK:
        return pattern.format(light=light_ink(ink or ""), ink=ink or "", size=size)
    if cause not in OF_INKS:
        return pattern.format(size=size)
    return pattern.format(inks=msg("ink {ink}", ink=ink) if ink else msg("all inks"), size=size)


OF_INKS = frozenset({Cause.SOLID, Cause.TONE})

LIGHT_INKS: Mapping[str | None, Message] = {
    "C": msg("light cyan"),
    "M": msg("light magenta"),
    "Y": msg("light yellow"),
    "K": msg("light black (grey)"),
}
"""By the family of the full ink."""


def light_ink(ink: str) -> Message:
    """What the trade calls the light ink beside an ink of the chart."""
    [family] = families((ink,))
    return LIGHT_INKS.get(family) or msg("the light ink of {ink}", ink=ink)


SENTENCES: Mapping[tuple[Cause, bool | None], Message] = {
    (Cause.SOLID, True): msg("{inks} stronger than in the aim, by up to {size:.1f} ΔE00"),
    (Cause.SOLID, False): msg("{inks} weaker than in the aim, by up to {size:.1f} ΔE00"),
    (Cause.TONE, True): msg("the tones of {inks} heavier by up to {size:.1f} ΔE00, solids in place"),
    (Cause.TONE, False): msg("the tones of {inks} lighter by up to {size:.1f} ΔE00, solids in place"),
    (Cause.LIGHT_INK, True): msg(
        "{light} stronger than in the aim: light tones of ink {ink} off by up to {size:.1f} ΔE00, full ones in place"
    ),
    (Cause.LIGHT_INK, False): msg(
        "{light} weaker than in the aim: light tones of ink {ink} off by up to {size:.1f} ΔE00, full ones in place"
    ),
    (Cause.NOT_DRY, None): msg("all inks moved together, by up to {size:.1f} ΔE00, as on a print that has not dried"),
    (Cause.PRINT, True): msg("the print darker by up to {size:.1f} ΔE00 where ink lies, the bare stock in place"),
    (Cause.PRINT, False): msg("the print lighter by up to {size:.1f} ΔE00 where ink lies, the bare stock in place"),
    (Cause.SHADE, None): msg("the bare stock moved by {size:.1f} ΔE00, and all that lies on it moved along"),
    (Cause.SCALE, True): msg("all patches lighter by one factor, bare stock by {size:.1f} ΔE00"),
    (Cause.SCALE, False): msg("all patches darker by one factor, bare stock by {size:.1f} ΔE00"),
    (Cause.INSTRUMENT, None): msg(
        "all colours moved smoothly, by {size:.1f} ΔE00 on average, as between two instruments"
    ),
    (Cause.MODE, True): msg(
        "more light of a brightener, bare stock by {size:.1f} ΔE00: light patches differ as between M0, M1 and M2"
    ),
    (Cause.MODE, False): msg(
        "less light of a brightener, bare stock by {size:.1f} ΔE00: light patches differ as between M0, M1 and M2"
    ),
}
"""By the cause, and whether its sign is +1; None where the sign changes nothing."""

OF_NO_CAUSE = msg("mean {size:.1f} ΔE00 in a way that no cause known here makes")

OTHER_INSTRUMENT = msg(
    "read with instrument {own}, the aim with {other}: all colours moved smoothly, by {size:.1f} ΔE00 on average, as "
    "between two instruments"
)
"""Where the instruments are known to be two."""


LEAST_TOLD = 0.005
WRONG_COSTS = 19.0
"""Recalibrating on a wet chart, a slip of the reading or another stock costs so many times what reading again first
costs: curves made twice, charts dried twice, and what was printed meanwhile (common practice, no published source)."""
PLAUSIBLE = 1 / (1 + WRONG_COSTS)
"""From here on what forbids to recalibrate is looked into first: the loss expected is then the smaller."""
MOST_NAMED = 20
LEAST_WRONG = 0.5
OF_PAPER = frozenset({Cause.SHADE, Cause.SCALE, Cause.MODE})
TONES_ALONE = 0.5
"""Of a lighter print, the share of its movement below which the full tones are in place and curves bring it back."""
UNSHOWN = 0.2
"""At least so likely something else is at work where the chart does not show what a cause should do."""
ENOUGH_TINTS, BY_FEW = 4, 0.12
"""Where fewer patches show one ink's cause, it is at least so likely that they alone are odd: a line that a nozzle left
out, a speck, takes two or three patches of an ink as well."""
MOVED_MOST, LEAST_SEEN = 0.5, 0.4
"""Share of a cause's largest effect from which it is to be seen in a patch, and how much of it must be."""
KINDS: Mapping[Cause, tuple[str, ...]] = {
    Cause.SOLID: ("strength", "gaps"),
    Cause.TONE: ("tone", "skew"),
    Cause.LIGHT_INK: ("light", "reach"),
    Cause.NOT_DRY: ("strength", "gaps", "density", "field", "channel"),
    Cause.PRINT: ("field", "channel", "density"),
    **dict.fromkeys(OF_PAPER, ("paper", "emission")),
    Cause.INSTRUMENT: tuple(INSTRUMENTS_APART),
}
"""The departures in which a cause shows."""


def findings_of(possible: Sequence[Possibility], order: Finding | None = None) -> tuple[Finding, ...]:
    """Best first, each with its marginal probability, those of the answer marked; none where the sheet is more likely
    healthy. `order` is how another order of patches is told."""
    if 1 - healthy(possible) < LEAST_WRONG:
        return ()
    counted = given_wrong([each for sheet in possible for each in _shown(sheet)])
    likely = marginals(counted)
    answering = fewest(counted, likely, CERTAIN)
    best: dict[CausePart, Possibility] = {}
    for each in sorted(counted, key=lambda possibility: possibility.share):
        best.update(dict.fromkeys(each.parts, each))
    told = [
        _finding(part, confidence, best[part], order, part in answering)
        for part, confidence in likely.items()
        if confidence > LEAST_TOLD or part in answering
    ]
    return _advised(sorted(told, key=lambda finding: -finding.confidence), counted)


def _shown(possibility: Possibility) -> Iterator[Possibility]:
    """What a chart cannot show, or does not, is never nearly certain: something else may have done it."""
    if possibility.share < LEAST_TOLD:
        yield possibility
        return
    kept = tuple(part for part in possibility.parts if _is_shown(part, possibility))
    if kept == possibility.parts:
        yield from _by_tints(possibility)
        return
    yield possibility.times(1 - UNSHOWN)
    yield replace(possibility, parts=kept).also(Cause.UNEXPLAINED, possibility.share * UNSHOWN)


def _by_tints(possibility: Possibility) -> Iterator[Possibility]:
    """One ink's cause that hardly any patches bear on may be those patches alone."""
    kept = tuple(part for part in possibility.parts if part.ink is None or _bearing(part, possibility) >= ENOUGH_TINTS)
    if kept == possibility.parts:
        yield possibility
        return
    yield possibility.times(1 - BY_FEW)
    yield replace(possibility, parts=kept).also(Cause.OUTLYING, possibility.share * BY_FEW)


def _bearing(part: CausePart, possibility: Possibility) -> int:
    """How many patches a cause moves most."""
    sheet, places = possibility.source, _places(part, possibility.source.design)
    size = np.linalg.norm(sheet.design.columns[:, :, places] @ possibility.explanation.theta[places], axis=1)
    return int((size >= MOVED_MOST * size.max()).sum())


def _is_shown(part: CausePart, possibility: Possibility) -> bool:
    """Whether the patches that a cause moves most have moved as it says; of what moves all, bare paper. That two
    instruments read differs shows nowhere on the sheet: only what is told of them does."""
    sheet, theta = possibility.source, possibility.explanation.theta
    places = _places(part, sheet.design)
    if not places:
        return True
    if part.cause is Cause.INSTRUMENT and sheet.instruments is None:
        return False
    effect = sheet.design.columns[:, :, places] @ theta[places]
    if part.cause in OF_PAPER:
        blamed = sheet.paper
        if not blamed.any():
            return False
    else:
        size = np.linalg.norm(effect, axis=1)
        blamed = size >= MOVED_MOST * size.max()
    without = sheet.residual - sheet.design.columns @ theta + effect
    there, claimed = without[blamed], effect[blamed]
    return bool((there * claimed).sum() >= LEAST_SEEN * (claimed * claimed).sum())


def _places(part: CausePart, design: Design) -> list[int]:
    """The departures by which a cause shows."""
    kinds = KINDS.get(part.cause, ())
    return [
        place
        for place, each in enumerate(design.departures)
        if each.kind in kinds and (part.ink is None or each.ink == part.ink)
    ]


def _advised(findings: Sequence[Finding], possible: Sequence[Possibility]) -> tuple[Finding, ...]:
    """Recalibration is said to help what it can bring back, unless it is plausible that anything forbids it."""
    doubt = sum(
        each.share for each in given_wrong(possible) if any(part.cause in FORBIDS_RECALIBRATION for part in each.parts)
    )
    return tuple(
        replace(
            each,
            recalibration_helps=doubt < PLAUSIBLE and is_curable(each.cause, each.sign, each.evidence.figures),
        )
        for each in findings
    )


def is_curable(cause: str, sign: Sign | None, figures: Mapping[str, Any]) -> bool:
    """Curves bring tones back and take ink away; they cannot make a weak solid stronger. `figures` are those of the
    finding's evidence."""
    if cause == Cause.PRINT and sign == -1:
        return figures["full_tones_de00"] is not None and figures["full_tones_de00"] < TONES_ALONE * figures["de00"]
    return cause == Cause.TONE or (cause in (Cause.SOLID, Cause.PRINT) and sign == 1)


def _finding(part: CausePart, confidence: float, of: Possibility, order: Finding | None, answers: bool) -> Finding:
    if part.cause is Cause.PATCH_ORDER and order is not None:
        return replace(order, confidence=confidence, answers=answers)
    ink = None if part.ink is None else of.source.inks[part.ink]
    evidence, left = _evidence(part, of.explanation, of.source), _left(part, of.explanation, of.source)
    return Finding(part.cause, ink, part.sign, confidence, evidence, False, left, answers)


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
    told: dict[str, Any] = {"de00": round(size, 2)}
    if part.cause is Cause.PRINT:
        told["full_tones_de00"] = _at_full_tones(part, explanation.theta, sheet)
    if part.cause is Cause.INSTRUMENT and sheet.instruments is not None:
        of_aim, of_reading = sheet.instruments
        told |= {"aim_instrument": of_aim, "reading_instrument": of_reading}
        return Evidence(OTHER_INSTRUMENT.format(own=of_reading, other=of_aim, size=size), told)
    return Evidence(sentence(part.cause, name, part.sign, size), told)


def _at_full_tones(part: CausePart, theta: FloatArray, sheet: FigureBasis) -> float | None:
    """Mean ΔE00 that a cause makes there; None where the chart has none."""
    if not sheet.full.any():
        return None
    places = _places(part, sheet.design)
    moved = np.linalg.norm(sheet.design.columns[sheet.full][:, :, places] @ theta[places], axis=1)
    return round(float(moved.mean()), 2)


def _size(part: CausePart, theta: FloatArray, design: Design) -> float:
    """ΔE00 where the cause shows most."""
    places = _places(part, design)
    if part.cause in OF_PAPER:
        return float(np.linalg.norm(theta[places]))
    if part.cause is Cause.INSTRUMENT:
        return float(np.linalg.norm(design.columns[:, :, places] @ theta[places], axis=1).mean())
    if part.cause is Cause.PRINT or not any(design.departures[place].ink is not None for place in places):
        return float(np.percentile(np.linalg.norm(design.columns[:, :, places] @ theta[places], axis=1), 95))
    return max((abs(float(theta[place])) for place in places), default=0.0)


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
