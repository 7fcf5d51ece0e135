"""Speed of scoring a spectral chart against its target. Run: python -m tests.benchmarks.bench_scoring

1617 patches of 36 bands (the device values of FOGRA39L with invented spectra), from the measurement in memory to the
verdict, with every group and metric. Four cases take turns in one run: the first reading against a target, whose own
spectra are worked out too; every further reading against the same target; one with places on the sheet, so that
uniformity is reckoned too; and colour-science computing of the same reading X, Y, Z (its integration method, the
observer and light already at the chart's wavelengths), L*, a*, b* and CIEDE2000 alone. Reading the file is not in it:
see bench_cgats. On a machine that others use, the minima are the figures to go by.
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Callable
from dataclasses import replace

import colour
import numpy as np

from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.measurement import Measurement
from sentinel.core.scoring.policy import Limit, Limits, OwnGroup, ScoringOptions, ScoringRules
from sentinel.core.scoring.score import Aim, Score, Target, score
from sentinel.settings.targets_and_limits import HOUSE_LIMITS
from tests.benchmarks.turns import times_in_turns
from tests.unit.core.builders import WAVELENGTHS, FloatArray
from tests.unit.core.scoring.golden import dataset, printed

TURNS = 300
WARM_UP = 10
WANTED_MS = 5.0
POLICY = ScoringRules(score_unknown_m=True, least_patches=6, least_share=0.9, rival_share=0.5)
LIMITS: Limits = {**HOUSE_LIMITS, "tones_K": {"tv_max": Limit(5.0, 9.0)}, "skin": {"dl_mean": Limit(1.0, 2.0, 0.5)}}
RECKONING = ScoringOptions(own_groups={"skin": OwnGroup(where="K == 0 and C < M and M > 20 and total < 140")})


def main() -> None:
    chart = dataset("FOGRA39L")
    reading, aim = printed(chart, 1.0), aim_of(printed(chart, 0.95))
    found = scored(placed(reading), aim)
    assert found.match is not None
    _say(
        f"{len(reading.chart.ids)} patches ({len(found.match)} distinct), {len(WAVELENGTHS)} bands, "
        f"{len(found.metrics)} groups, {sum(map(len, found.metrics.values()))} figures, verdict {found.verdict.value}"
    )
    cases: dict[str, Callable[[], object]] = {
        "first reading against a target": lambda: scored(reading, aim_of(replace(aim.target.measurement))),
        "further reading against it": lambda: scored(reading, aim),
        "further reading with places": lambda: scored(placed(reading), aim),
        "colour-science, X, Y, Z to CIEDE2000": by_colour_science(reading, aim, found),
    }
    *ours, theirs = zip(cases, times_in_turns(*cases.values(), turns=TURNS, warm_up=WARM_UP), strict=True)
    for name, times in (*ours, theirs):
        _say(
            f"{name:38} median {statistics.median(times):6.2f} ms, minimum {min(times):6.2f} ms; of colour-science: "
            f"{statistics.median(times) / statistics.median(theirs[1]):5.2f} and {min(times) / min(theirs[1]):5.2f}"
        )
    _say(f"{TURNS} runs each; wanted: at most {WANTED_MS:g} ms")


def placed(measured: Measurement) -> Measurement:
    """On a sheet of 49 columns, so that uniformity is reckoned too."""
    places = tuple(f"{1 + row % 49}-{1 + row // 49}" for row in range(len(measured.chart.ids)))
    return replace(measured, chart=replace(measured.chart, positions=places))


def aim_of(measured: Measurement) -> Aim:
    return Aim(Target("aim", "", measured, measured.condition, "ink-space"), LIMITS, 0.9, RECKONING)


def scored(reading: Measurement, aim: Aim) -> Score:
    return score(reading, reading.condition, [aim], POLICY)


def by_colour_science(reading: Measurement, aim: Aim, found: Score) -> Callable[[], object]:
    """The same colours and differences of every row, repeated patches among them; the aim's Lab is already there."""
    reflectance, wanted = reading.reflectance, aim.target.measurement.reflectance
    assert reflectance is not None
    assert wanted is not None
    shape = colour.SpectralShape(WAVELENGTHS[0], WAVELENGTHS[-1], 10)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    light = colour.SDS_ILLUMINANTS["D50"].copy().align(shape)
    white = colour.XYZ_to_xy(np.array([96.422, 100.0, 82.521]))
    lab = lab_from_xyz(xyz_from_reflectance(wanted, WAVELENGTHS), D50_ASTM_E308)

    def work() -> FloatArray:
        xyz = colour.msds_to_XYZ(reflectance, observer, light, method="Integration", shape=shape)
        return np.asarray(colour.delta_E(lab, colour.XYZ_to_Lab(xyz / 100, white), method="CIE 2000"), np.float64)

    assert abs(np.mean(work()) - found.metrics["all"]["de00_mean"]) < 0.2, "the two do not reckon the same"
    return work


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    main()
