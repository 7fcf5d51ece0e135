"""Densities of single inks: which inks have them, through which filter, and what is left out.

How large they are: tests/published/test_check_densities.py.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.colour.density import status_density, visual_density
from sentinel.core.measurement import Measurement
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import ON_REQUEST, Metrics, figures_of, requested
from sentinel.core.scoring.policy import Limit, ScoringOptions
from tests.unit.core.builders import CMYK, WAVELENGTHS, FloatArray, measurement

INKS = (*CMYK, "O")
SOLIDS = 100 * np.eye(5)
DEVICE = np.vstack([np.zeros(5), SOLIDS, 0.5 * SOLIDS])
ABSORBING = {"C": (600, 730), "M": (500, 600), "Y": (380, 500), "K": (380, 730), "O": (380, 560)}


def light(strength: float = 1.0, wavelengths: FloatArray = WAVELENGTHS) -> FloatArray:
    """Paper of 0.8; each ink takes a power of ten of `strength` away in its own stretch, O more in the blue."""
    take = np.array([[float(low <= nm < high) for nm in wavelengths] for low, high in ABSORBING.values()])
    take[4, wavelengths < 500] *= 1.2
    reflectance: FloatArray = 0.8 * 10 ** (-strength * (DEVICE / 100) @ take)
    return reflectance


def printed(strength: float = 1.0, wavelengths: FloatArray = WAVELENGTHS) -> Measurement:
    return measurement(device=DEVICE, inks=INKS, reflectance=light(strength, wavelengths), wavelengths=wavelengths)


def figures(aim: Measurement, sample: Measurement, reckoning: ScoringOptions | None = None) -> Metrics:
    return figures_of(match(aim, sample), reckoning or ScoringOptions()).metrics


def names(metrics: Metrics) -> set[str]:
    return {name for values in metrics.values() for name in values}


def test_each_ink_is_looked_at_through_its_own_filter_and_another_through_its_densest() -> None:
    aim, sample = printed(), printed(1.1)
    found = figures(aim, sample)
    assert aim.reflectance is not None
    assert sample.reflectance is not None
    through = {"C": 0, "M": 1, "Y": 2, "O": 2}
    for row, ink in enumerate(INKS, start=1):
        sides = [measured.reflectance[row][None] for measured in (sample, aim) if measured.reflectance is not None]
        read, wanted = (
            (
                visual_density(side, WAVELENGTHS)
                if ink == "K"
                else status_density(side, WAVELENGTHS, "E")[:, through[ink]]
            )
            for side in sides
        )
        assert found[f"solid_{ink}"]["density_mean"] == pytest.approx(float((read - wanted)[0]), abs=1e-12)
    weaker = figures(sample, aim)
    assert weaker["solid_C"]["density_mean"] == pytest.approx(-found["solid_C"]["density_mean"])
    assert weaker["solid_C"]["density_max"] == pytest.approx(found["solid_C"]["density_max"])


def test_the_filter_of_an_extra_ink_is_told_by_the_aim_and_stays() -> None:
    """An orange gone so weak in the blue that another filter sees it denser is still looked at in the blue."""
    sample = printed()
    assert sample.reflectance is not None
    faded = sample.reflectance.copy()
    faded[5, WAVELENGTHS < 500] = 0.79
    found = figures(printed(), replace(sample, reflectance=faded))
    assert found["solid_O"]["density_mean"] < -0.9


def test_the_two_sides_may_have_been_read_at_other_wavelengths() -> None:
    found = figures(printed(), printed(wavelengths=np.arange(380.0, 731.0, 5.0)))
    assert abs(found["solid_C"]["density_mean"]) < 0.05
    assert "tvd_mean" in found["tones_C"]


@pytest.mark.parametrize("lacking", ["aim", "sample"])
def test_where_one_side_has_no_spectra_there_are_no_densities(lacking: str) -> None:
    lab = measurement(device=DEVICE, inks=INKS, lab=np.linspace([95, 0, 0], [20, 5, 5], len(DEVICE)))
    aim, sample = (lab, printed()) if lacking == "aim" else (printed(), lab)
    assert not {name for name in names(figures(aim, sample)) if name.startswith(("density_", "tvd_"))}


def test_a_patch_darker_than_can_be_told_leaves_its_scale_without_densities() -> None:
    sample = printed()
    assert sample.reflectance is not None
    dark = sample.reflectance.copy()
    dark[4] = -0.001
    found = figures(printed(), replace(sample, reflectance=dark))
    assert "density_mean" not in found["solid_K"]
    assert "tvd_mean" not in found["tones_K"]
    assert "density_mean" in found["tones_K"]


def test_through_a_profile_there_are_densities_and_no_tone_values() -> None:
    found = figures(printed(), printed(1.1), ScoringOptions(ink_space=False))
    assert "density_mean" in found["solid_C"]
    assert not {name for name in names(found) if name.startswith("tv")}


def test_another_status_is_another_density() -> None:
    """Of yellow: the red and green filters of E and T are nearly alike."""
    by = {status: figures(printed(), printed(1.1), ScoringOptions(density_status=status)) for status in ("E", "T")}
    assert by["E"]["solid_Y"]["density_mean"] != pytest.approx(by["T"]["solid_Y"]["density_mean"], abs=1e-4)
    assert by["E"]["solid_K"] == by["T"]["solid_K"]


def test_older_formulas_are_made_where_a_limit_names_them_and_then_in_every_group() -> None:
    assert requested({"all": {"de00_mean": Limit(1, 2)}}) == set()
    asked = requested({"all": {"de00_mean": Limit(1, 2)}, "solids": {"cmc_p95": Limit(1, 2)}})
    assert asked == {"cmc"}
    pairs = match(printed(), printed(1.1))
    plain, with_cmc = (figures_of(pairs, ScoringOptions(), kinds).metrics for kinds in ((), asked))
    four = {"cmc_mean", "cmc_median", "cmc_p95", "cmc_max"}
    assert all(with_cmc[group].keys() - plain[group].keys() == four for group in plain)
    assert {name.split("_")[0] for name in names(figures_of(pairs, ScoringOptions(), ON_REQUEST).metrics)} >= {
        "cmc",
        "de94",
    }
