"""From a reading beside its aim to findings: what is expected, fit, compare, tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.design_matrix import AimModel, Design, RobustFit, robust_fit
from sentinel.core.diagnosis.explanations import (
    ExplanationBasis,
    explanations,
    posterior,
    sheet_shares,
    tempering,
    trust,
)
from sentinel.core.diagnosis.findings import Evidence, FigureBasis, Finding, advised, figures, findings_of
from sentinel.core.diagnosis.order import Order, Pairing, paired
from sentinel.core.diagnosis.sheet import Context, DiagnosisSubject
from sentinel.core.inks.aim_inks import aim_ink_model, light_of_lab, light_of_spectra

SURELY_WET, SURELY_DRY = 6.0, 0.05
DRY_AFTER = 3.0
"""Times the stock's drying time after which nobody would think of a wet chart."""

NEW_LOT, OLD_LOT = 4.0, 0.5
MODES_DIFFER, MODE_UNKNOWN, MODES_AGREE = 50.0, 1.0, 0.6
MOVED_ALIKE = 10.0
"""How many times more a scale error is expected where other readings of the instrument moved just alike."""


def expected(weights: Mapping[str, float], context: Context) -> dict[str, float]:
    """`weights` by cause and for `healthy`, with the context in them.

    Facts change what is expected, never what the file shows: a new lot alone is no finding.
    """
    factors = {
        Cause.NOT_DRY: _wet(context.hours_since_print, context.drying_hours),
        Cause.SHADE: {True: NEW_LOT, False: OLD_LOT, None: 1.0}[context.new_lot],
        Cause.MODE: _mode(context),
        Cause.SCALE: MOVED_ALIKE ** (context.moved_alike or 0.0),
    }
    known = {cause.value: factor for cause, factor in factors.items()}
    return {name: weight * known.get(name, 1.0) * context.weights.get(name, 1.0) for name, weight in weights.items()}


def _wet(hours: float | None, drying: float | None) -> float:
    if hours is None or drying is None or drying <= 0:
        return 1.0
    if hours < drying:
        return SURELY_WET
    return SURELY_DRY if hours > DRY_AFTER * drying else 1.0


def _mode(context: Context) -> float:
    if context.aim_m is None or context.reading_m is None:
        return MODE_UNKNOWN
    return MODES_AGREE if context.aim_m == context.reading_m else MODES_DIFFER


LARGE = 6.0
"""ΔE00 of a departure in the robust fit with all of them open."""

FEW_OF_ALL, FEW, TOO_MANY = 0.06, 4, 0.10
"""Outlying patches are few; where more of the chart is rejected, it is no matter of patches and all count again."""

OUTLYING_LEAST, OUTLYING_RATIO = 3.0, 1.3
"""ΔE00, and share of its bound, from which a patch may lie apart."""

OUTLYING_FROM, OUTLYING_WIDTH = 2.2, 0.15
"""Share of the bound at which the farthest patch lies apart as likely as not, and how fast that grows certain."""

ORDER_FROM, ORDER_WIDTH = 10.0, 1.5
"""The same for another order of patches, in ln of the likelihood it gains over all else."""

FAR, LEAST_FAR = 4.0, 3
"""Another order is sought where so many patches lie so far from what a cause explains (ΔE00)."""

ORDER_ALONE, ORDER_WITH_ANOTHER = 0.97, 0.6


def diagnose(subject: DiagnosisSubject, weights: Mapping[str, float]) -> tuple[Finding, ...]:
    """Findings best first, none for a healthy print; their confidences add to at most 1.

    `weights` by cause and for `healthy` say what is expected of a check that nothing is known of.
    """
    study = _Study(subject, weights)
    return study.by_order() or study.findings()


class _Study:
    """A reading fitted with every departure open."""

    def __init__(self, subject: DiagnosisSubject, weights: Mapping[str, float]) -> None:
        self._subject, self._weights = subject, weights
        self._aim = _aim_of(subject)
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
        return robust_fit(self._design.columns, self._residual, sizes, self._trust)

    def findings(self) -> tuple[Finding, ...]:
        """Of the file's own order of patches."""
        apart, weights = self._apart()
        rivals = {each.name: self._aim.visual(self._subject.reading - each.aim) for each in self._subject.rivals}
        basis = ExplanationBasis(
            self._design,
            self._residual,
            self._trust,
            weights * self._trust,
            sheet_shares(self._design),
            expected(self._weights, self._subject.context),
        )
        found = explanations(basis, rivals)
        sheet = FigureBasis(self._subject.inks, self._subject.labels, self._design, self._residual, rivals, apart)
        return findings_of(sheet, found, posterior(found), self._likely_apart(apart))

    def _apart(self) -> tuple[npt.NDArray[np.bool_], FloatArray]:
        """Which patches lie apart, and what each counts."""
        length = self._fit.lengths
        apart = (length >= OUTLYING_RATIO * self._fit.bounds) & (length > OUTLYING_LEAST)
        if apart.mean() > TOO_MANY:
            return np.zeros_like(apart), np.ones(len(apart))
        return apart, self._fit.weights

    def _likely_apart(self, apart: npt.NDArray[np.bool_]) -> float:
        """The probability that a few patches lie apart."""
        if not apart.any() or apart.sum() > max(FEW, FEW_OF_ALL * len(apart)):
            return 0.0
        farthest = float((self._fit.lengths / self._fit.bounds)[apart].max())
        return _logistic((farthest - OUTLYING_FROM) / OUTLYING_WIDTH)

    def by_order(self) -> tuple[Finding, ...]:
        """Findings where the patches were read in another order; none where they were not."""
        sheet = self._subject.sheet
        if sheet is None:
            return ()
        known, rows = (sheet.patch >= 0)[:, None], np.maximum(sheet.patch, 0)
        left = np.where(known, self._fit.left[rows], np.nan)
        if (np.linalg.norm(left, axis=1) > FAR).sum() < LEAST_FAR:
            return ()
        best = Order(sheet, np.where(known, self._subject.aim[rows], np.nan)).best(left)
        if best is None or best[1] < ORDER_FROM - 2 * ORDER_WIDTH:
            return ()
        return self._ordered(*best)

    def _ordered(self, pairing: Pairing, advantage: float) -> tuple[Finding, ...]:
        corrected = _Study(paired(self._subject, pairing), self._weights)
        rest = corrected.findings()
        predicted = figures(corrected._residual)
        confidence = _logistic((advantage - ORDER_FROM) / ORDER_WIDTH) * (ORDER_WITH_ANOTHER if rest else ORDER_ALONE)
        evidence = Evidence(pairing.words, {"patches": pairing.moved, "corrected": predicted})
        order = Finding(Cause.PATCH_ORDER, None, None, confidence, evidence, False, predicted)
        others = [replace(each, confidence=each.confidence * (1 - confidence)) for each in rest or self.findings()]
        return advised(sorted([order, *others], key=lambda each: -each.confidence))


def _aim_of(subject: DiagnosisSubject) -> AimModel:
    spectra = subject.spectra
    light = light_of_lab(subject.aim) if spectra is None else light_of_spectra(spectra.aim, spectra.wavelengths)
    inks = subject.inks if subject.ink_space else ()
    return AimModel(aim_ink_model(inks, subject.device[:, : len(inks)], light.channels, subject.paper), light)


def _sizes(design: Design, fit: RobustFit) -> dict[tuple[str, int], float]:
    """How large the departures of inks are, those that are large."""
    return {
        (each.kind, each.ink): float(size)
        for each, size in zip(design.departures, fit.theta, strict=True)
        if each.ink is not None and abs(size) > 1
    }


def _logistic(x: float) -> float:
    return float(1 / (1 + np.exp(-np.clip(x, -50, 50))))
