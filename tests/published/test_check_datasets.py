"""Published characterization data and spectra through the real `sentinel check`, against three colour libraries.

FOGRA39L, and the data of ANSI/CGATS/GRACoL TR 006-2007, each 1617 patches of which 29 repeat another one's CMYK.
What is compared: Lab as given, replicates averaged on both sides by CMYK, the 95th percentile by the linear rule. Then
24 chart spectra after Ohta 1997 and the same under an invented varnish, in files that have Lab beside the spectra.
No reader and no formula of ours stands on the other side; for Little CMS its own reader reads the files.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

import colour
import numpy as np
import numpy.typing as npt
import pytest
from coloraide import Color
from coloraide.spaces.lab import xyz_to_lab

from tests.published.little_cms import INSTALL, LittleCms, is_installed
from tests.support.command import sentinel

Record = Callable[..., None]
FloatArray = npt.NDArray[np.float64]
Difference = Callable[[FloatArray, FloatArray], FloatArray]

DATASETS = Path(__file__).parents[1] / "data" / "datasets"
SAME = 1e-6


def dataset(name: str) -> Path:
    return DATASETS / f"{name}.txt"


def checked(measured: Path, target: Path) -> dict[str, Any]:
    """The one line that the command prints."""
    done = sentinel("check", "--json", measured, "--target", target)
    assert (done.code, done.err) == (0, "")
    return done.json()


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


def plain_by_little_cms(library: LittleCms, name: str) -> dict[tuple[float, ...], FloatArray]:
    """The same through the reader of Little CMS."""
    readings: dict[tuple[float, ...], list[FloatArray]] = {}
    for row in library.numbers(dataset(name).read_bytes(), 11):
        readings.setdefault(tuple(row[1:5]), []).append(np.array(row[8:11]))
    return {cmyk: np.mean(lab, axis=0) for cmyk, lab in readings.items()}


def figures(values: FloatArray) -> dict[str, float]:
    return {
        "de00_mean": float(values.mean()),
        "de00_p95": float(np.percentile(values, 95, method="linear")),
        "de00_max": float(values.max()),
    }


Plain = Callable[[str], dict[tuple[float, ...], FloatArray]]


def expected(measured: str, target: str, read: Plain, difference: Difference) -> dict[str, dict[str, float]]:
    aims, reads = read(target), read(measured)
    shared = [cmyk for cmyk in aims if cmyk in reads]
    paper = np.array([not any(cmyk) for cmyk in shared])
    values = difference(np.array([aims[cmyk] for cmyk in shared]), np.array([reads[cmyk] for cmyk in shared]))
    return {"all": figures(values), "paper": {"de00_mean": float(values[paper].mean())}}


def farthest(shown: dict[str, Any], theirs: dict[str, dict[str, float]]) -> tuple[int, float]:
    """How many figures, and how far ours is from the farthest of them."""
    off = [
        abs(shown["metrics"][group][metric] - value)
        for group, values in theirs.items()
        for metric, value in values.items()
    ]
    return len(off), max(off)


def by_little_cms(library: LittleCms) -> Difference:
    def difference(target: FloatArray, sample: FloatArray) -> FloatArray:
        return np.array([library.ciede2000(*pair) for pair in zip(target.tolist(), sample.tolist(), strict=True)])

    return difference


@pytest.fixture(scope="module")
def little_cms() -> LittleCms:
    if not is_installed() and not os.environ.get("CI"):
        pytest.skip(INSTALL)
    return LittleCms()


@pytest.mark.parametrize(("measured", "target"), [("TR006", "FOGRA39L"), ("FOGRA39L", "TR006")])
def test_check_of_published_data_gives_the_figures_of_three_colour_libraries(
    measured: str, target: str, little_cms: LittleCms, record_deviation: Record
) -> None:
    shown = checked(dataset(measured), dataset(target))
    assert (shown["measurement"]["patches"], shown["measurement"]["matched"]) == (1617, 1588)
    libraries: dict[str, tuple[Plain, Difference]] = {
        "colour-science": (plain, by_colour_science),
        "coloraide": (plain, by_coloraide),
        "Little CMS": (partial(plain_by_little_cms, little_cms), by_little_cms(little_cms)),
    }
    for library, (read, difference) in libraries.items():
        source = f"`check` of {measured} against {target}, mean, 95th percentile, maximum and paper ΔE00: {library}"
        theirs = expected(measured, target, read, difference)
        record_deviation(source, *farthest(shown, theirs), SAME)


BANDS = np.arange(380.0, 731.0, 10.0)
D50 = (96.422, 100.0, 82.521)
"""ASTM E308, 2 degrees."""


def spectra() -> tuple[FloatArray, FloatArray]:
    """Those of the target and of the sample, reflectance (24, 36) of five decimals."""
    aim = np.array([sd.values[:71:2] for sd in colour.SDS_COLOURCHECKERS["cc_ohta"].values()])
    return np.round(aim, 5), np.round(0.01 + aim * np.linspace(0.93, 0.97, len(BANDS)), 5)


@lru_cache
def xyz_of(row: tuple[float, ...]) -> list[float]:
    """ASTM E308 by colour-science, weights by its E2022."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    lamp = colour.SDS_ILLUMINANTS["D50"].copy().align(observer.shape, interpolator=colour.LinearInterpolator)
    found = colour.colorimetry.sd_to_XYZ_tristimulus_weighting_factors_ASTME308(
        colour.SpectralDistribution(row, BANDS), observer, lamp
    )
    return [float(value) for value in found]


def by_white(xyz: list[float]) -> list[float]:
    lab = colour.XYZ_to_Lab(np.array(xyz) / 100, colour.XYZ_to_xy(np.array(D50)))
    return [float(value) for value in lab]


def with_lab(reflectance: FloatArray, decimals: int) -> str:
    """A file of spectra with Lab beside them, as an instrument rounds it."""
    fields = ["SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B", *(f"SPECTRAL_NM{int(nm)}" for nm in BANDS)]
    lines = ["CGATS.17", "BEGIN_DATA_FORMAT", "\t".join(fields), "END_DATA_FORMAT"]
    lines += [f"NUMBER_OF_SETS {len(reflectance)}", "BEGIN_DATA"]
    for number, row in enumerate(reflectance.tolist(), 1):
        lab = by_white(xyz_of(tuple(row)))
        lines.append("\t".join([str(number), *(f"{value:.{decimals}f}" for value in lab), *map(str, row)]))
    return "\n".join([*lines, "END_DATA", ""])


# colour-science warns that a spectrum is cut to its observer's range, which is what the test wants.
@pytest.mark.filterwarnings("ignore:Trimming", "ignore:Aligning", "ignore:.*could not be honoured")
@pytest.mark.parametrize("decimals", [0, 1, 2, 4])
def test_check_of_spectra_with_lab_beside_them_stands_on_the_spectra(
    decimals: int, tmp_path: Path, little_cms: LittleCms, record_deviation: Record
) -> None:
    """However Lab was rounded, and without a remark on it."""
    files = [tmp_path / "target.txt", tmp_path / "sample.txt"]
    for file, reflectance in zip(files, spectra(), strict=True):
        file.write_text(with_lab(reflectance, decimals), encoding="ascii")
    shown = checked(files[1], files[0])
    assert "contradicts-itself" not in [reason["code"] for reason in shown["reasons"]]
    colours = [[xyz_of(tuple(row)) for row in reflectance.tolist()] for reflectance in spectra()]
    libraries: dict[str, tuple[Callable[[list[float]], list[float]], Difference]] = {
        "colour-science": (by_white, by_colour_science),
        "coloraide": (lambda xyz: [float(value) for value in xyz_to_lab(xyz, D50)], by_coloraide),
        "Little CMS": (lambda xyz: little_cms.lab(xyz, D50), by_little_cms(little_cms)),
    }
    for library, (lab_of, difference) in libraries.items():
        aim, sample = (np.array([lab_of(xyz) for xyz in side]) for side in colours)
        source = f"`check` of spectra with Lab of {decimals} decimals, ΔE00: E308 by colour-science, then {library}"
        record_deviation(source, *farthest(shown, {"all": figures(difference(aim, sample))}), SAME)
