"""What one sheet may differ from another of the same printer without any fault."""

from __future__ import annotations

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.diagnosis.departures import INK_KINDS, Design
from sentinel.core.diagnosis.evidence import SIGMAS

INDEPENDENT = 30.0
"""Neighbours on a sheet stray alike: however many patches it has, it is worth no more independent ones than this.

Chosen among 30, 50 and 100 on the simulator's world for fitting."""

USUAL_SIGMA, SIGMA_SPREAD = 0.33, 0.35
"""ΔE00 of one component of one patch between two healthy sheets, as the median and spread of its logarithm: a mean
of 0.3 to 0.6 ΔE00 (the project's own claim), each of aim and reading apart."""

MODEL_ERROR = 0.12
"""How far the model of a departure is wrong, as a share of it."""

SHARES = {"strength": 1.1, "gaps": 0.35, "tone": 0.8, "skew": 0.4, "paper": 0.4, "emission": 0.4, "surface": 0.4}
"""From sheet to sheet each departure varies by so many times the noise of a single patch."""


INK_BORNE = 0.65
"""Part of the variance of single patches that their inks bring."""


def tempering(patches: int) -> float:
    """What one patch counts, so that they are worth the independent ones together."""
    return 1 / (1 + patches / INDEPENDENT)


def sheet_shares(design: Design) -> FloatArray:
    """Standard deviation of each departure on healthy sheets, as a share of the noise: (departures,).

    Inks stray by the same part of their density and by as much dot gain, so one that shows more strays more visibly.
    """
    shares = np.array([SHARES[each.kind] for each in design.departures])
    visible = np.array([1 / each.unit for each in design.departures])
    for kind in INK_KINDS:
        places = design.places(kind)
        if places:
            shares[places] *= visible[places] / visible[places].mean()
    return shares


def trust(design: Design) -> FloatArray:
    """How well each patch stays from sheet to sheet, as the inverse of its variance, 1 on average: (n,).

    Most noise is that of the inks, so a patch strays the more the more its inks show.
    """
    shares = sheet_shares(design)
    inked = design.places("strength") + design.places("tone")
    if not inked:
        return np.ones(len(design.columns))
    answer = ((design.columns[:, :, inked] * shares[inked]) ** 2).sum(axis=(1, 2))
    certain = 1 / (1 - INK_BORNE + INK_BORNE * answer / answer.mean())
    return np.asarray(certain / certain.mean())


def log_prior(effect: FloatArray | float = 0.0) -> FloatArray:
    """Of every size of noise, for a cause that moves patches by `effect` (root mean square): (sizes,)."""
    middle = np.hypot(USUAL_SIGMA, MODEL_ERROR * np.asarray(effect))
    away = (np.log(SIGMAS) - np.log(middle)) / SIGMA_SPREAD
    weights = -0.5 * away * away
    normalised: FloatArray = weights - np.log(np.exp(weights).sum(axis=-1, keepdims=True))
    return normalised


def log_prior_unexplained() -> FloatArray:
    """Noise of any size above the usual."""
    open_ended = np.where(SIGMAS > 2 * USUAL_SIGMA, 0.0, -60.0)
    return np.asarray(open_ended - np.log(np.exp(open_ended).sum()))
