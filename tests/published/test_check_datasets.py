"""Published characterization data through the real `sentinel check`, against two colour libraries.

FOGRA39L, and the data of ANSI/CGATS/GRACoL TR 006-2007, each 1617 patches of which 29 repeat another one's CMYK.
What is compared: Lab as given, replicates averaged on both sides by CMYK, the 95th percentile by the linear rule.
No reader and no formula of ours stands on the other side.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import colour
import numpy as np
import numpy.typing as npt
import pytest
from coloraide import Color

Record = Callable[..., None]
FloatArray = npt.NDArray[np.float64]
Difference = Callable[[FloatArray, FloatArray], FloatArray]

DATASETS = Path(__file__).parents[1] / "data" / "datasets"
SENTINEL = Path(sys.executable).with_name("sentinel")
SAME = 1e-6


def checked(measured: str, target: str) -> dict[str, Any]:
    """The one line that the command prints."""
    files = (str(DATASETS / f"{name}.txt") for name in (measured, target))
    command = [str(SENTINEL), "check", "--json", next(files), "--target", next(files)]
    done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stderr) == (0, "")
    shown: dict[str, Any] = json.loads(done.stdout)
    return shown


def plain(name: str) -> dict[tuple[float, ...], FloatArray]:
    """The mean Lab of each CMYK."""
    lines = [line.strip() for line in (DATASETS / f"{name}.txt").read_text(encoding="latin-1").splitlines()]
    fields = lines[lines.index("BEGIN_DATA_FORMAT") + 1].split()
    assert fields[1:5] == ["CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"]
    assert fields[8:11] == ["LAB_L", "LAB_A", "LAB_B"]
    rows = np.loadtxt(lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")])
    readings: dict[tuple[float, ...], list[FloatArray]] = {}
    for row in rows:
        readings.setdefault(tuple(row[1:5].tolist()), []).append(row[8:11])
    return {cmyk: np.mean(lab, axis=0) for cmyk, lab in readings.items()}


def by_colour_science(target: FloatArray, sample: FloatArray) -> FloatArray:
    return np.asarray(colour.delta_E(target, sample, method="CIE 2000"), np.float64)


def by_coloraide(target: FloatArray, sample: FloatArray) -> FloatArray:
    """Its formula takes the numbers as they are when the colours are already in the space it works in."""
    pairs = zip(target.tolist(), sample.tolist(), strict=True)
    return np.array([Color("lab-d65", a).delta_e(Color("lab-d65", b), method="2000") for a, b in pairs])


def expected(measured: str, target: str, difference: Difference) -> dict[str, dict[str, float]]:
    aims, reads = plain(target), plain(measured)
    shared = [cmyk for cmyk in aims if cmyk in reads]
    paper = np.array([not any(cmyk) for cmyk in shared])
    values = difference(np.array([aims[cmyk] for cmyk in shared]), np.array([reads[cmyk] for cmyk in shared]))
    return {
        "all": {
            "de00_mean": float(values.mean()),
            "de00_p95": float(np.percentile(values, 95, method="linear")),
            "de00_max": float(values.max()),
        },
        "paper": {"de00_mean": float(values[paper].mean())},
    }


@pytest.mark.parametrize(("measured", "target"), [("TR006", "FOGRA39L"), ("FOGRA39L", "TR006")])
def test_check_of_published_data_gives_the_figures_of_two_colour_libraries(
    measured: str, target: str, record_deviation: Record
) -> None:
    shown = checked(measured, target)
    assert (shown["measurement"]["patches"], shown["measurement"]["matched"]) == (1617, 1588)
    libraries: dict[str, Difference] = {"colour-science": by_colour_science, "coloraide": by_coloraide}
    for library, difference in libraries.items():
        theirs = expected(measured, target, difference)
        off = [
            abs(shown["metrics"][group][metric] - value)
            for group, values in theirs.items()
            for metric, value in values.items()
        ]
        source = f"`check` of {measured} against {target}, mean, 95th percentile, maximum and paper ΔE00: {library}"
        record_deviation(source, len(off), max(off), SAME)
