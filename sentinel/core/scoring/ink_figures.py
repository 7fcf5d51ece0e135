"""Figures of single inks: errors of tone value, and of density where both sides have spectra."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.density import Status, status_density, visual_density
from sentinel.core.colour.lab import D50_ASTM_E308
from sentinel.core.colour.tone import (
    ProcessInk,
    colorimetric_tone_value,
    murray_davies,
    spot_colour_tone_value,
)
from sentinel.core.scoring.groups import BLACKS, COLOURS, FULL_INK, PROCESS, Mask
from sentinel.core.scoring.matching import Match, Spectra

Figures = dict[str, dict[str, float]]
"""{group: {metric: value}}"""


def tone_figures(
    inks: tuple[str, ...], device: FloatArray, aim_xyz: FloatArray, xyz: FloatArray, masks: Mapping[str, Mask]
) -> Figures:
    """Per tone scale `tones_INK`: `tv_mean`, the signed mean error in per cent, and `tv_max`, the largest size.

    Process inks by colorimetric tone value, others by ISO 20654. An ink without its solid or without paper is left out.
    """
    figures: Figures = {}
    for column, ink in enumerate(inks):
        scale = _scale(ink, masks)
        if scale is None:
            continue
        tones, solid, paper = scale
        aim, read = (
            _values(side[tones], side[solid].mean(axis=0), side[paper].mean(axis=0), ink) for side in (aim_xyz, xyz)
        )
        figures[f"tones_{ink}"] = _errors("tv", _by_step(device[tones, column], read - aim))
    return figures


def _scale(ink: str, masks: Mapping[str, Mask]) -> tuple[Mask, Mask, Mask] | None:
    """The tints of an ink, its solid and the paper; None where one is not there."""
    tones, solid, paper = (masks.get(name) for name in (f"tones_{ink}", f"solid_{ink}", "paper"))
    return None if tones is None or solid is None or paper is None else (tones, solid, paper)


def _values(tints: FloatArray, solid: FloatArray, paper: FloatArray, ink: str) -> FloatArray:
    if ink in PROCESS:
        process: ProcessInk = "K" if ink in BLACKS else ink  # type: ignore[assignment]
        return colorimetric_tone_value(tints, solid, paper, process)
    return spot_colour_tone_value(tints, solid, paper, D50_ASTM_E308)


def _by_step(nominal: FloatArray, error: FloatArray) -> FloatArray:
    """The errors of a scale's steps between paper and solid, patches of one step averaged."""
    inner = (nominal > 0) & (nominal < FULL_INK)
    step_of = np.unique(nominal[inner], return_inverse=True)[1]
    mean: FloatArray = np.bincount(step_of, weights=error[inner]) / np.bincount(step_of)
    return mean


def _errors(kind: str, error: FloatArray) -> dict[str, float]:
    """The signed mean and the largest size; none where one is not finite."""
    if not len(error) or not np.isfinite(error).all():
        return {}
    return {f"{kind}_mean": float(error.mean()), f"{kind}_max": float(np.abs(error).max())}


RED, GREEN, BLUE, VISUAL = range(4)
FILTERS = {**dict(zip(COLOURS, (RED, GREEN, BLUE), strict=True)), **dict.fromkeys(BLACKS, VISUAL)}
"""The filter a process ink is looked at through: that of its complementary colour, black by visual density."""


def density_figures(
    inks: tuple[str, ...], match: Match, masks: Mapping[str, Mask], status: Status, *, tone_values: bool
) -> Figures:
    """Per solid and tone scale of an ink: `density_mean`, measured less aim, and `density_max`, the largest size; with
    `tone_values` for tone scales too `tvd_mean` and `tvd_max`, the errors of Murray and Davies's tone value.

    Densities are absolute, that is relative to the perfect diffuser. An ink that is no process ink is looked at
    through the filter in which the aim's solid is densest. Nothing where one side has no spectra; what a density is
    not finite of is left out.
    """
    if match.aim_spectra is None or match.spectra is None:
        return {}
    wanted = [mask for name, mask in masks.items() if name == "paper" or name.startswith(("solid_", "tones_"))]
    rows = np.logical_or.reduce(wanted) if wanted else np.zeros(len(match), dtype=bool)
    aim, read = (_densities(side, rows, status) for side in (match.aim_spectra, match.spectra))
    figures: Figures = {}
    for column, ink in enumerate(inks):
        through = _filter(ink, aim, masks)
        if through is not None:
            nominal = match.device[:, column]
            figures |= _of_ink(ink, nominal, aim[:, through], read[:, through], masks, tone_values=tone_values)
    return figures


def _densities(side: Spectra, rows: Mask, status: Status) -> FloatArray:
    """Red, green, blue and visual density of these rows: (n, 4), NaN in the others."""
    found = np.full((len(rows), 4), np.nan)
    reflectance = side.of(rows)
    found[rows, :VISUAL] = status_density(reflectance, side.wavelengths, status)
    found[rows, VISUAL] = visual_density(reflectance, side.wavelengths)
    return found


def _filter(ink: str, aim: FloatArray, masks: Mapping[str, Mask]) -> int | None:
    solid = masks.get(f"solid_{ink}")
    if ink in FILTERS or solid is None:
        return FILTERS.get(ink)
    return int(np.argmax(aim[solid, :VISUAL].mean(axis=0)))


def _of_ink(
    ink: str, nominal: FloatArray, aim: FloatArray, read: FloatArray, masks: Mapping[str, Mask], *, tone_values: bool
) -> Figures:
    """`aim` and `read` (n,) are densities through the ink's filter."""
    figures: Figures = {}
    for group in (f"solid_{ink}", f"tones_{ink}"):
        if group in masks:
            figures[group] = _errors("density", (read - aim)[masks[group]])
    scale = _scale(ink, masks)
    if tone_values and scale is not None:
        tones, solid, paper = scale
        of_aim, of_reading = (
            murray_davies(side[tones], side[solid].mean(), side[paper].mean()) for side in (aim, read)
        )
        figures[f"tones_{ink}"] |= _errors("tvd", _by_step(nominal[tones], of_reading - of_aim))
    return figures
