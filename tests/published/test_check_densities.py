"""Densities, tone values by density, CIE94 and CMC as `sentinel check --json` tells them, against outside arithmetic.

Densities: D = -log10(sum(W R) / sum(W)) with the products of ISO 5-3 (one open reproduction, see
tests/data/published/README.md), written here anew in numpy from the file's own digits; products beyond the measured
bands go to the end bands, as ASTM E308 has it for X, Y, Z. Tone value by density: Murray and Davies.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import colour
import numpy as np
import numpy.typing as npt
import pytest
from coloraide import Color

from tests.support.command import sentinel

Record = Callable[[str, int, float, float], None]
FloatArray = npt.NDArray[np.float64]
Table = Callable[[str], FloatArray]
Figures = dict[str, dict[str, float]]
Difference = Callable[[FloatArray, FloatArray], FloatArray]

DATASETS = Path(__file__).parents[1] / "data" / "datasets"
SAME = 1e-9
WAVELENGTHS = np.arange(380, 731, 10)
INKS = ("C", "M", "Y", "K", "O")
STEPS = (10, 25, 50, 75, 90)
DEVICE = np.array(
    [[0.0] * 5, *(np.eye(5)[ink] * step for ink in range(5) for step in (*STEPS, 100)), [60, 50, 50, 0, 0]]
)
FIRST_COLUMNS = {"A": 1, "E": 4, "T": 10}
"""Where blue, green and red of a status stand in the table."""
FILTER = {"C": 2, "M": 1, "Y": 0, "K": 3, "O": 0}
"""Blue, green, red, visual. The orange is densest in the blue, as the test makes sure."""

DENSITIES = ("density_mean", "density_max")

SETTINGS = """\
[folders]
drop = ["drop"]
archive = "archive"
put_aside = "aside"
[store]
path = "store.sqlite"
[measurements]
density_status = "{status}"
[printers.north]
inks = {inks}
[substrates.satin]
[targets.aim]
file = "{aim}"
colour_path = "ink-space"
[conditions."north/satin"]
targets = ["aim"]
[conditions."north/satin".limits]
{limits}
"""


def told(folder: Path, measured: Path, aim: Path, limits: str, status: str = "E", inks: str = "CMYK") -> dict[str, Any]:
    """What `check` says under settings."""
    settings = folder / "sentinel.toml"
    settings.write_text(SETTINGS.format(aim=aim, limits=limits, status=status, inks=list(inks)), encoding="utf-8")
    done = sentinel("--config", settings, "check", "--json", measured, "--condition", "north/satin", cwd=folder)
    assert done.err == ""
    shown: dict[str, Any] = json.loads(done.out)
    return shown


def spectra(strength: float, gain: float) -> FloatArray:
    """Paper and inks after a published chart's spectra (Ohta 1997, by colour-science), as the file writes them."""
    chart = [sd.values[:71:2] for sd in colour.SDS_COLOURCHECKERS["cc_ohta"].values()]
    paper, solids = np.array(chart[18]), np.array([chart[row] for row in (17, 16, 15, 23, 6)])
    share = DEVICE / 100 + gain * (DEVICE / 100) * (1 - DEVICE / 100)
    light: FloatArray = paper * np.prod(1 - share[:, :, None] * (1 - np.minimum(solids / paper, 1) ** strength), axis=1)
    rounded: FloatArray = np.round(light, 5)
    return rounded


CHANNELS = tuple(f"5CLR_{n}" for n in range(1, 6))


def written(
    path: Path, reflectance: FloatArray, device: FloatArray = DEVICE, channels: Sequence[str] = CHANNELS
) -> Path:
    """As an instrument's software exports it, five decimals."""
    fields = ["SAMPLE_ID", *channels, *(f"SPECTRAL_NM{nm}" for nm in WAVELENGTHS)]
    rows = [
        " ".join([str(number), *(f"{amount:g}" for amount in amounts), *(f"{value:.5f}" for value in values)])
        for number, (amounts, values) in enumerate(zip(device, reflectance, strict=True), 1)
    ]
    lines = ["CGATS.17", 'MEASUREMENT_SOURCE "ISO 13655 M1"', f"NUMBER_OF_FIELDS {len(fields)}"]
    lines += ["BEGIN_DATA_FORMAT", " ".join(fields), "END_DATA_FORMAT", f"NUMBER_OF_SETS {len(rows)}"]
    path.write_text("\n".join([*lines, "BEGIN_DATA", *rows, "END_DATA", ""]), encoding="ascii")
    return path


def densities(reflectance: FloatArray, status: str, table: FloatArray) -> FloatArray:
    """Blue, green, red and visual: (n, 4)."""
    nm, first = table[:, 0], FIRST_COLUMNS[status]
    products = table[:, [first, first + 1, first + 2, 13]]
    weights = np.array([products[nm == band].sum(axis=0) for band in WAVELENGTHS])
    weights[0] += products[nm < WAVELENGTHS[0]].sum(axis=0)
    weights[-1] += products[nm > WAVELENGTHS[-1]].sum(axis=0)
    density: FloatArray = -np.log10(reflectance @ weights / products.sum(axis=0))
    return density


def expected(aim: FloatArray, read: FloatArray) -> Figures:
    """From the densities of both sides, (n, 4) each."""
    found: Figures = {}
    for column, ink in enumerate(INKS):
        own, alone = DEVICE[:, column], np.delete(DEVICE, column, axis=1).max(axis=1) == 0
        sides = [side[:, FILTER[ink]] for side in (aim, read)]
        off = sides[1] - sides[0]
        solid, tones = alone & (own == 100), alone & (own > 0) & (own < 100)
        value = [100 * (1 - 10 ** (side[0] - side[tones])) / (1 - 10 ** (side[0] - side[solid])) for side in sides]
        tone = value[1] - value[0]
        found[f"solid_{ink}"] = {"density_mean": off[solid].mean(), "density_max": np.abs(off[solid]).max()}
        found[f"tones_{ink}"] = {
            "density_mean": off[tones].mean(),
            "density_max": np.abs(off[tones]).max(),
            "tvd_mean": tone.mean(),
            "tvd_max": np.abs(tone).max(),
        }
    return found


@pytest.mark.parametrize("status", ["A", "E", "T"])
def test_densities_of_spectra_are_the_plain_sums_of_iso_5_3(
    status: str, tmp_path: Path, published_table: Table, record_deviation: Record
) -> None:
    table = published_table("iso5_3_density_weights_10nm.csv")
    aim, read = spectra(1.0, 0.55), spectra(1.12, 0.7)
    of_aim, of_reading = (densities(side, status, table) for side in (aim, read))
    orange = (DEVICE == [0, 0, 0, 0, 100]).all(axis=1)
    assert of_aim[orange, :3].argmax() == FILTER["O"]
    measured, target = written(tmp_path / "read.txt", read), written(tmp_path / "aim.txt", aim)
    limits = "solid_C = { density_mean = { warn = 0.01, act = 0.02 } }\ntones_O = { tvd_max = { warn = 0.1, act = 9 } }"
    shown = told(tmp_path, measured, target, limits, status, "CMYKO")
    theirs = expected(of_aim, of_reading)
    off = [
        abs(shown["metrics"][group][metric] - value)
        for group, values in theirs.items()
        for metric, value in values.items()
    ]
    assert theirs["solid_C"]["density_mean"] > 0.02
    assert 0.1 < theirs["tones_O"]["tvd_max"] < 9
    said = [reason["message"] for reason in shown["reasons"]]
    assert any(
        each.startswith("mean error of density of solid C: expected at most the action limit 0.02") for each in said
    )
    assert any(each.startswith("largest error of tone value by density of tone scale O") for each in said)
    assert shown["measurement"]["density_status"] == status
    source = f"`check` of spectra, status {status}: densities and tone values by density of five inks, ISO 5-3 products"
    record_deviation(source, len(off), max(off), SAME)


def test_densities_of_an_rgb_chart_are_those_of_the_inks_that_take_its_light(
    tmp_path: Path, published_table: Table, record_deviation: Record
) -> None:
    """The same sheet driven in RGB: red taken away is cyan, seen through the red filter; no amounts, no tone values."""
    table = published_table("iso5_3_density_weights_10nm.csv")
    rows = (DEVICE[:, 3:] == 0).all(axis=1)
    light = np.round(255 * (1 - DEVICE[rows, :3] / 100))
    aim, read = spectra(1.0, 0.55), spectra(1.12, 0.7)
    measured, target = (
        written(tmp_path / f"{name}.txt", side[rows], light, ("RGB_R", "RGB_G", "RGB_B"))
        for name, side in (("read", read), ("aim", aim))
    )
    limits = "solid_C = { density_mean = { warn = 0.01, act = 0.02 } }"
    shown = told(tmp_path, measured, target, limits)["metrics"]
    theirs = expected(*(densities(side, "E", table) for side in (aim, read)))
    wanted = [(group, name) for ink in "CMY" for group in (f"solid_{ink}", f"tones_{ink}") for name in DENSITIES]
    off = [abs(shown[group][name] - theirs[group][name]) for group, name in wanted]
    assert not [name for values in shown.values() for name in values if name.startswith("tv")]
    record_deviation("`check` of an RGB chart's spectra: densities of three inks", len(off), max(off), SAME)


def rows_of(name: str) -> tuple[list[tuple[float, ...]], FloatArray]:
    """CMYK and its mean Lab, in the order of the file, read without our own reader."""
    lines = [line.strip() for line in (DATASETS / f"{name}.txt").read_text(encoding="latin-1").splitlines()]
    rows = np.loadtxt(lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")])
    readings: dict[tuple[float, ...], list[FloatArray]] = {}
    for row in rows:
        readings.setdefault(tuple(row[1:5].tolist()), []).append(row[8:11])
    return list(readings), np.array([np.mean(lab, axis=0) for lab in readings.values()])


def coloraide_of(method: str, **options: float) -> Difference:
    """Its formula takes the numbers as they are when the colours are already in the space it works in."""

    def difference(aim: FloatArray, read: FloatArray) -> FloatArray:
        pairs = zip(aim.tolist(), read.tolist(), strict=True)
        return np.array([Color("lab-d65", a).delta_e(Color("lab-d65", b), method=method, **options) for a, b in pairs])

    return difference


def colour_science_of(method: str, **options: object) -> Difference:
    return lambda aim, read: np.asarray(colour.delta_E(aim, read, method=method, **options), np.float64)


LIBRARIES: dict[tuple[str, str], Difference] = {
    ("de94", "colour-science"): colour_science_of("CIE 1994", textiles=False),
    ("de94", "coloraide"): coloraide_of("94"),
    ("cmc", "colour-science"): colour_science_of("CMC", l=2, c=1),
    ("cmc", "coloraide"): coloraide_of("cmc", l=2, c=1),
}


@pytest.mark.parametrize(("kind", "library"), LIBRARIES)
def test_cie94_and_cmc_of_published_data_are_those_of_two_libraries(
    kind: str, library: str, tmp_path: Path, record_deviation: Record
) -> None:
    limits = f"all = {{ {kind}_mean = {{ warn = 0.1, act = 9 }} }}"
    shown = told(tmp_path, DATASETS / "TR006.txt", DATASETS / "FOGRA39L.txt", limits)
    (cmyk, aim), (other, read) = rows_of("FOGRA39L"), rows_of("TR006")
    where = {each: row for row, each in enumerate(other)}
    values = LIBRARIES[kind, library](aim, read[[where[each] for each in cmyk]])
    device = np.array(cmyk)
    masks = {
        "all": np.ones(len(device), dtype=bool),
        "paper": (device == 0).all(axis=1),
        "solid_C": (device == [100, 0, 0, 0]).all(axis=1),
        "tones_K": (device[:, :3] == 0).all(axis=1) & (device[:, 3] > 0) & (device[:, 3] < 100),
    }
    theirs = {
        group: {
            f"{kind}_mean": values[mask].mean(),
            f"{kind}_median": np.median(values[mask]),
            f"{kind}_p95": np.percentile(values[mask], 95),
            f"{kind}_max": values[mask].max(),
        }
        for group, mask in masks.items()
    }
    off = [
        abs(shown["metrics"][group][metric] - value) for group, each in theirs.items() for metric, value in each.items()
    ]
    words = {"de94": "mean ΔE94 of all patches", "cmc": "mean ΔE CMC(2:1) of all patches"}[kind]
    assert any(reason["message"].startswith(words) for reason in shown["reasons"])
    assert not any(name.startswith({"de94": "cmc", "cmc": "de94"}[kind]) for name in shown["metrics"]["all"])
    name = {"de94": "CIE94", "cmc": "CMC(2:1)"}[kind]
    source = f"`check` of TR 006 against FOGRA39L, {name} of all patches, paper, a solid and a tone scale: {library}"
    record_deviation(source, len(off), float(max(off)), SAME)
