"""Tone values: identities, worked examples, FOGRA39L's curves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import colour
import numpy as np
import numpy.typing as npt
import pytest

from sentinel.core.colour.lab import D50_ASTM_E308
from sentinel.core.colour.tone import (
    ProcessInk,
    colorimetric_tone_value,
    murray_davies,
    spot_colour_tone_value,
)

Record = Callable[..., None]
FloatArray = npt.NDArray[np.float64]

INKS: tuple[ProcessInk, ...] = ("C", "M", "Y", "K")


class Published(Protocol):
    cmyk: FloatArray
    xyz: FloatArray


def test_murray_davies_gives_its_own_definition_back(record_deviation: Record) -> None:
    """Murray 1936: D = log10(1 / (1 - a (1 - r))) for a dot share a of an ink of reflectance r."""
    share = np.linspace(0, 1, 101)
    density = np.log10(1 / (1 - share * (1 - 0.04)))
    assert density[50] == pytest.approx(0.2839966564, abs=1e-10)
    worst = float(np.abs(murray_davies(density, np.log10(1 / 0.04), 0.0) - 100 * share).max())
    record_deviation("Murray-Davies: the definition of 1936", len(share), worst, 1e-9)


def test_density_tone_values_of_worked_examples(record_deviation: Record) -> None:
    """Worked by hand from the formula; no published examples were found."""
    paper, solid = np.array([0.0, 0.0, 0.0, 0.08]), np.array([1.40, 1.40, 1.40, 1.48])
    tint = np.array([0.30, 0.50, 0.90, 0.58])
    worst = float(np.abs(murray_davies(tint, solid, paper) - [51.949420, 71.212233, 91.034911, 71.212233]).max())
    record_deviation("Murray-Davies: worked examples, six decimals", 4, worst, 5.1e-7)


def test_colorimetric_tone_values_of_fogra39l(fogra39l: Published, record_deviation: Record) -> None:
    """At 50 %, worked by hand from the data by X - 0.55 Z, Y, Z, Y."""
    ours = [colorimetric_tone_value(*_tint_solid_paper(fogra39l, ink, 50), ink)[0] for ink in INKS]
    worst = float(np.abs(np.array(ours) - [64.9816, 63.6736, 64.4158, 67.1539]).max())
    record_deviation("Colorimetric tone value of FOGRA39L at 50 %: worked from the data", 4, worst, 5.1e-5)


def test_fogra39l_has_the_dot_gain_it_was_printed_to(fogra39l: Published) -> None:
    """ISO 12647-2:2004 curve A for C, M, Y: 14.3 % gain at 50 % (from memory), a plausibility check."""
    gains = [colorimetric_tone_value(*_tint_solid_paper(fogra39l, ink, 50), ink)[0] - 50 for ink in INKS[:3]]
    assert float(np.mean(gains)) == pytest.approx(14.3, abs=0.5)


def test_every_tone_scale_of_fogra39l_rises_from_paper_to_solid(fogra39l: Published) -> None:
    for ink in INKS:
        own = INKS.index(ink)
        scale = fogra39l.cmyk[np.all(np.delete(fogra39l.cmyk, own, axis=1) == 0, axis=1)][:, own]
        steps = np.unique(scale)
        tint = np.array([_patch(fogra39l, ink, step) for step in steps])
        for value in (
            colorimetric_tone_value(tint, tint[-1], tint[0], ink),
            spot_colour_tone_value(tint, tint[-1], tint[0], D50_ASTM_E308),
        ):
            assert len(steps) > 10
            assert value[0] == pytest.approx(0, abs=1e-9)
            assert value[-1] == pytest.approx(100)
            assert np.all(np.diff(value) > 0)


def test_spot_colour_tone_values_of_fogra39l(fogra39l: Published, record_deviation: Record) -> None:
    """ISO 20654:2017, worked by hand from the data; no published example was found."""
    worked: list[tuple[ProcessInk, int, float]] = [
        ("C", 40, 37.5403),
        ("C", 50, 47.8115),
        ("M", 50, 48.7381),
        ("Y", 50, 46.8122),
        ("K", 50, 41.9958),
    ]
    worst = max(
        abs(float(spot_colour_tone_value(*_tint_solid_paper(fogra39l, ink, step), D50_ASTM_E308)[0]) - value)
        for ink, step, value in worked
    )
    record_deviation("ISO 20654 tone value of FOGRA39L: worked from the data", len(worked), worst, 5.1e-5)


def test_spot_colour_tone_value_follows_from_lightness_by_colour_science(
    fogra39l: Published, record_deviation: Record
) -> None:
    """ISO 20654's V of X, Y and Z is CIE 1976 lightness of each, which colour-science computes."""
    xyz = fogra39l.xyz
    lightness = np.stack(
        [colour.lightness(100 * xyz[:, i] / D50_ASTM_E308[i], method="CIE 1976") for i in range(3)], axis=1
    )
    solid, paper = 72, 0
    assert fogra39l.cmyk[solid].tolist() == [100, 0, 0, 0]
    theirs = 100 * np.linalg.norm(lightness - lightness[paper], axis=1)
    theirs /= np.linalg.norm(lightness[solid] - lightness[paper])
    ours = spot_colour_tone_value(xyz, xyz[solid], xyz[paper], D50_ASTM_E308)
    record_deviation(
        "ISO 20654 tone value, all of FOGRA39L on cyan: lightness by colour-science",
        len(xyz),
        float(np.abs(ours - theirs).max()),
        1e-9,
    )


def _tint_solid_paper(data: Published, ink: ProcessInk, step: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    return _patch(data, ink, step)[np.newaxis], _patch(data, ink, 100), _patch(data, ink, 0)


def _patch(data: Published, ink: ProcessInk, step: float) -> FloatArray:
    """X, Y, Z of the patch with this ink alone, replicates averaged."""
    wanted = np.zeros(4)
    wanted[INKS.index(ink)] = step
    xyz: FloatArray = data.xyz[np.all(data.cmyk == wanted, axis=1)].mean(axis=0)
    return xyz
