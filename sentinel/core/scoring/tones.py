"""Errors of tone value, ink by ink, for charts printed with colour management off."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308
from sentinel.core.colour.tone import ProcessInk, colorimetric_tone_value, spot_colour_tone_value
from sentinel.core.colour.tone_curve import tone_curve, tone_error
from sentinel.core.scoring.differences import Sides
from sentinel.core.scoring.roles import BLACKS, PROCESS, Mask


def tone_figures(
    inks: tuple[str, ...], device: FloatArray, sides: Sides, masks: Mapping[str, Mask]
) -> dict[str, dict[str, float]]:
    """Per tone scale `tones_INK`: `tv_mean`, the signed mean error in per cent, and `tv_max`, the largest size.

    Process inks by colorimetric tone value, others by ISO 20654. An ink without its solid or without paper is left out.
    """
    figures: dict[str, dict[str, float]] = {}
    for column, ink in enumerate(inks):
        tones, solid, paper = (masks.get(name) for name in (f"tones_{ink}", f"solid_{ink}", "paper"))
        if tones is None or solid is None or paper is None:
            continue
        nominal = device[tones, column]
        aim, read = (
            tone_curve(nominal, _values(xyz[tones], xyz[solid].mean(axis=0), xyz[paper].mean(axis=0), ink))
            for xyz in (sides.aim_xyz, sides.xyz)
        )
        error = tone_error(read, aim)[1:-1]
        if len(error) and np.isfinite(error).all():
            figures[f"tones_{ink}"] = {"tv_mean": float(error.mean()), "tv_max": float(np.abs(error).max())}
    return figures


def _values(tints: FloatArray, solid: FloatArray, paper: FloatArray, ink: str) -> FloatArray:
    if ink in PROCESS:
        process: ProcessInk = "K" if ink in BLACKS else ink  # type: ignore[assignment]
        return colorimetric_tone_value(tints, solid, paper, process)
    return spot_colour_tone_value(tints, solid, paper, D50_ASTM_E308)
