"""From a reading beside its aim to findings: what is expected, fit, compare, tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.diagnosis.causes import FIELD_SIZE, Cause, Way
from sentinel.core.diagnosis.departures import DepartureLikelihood, DepartureName, DeparturePrior, departure_names
from sentinel.core.diagnosis.design_matrix import AimModel, Design, RobustFit, robust_fit
from sentinel.core.diagnosis.drying import learnt_way
from sentinel.core.diagnosis.explanations import ExplanationBasis, explanations, posterior
from sentinel.core.diagnosis.field import aim_shapes, amounts_of, channel_moves, device_shapes, full_tones
from sentinel.core.diagnosis.findings import Evidence, Finding, figures, findings_of
from sentinel.core.diagnosis.healthy_sheet import sheet_prior, tempering, trust
from sentinel.core.diagnosis.joint import FigureBasis, Possibility, either
from sentinel.core.diagnosis.odd_patches import Neighbours, neighbours_of
from sentinel.core.diagnosis.order import Order, Pairing, paired
from sentinel.core.diagnosis.sheet import Context, DiagnosisSubject
from sentinel.core.diagnosis.sheet_pairs import SheetPair, pair_of
from sentinel.core.inks.aim_inks import aim_ink_model, light_of_lab, light_of_spectra
from sentinel.core.inks.light_inks import split_columns

SURELY_WET, SURELY_DRY = 6.0, 0.01
DRY_AFTER = 3.0
"""Times the stock's drying time after which nobody would think of a wet chart."""

NEW_LOT, OLD_LOT = 4.0, 0.5
MODES_DIFFER, MODE_UNKNOWN, MODES_AGREE = 50.0, 1.0, 0.25
OTHER_INSTRUMENT, INSTRUMENT_UNKNOWN, SAME_INSTRUMENT = 50.0, 0.05, 1e-6
LIGHT_INKS_UNKNOWN = 0.3
"""How much less a light ink is expected where nobody said whether the printer has any."""
MOVED_ALIKE = 10.0
"""How many times more a scale error is expected where other readings of the instrument moved just alike."""


def expected(weights: Mapping[str, float], context: Context) -> dict[str, float]:
    """`weights` by cause and for `healthy`, with the context in them.

    Facts change what is expected, never what the file shows: a new lot alone is no finding.
    """
    factors = {
        Cause.NOT_DRY: _wet(context),
        Cause.SHADE: {True: NEW_LOT, False: OLD_LOT, None: 1.0}[context.new_lot],
        Cause.MODE: _mode(context),
        Cause.INSTRUMENT: _instrument(context),
        Cause.LIGHT_INK: LIGHT_INKS_UNKNOWN if context.light_inks is None else 1.0,
        Cause.SCALE: MOVED_ALIKE ** (context.moved_alike or 0.0),
    }
    known = {cause.value: factor for cause, factor in factors.items()}
    return {name: weight * known.get(name, 1.0) * context.weights.get(name, 1.0) for name, weight in weights.items()}


def _wet(context: Context) -> float:
    """By the settings, and by what sheets that were read twice tell of this stock, as far as that is known."""
    hours, learnt = context.hours_since_print, context.drying
    by_settings = _wet_by_settings(hours, context.drying_hours)
    if learnt is None or hours is None:
        return by_settings
    wet = learnt.likely_wet(hours)
    return (1 - learnt.trust) * by_settings + learnt.trust * (wet * SURELY_WET + (1 - wet) * SURELY_DRY)


def _wet_by_settings(hours: float | None, drying: float | None) -> float:
    if hours is None or drying is None or drying <= 0:
        return 1.0
    if hours < drying:
        return SURELY_WET
    return SURELY_DRY if hours > DRY_AFTER * drying else 1.0


def _mode(context: Context) -> float:
    if context.aim_m is None or context.reading_m is None:
        return MODE_UNKNOWN
    return MODES_AGREE if context.aim_m == context.reading_m else MODES_DIFFER


def _instrument(context: Context) -> float:
    other = context.read_with.is_other_than(context.aim_read_with)
    return {True: OTHER_INSTRUMENT, False: SAME_INSTRUMENT, None: INSTRUMENT_UNKNOWN}[other]


LARGE = 6.0
"""ΔE00 of a departure in the robust fit with all of them open."""

FEW_OF_ALL, FEW, TOO_MANY = 0.06, 4, 0.10
"""Outlying patches are few; where more of the chart is rejected, it is no matter of patches and all count again."""

OUTLYING_LEAST, OUTLYING_RATIO = 3.0, 1.3
"""ΔE00, and share of its bound, from which a patch may lie apart."""

OUTLYING_FROM, OUTLYING_WIDTH = 2.2, 0.15
"""Share of the bound at which the farthest patch lies apart as likely as not, and how fast that grows certain."""

ORDER_FROM, ORDER_WIDTH = 6.0, 1.5
"""The same for another order of patches, in ln of the likelihood it gains over all else, beyond what the number of
orders tried brings by chance. Of 745 sheets of the world for fitting that were read in order, strips, short and full
charts, none came to more than nothing."""

FAR, LEAST_FAR = 4.0, 3
"""Another order is sought where so many patches lie so far from what a cause explains (ΔE00)."""

MOST_SURE_OF_ORDER = 0.995


class Diagnosis:
    """Findings, best first, none for a healthy print; and what the reading says of its departures, worked out when it
    is asked for, from the same fit."""

    def __init__(self, findings: tuple[Finding, ...], study: _Study) -> None:
        self.findings = findings
        self._study = study

    @cached_property
    def likelihood(self) -> DepartureLikelihood:
        """In the likelier order of patches."""
        return self._study.likelihood()


def diagnose(
    subject: DiagnosisSubject, weights: Mapping[str, float], prior: DeparturePrior | None = None
) -> tuple[Finding, ...]:
    """Findings best first, none for a healthy print; each confidence is how likely the cause is given that something is
    wrong, alone or beside others.

    `weights` by cause and for `healthy` say what is expected of a check that nothing is known of; `prior` what is known
    beforehand of the departures of this very sheet were it healthy, in place of what is expected of any sheet.
    """
    return diagnose_fully(subject, weights, prior).findings


def diagnose_fully(
    subject: DiagnosisSubject, weights: Mapping[str, float], prior: DeparturePrior | None = None
) -> Diagnosis:
    """The findings of `diagnose` with the likelihood of the departures, for a model that follows the printer."""
    study = _Study(subject, weights, prior)
    pairing = study.other_order()
    if pairing is None:
        return Diagnosis(findings_of(study.possible()), study)
    found, likely = pairing
    corrected = _Study(paired(subject, found), weights, prior)
    possible = [
        *(each.times(1 - likely) for each in study.possible()),
        *(each.also(Cause.PATCH_ORDER, each.share * likely) for each in corrected.possible()),
    ]
    findings = findings_of(possible, _of_order(found, figures(corrected.residual)))
    return Diagnosis(findings, corrected if likely > 0.5 else study)


def sheet_pair(subject: DiagnosisSubject, before: FloatArray) -> SheetPair:
    """What the reading differs from that of another sheet of the same patches, Lab (n, 3), of this printing condition.

    Both are held against each other as against an aim, around the colours of their aim.
    """
    apart = replace(subject, reading=subject.aim + subject.reading - before, sheet=None, rivals=(), context=Context())
    return _Study(apart, {}).pair()


def _of_order(pairing: Pairing, predicted: dict[str, float]) -> Finding:
    evidence = Evidence(pairing.words, {"patches": pairing.moved, "corrected": predicted})
    return Finding(Cause.PATCH_ORDER, None, None, 0.0, evidence, False, predicted)


class _Study:
    """A reading fitted with every departure open."""

    def __init__(
        self, subject: DiagnosisSubject, weights: Mapping[str, float], prior: DeparturePrior | None = None
    ) -> None:
        self._subject, self._weights, self._prior = subject, weights, prior
        self._aim = aim_model(subject)
        self._residual = self._aim.visual(subject.reading - subject.aim)
        self._design = self._aim.design()
        self._trust = trust(self._design) * tempering(len(subject.aim))
        self._fit = self._fitted()
        sizes = _sizes(self._design, self._fit)
        if sizes:  # a large fault meets its own curve, not the tangent's
            self._design = self._aim.design(sizes)
            self._fit = self._fitted()

    def _fitted(self) -> RobustFit:
        sizes = np.full(len(self._design.departures), LARGE)
        sizes[self._design.places("field")] = FIELD_SIZE
        return robust_fit(self._design.columns, self._residual, sizes, self._trust)

    @property
    def residual(self) -> FloatArray:
        """Reading less aim, in visual units: (n, 3)."""
        return self._residual

    @cached_property
    def _basis(self) -> ExplanationBasis:
        _, weights = self._apart
        return ExplanationBasis(
            self._design,
            self._residual,
            self._trust,
            weights * self._trust,
            np.where(self._subject.paper, weights, 0.0),
            sheet_prior(self._design, self._names, self._prior, self._subject.context.movement),
            expected(self._weights, self._subject.context),
            self._neighbours,
            self._learnt_wet(),
        )

    @property
    def _names(self) -> tuple[DepartureName, ...]:
        return departure_names(self._design, self._subject.inks)

    def pair(self) -> SheetPair:
        """Where the reading is one beside a sheet, not beside an aim."""
        return pair_of(self._basis)

    def likelihood(self) -> DepartureLikelihood:
        """Of the departures, in this order of patches."""
        return self._basis.likelihood(self._names)

    def possible(self) -> list[Possibility]:
        """All that may be wrong together, in this order of patches."""
        apart, _ = self._apart
        subject, basis = self._subject, self._basis
        rivals = {each.name: self._aim.visual(subject.reading - each.aim) for each in subject.rivals}
        found = explanations(basis, rivals)
        full = full_tones(subject.inks, subject.device)
        sheet = FigureBasis(
            subject.inks,
            subject.labels,
            subject.paper,
            full,
            self._design,
            self._residual,
            rivals,
            apart,
            subject.context.instruments,
        )
        alone = [
            Possibility(each.parts, float(share), each, sheet)
            for each, share in zip(found, posterior(found), strict=True)
        ]
        return either(alone, Cause.OUTLYING, self._likely_apart(apart))

    def _learnt_wet(self) -> Way | None:
        """How a wet chart of this stock shows, where that was learnt."""
        subject, context = self._subject, self._subject.context
        if context.drying is None:
            return None
        return learnt_way(context.drying, self._design, subject.inks, context.hours_since_print)

    @cached_property
    def _apart(self) -> tuple[BoolArray, FloatArray]:
        """Which patches lie apart, and what each counts."""
        length = self._fit.lengths
        apart = (length >= OUTLYING_RATIO * self._fit.bounds) & (length > OUTLYING_LEAST)
        if apart.mean() > TOO_MANY:
            return np.zeros_like(apart), np.ones(len(apart))
        rows = np.flatnonzero(apart)
        alone = self._neighbours.alone(rows, self._fit.left)
        apart[rows] = (alone >= OUTLYING_RATIO * self._fit.bounds[rows]) & (alone > OUTLYING_LEAST)
        return apart, self._fit.weights

    @cached_property
    def _neighbours(self) -> Neighbours:
        return neighbours_of(self._subject)

    def _likely_apart(self, apart: BoolArray) -> float:
        """The probability that a few patches lie apart."""
        if not apart.any() or apart.sum() > max(FEW, FEW_OF_ALL * len(apart)):
            return 0.0
        rows = np.flatnonzero(apart)
        farthest = float((self._neighbours.alone(rows, self._fit.left) / self._fit.bounds[rows]).max())
        return _logistic((farthest - OUTLYING_FROM) / OUTLYING_WIDTH)

    def other_order(self) -> tuple[Pairing, float] | None:
        """Another order of patches and how likely it is; None where it is not worth a thought."""
        sheet = self._subject.sheet
        if sheet is None:
            return None
        known, rows = (sheet.patch >= 0)[:, None], np.maximum(sheet.patch, 0)
        left = np.where(known, self._fit.left[rows], np.nan)
        if (np.linalg.norm(left, axis=1) > FAR).sum() < LEAST_FAR:
            return None
        best = Order(sheet, np.where(known, self._subject.aim[rows], np.nan)).best(left)
        if best is None or best[1] < ORDER_FROM - 2 * ORDER_WIDTH:
            return None
        pairing, advantage = best
        return pairing, min(_logistic((advantage - ORDER_FROM) / ORDER_WIDTH), MOST_SURE_OF_ORDER)


def aim_model(subject: DiagnosisSubject) -> AimModel:
    """The model of a subject's inks, paper and light, read off its aim."""
    spectra = subject.spectra
    light = light_of_lab(subject.aim) if spectra is None else light_of_spectra(spectra.aim, spectra.wavelengths)
    if subject.ink_space:
        model = aim_ink_model(subject.inks, subject.device[:, : len(subject.inks)], light.channels, subject.paper)
        split = split_columns(subject.inks, subject.context.light_inks)
        return AimModel(model, light, aim_shapes(subject.aim, subject.paper), split=split)
    model = aim_ink_model((), subject.device[:, :0], light.channels, subject.paper)
    amounts = amounts_of(subject.inks, subject.device)
    moves = channel_moves(amounts, subject.aim) if amounts.any() else None
    return AimModel(model, light, device_shapes(amounts, subject.paper, subject.aim), moves)


def _sizes(design: Design, fit: RobustFit) -> dict[tuple[str, int], float]:
    """How large the departures of inks are, those that are large."""
    return {
        (each.kind, each.ink): float(size)
        for each, size in zip(design.departures, fit.theta, strict=True)
        if each.ink is not None and abs(size) > 1
    }


def _logistic(x: float) -> float:
    return float(1 / (1 + np.exp(-np.clip(x, -50, 50))))
