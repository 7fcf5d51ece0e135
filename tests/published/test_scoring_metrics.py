"""Every figure over groups of published data, against plain numpy and two colour libraries.

TR 006 against FOGRA39L (where they are from: tests/data/published/README.md), Lab as given, repeated patches averaged
by CMYK on both sides. Which patches a group holds was labelled by hand (tests/published/labelled.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import colour
import numpy as np
import numpy.typing as npt
import pytest
from coloraide import Color

from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import measurements, read
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import GroupFigures, figures_of
from sentinel.core.scoring.policy import ScoringOptions
from tests.published.labelled import Mask, labels

Record = Callable[..., None]
FloatArray = npt.NDArray[np.float64]
Lengths = Callable[[FloatArray, FloatArray], FloatArray]

DATASETS = Path(__file__).parents[1] / "data" / "datasets"
SHARE_BEYOND = 1.5
GROUPS = 18
SAME = 1e-9
D50 = np.array([96.422, 100.0, 82.521])
"""ASTM E308, 2 degrees."""


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """Id of the first reading, device values, X, Y, Z and L*, a*, b* of aim and reading, one row a patch."""

    ids: list[int]
    device: FloatArray
    aim_xyz: FloatArray
    read_xyz: FloatArray
    aim_lab: FloatArray
    read_lab: FloatArray


def plain(name: str) -> dict[tuple[float, ...], FloatArray]:
    """Id, X, Y, Z, L*, a*, b* by CMYK, read without our own reader; of several ids the first."""
    lines = [line.strip() for line in (DATASETS / f"{name}.txt").read_text(encoding="latin-1").splitlines()]
    fields = lines[lines.index("BEGIN_DATA_FORMAT") + 1].split()
    assert fields[1:] == [
        "CMYK_C",
        "CMYK_M",
        "CMYK_Y",
        "CMYK_K",
        *(f"XYZ_{x}" for x in "XYZ"),
        "LAB_L",
        "LAB_A",
        "LAB_B",
    ]
    rows = np.loadtxt(lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")])
    readings: dict[tuple[float, ...], list[FloatArray]] = {}
    for row in rows:
        readings.setdefault(tuple(row[1:5].tolist()), []).append(row[[0, *range(5, 11)]])
    return {cmyk: np.array([values[0][0], *np.mean(values, axis=0)[1:]]) for cmyk, values in readings.items()}


@pytest.fixture(scope="module")
def pairs() -> Pairs:
    aims, reads = plain("FOGRA39L"), plain("TR006")
    assert list(aims) == [cmyk for cmyk in aims if cmyk in reads]
    aim, sample = np.array(list(aims.values())), np.array([reads[cmyk] for cmyk in aims])
    ids = [int(number) for number in aim[:, 0]]
    return Pairs(ids, np.array(list(aims)), aim[:, 1:4], sample[:, 1:4], aim[:, 4:], sample[:, 4:])


def labelled(pairs: Pairs) -> dict[str, Mask]:
    """The groups of the aim but greys and skin, where some patches may be either."""
    found = {
        group: label.inside
        for group, label in labels(pairs.ids, pairs.device, pairs.aim_lab).items()
        if label.told.all() and group not in ("greys", "skin")
    }
    assert len(found) == GROUPS
    return found


def ours(*, xyz: bool = False) -> GroupFigures:
    """Through our own reader and matching."""
    aim, sample = (_dataset(name, xyz) for name in ("FOGRA39L", "TR006"))
    return figures_of(match(aim, sample), ScoringOptions(share_beyond=SHARE_BEYOND))


def _dataset(name: str, xyz: bool) -> Measurement:
    [found] = measurements(read((DATASETS / f"{name}.txt").read_bytes()))
    return replace(found, lab=None) if xyz else found


def by_colour_science(target: FloatArray, sample: FloatArray) -> FloatArray:
    return np.asarray(colour.delta_E(target, sample, method="CIE 2000"), np.float64)


def by_coloraide(target: FloatArray, sample: FloatArray) -> FloatArray:
    """Its formula takes the numbers as they are when the colours are already in the space it works in."""
    rows = zip(target.tolist(), sample.tolist(), strict=True)
    return np.array([Color("lab-d65", a).delta_e(Color("lab-d65", b), method="2000") for a, b in rows])


def four(kind: str, values: FloatArray) -> dict[str, float]:
    return {
        f"{kind}_mean": float(np.mean(values)),
        f"{kind}_median": float(np.median(values)),
        f"{kind}_p95": float(np.percentile(values, 95, method="linear")),
        f"{kind}_max": float(np.max(values)),
    }


def worst_deviation(found: GroupFigures, theirs: dict[str, dict[str, float]]) -> tuple[int, float]:
    """How many figures of `theirs` there are, and the farthest ours lies from one."""
    off = [
        abs(found.metrics[group][metric] - value)
        for group, values in theirs.items()
        for metric, value in values.items()
    ]
    return len(off), max(off)


@pytest.mark.parametrize(
    ("library", "difference"), [("colour-science", by_colour_science), ("coloraide", by_coloraide)]
)
def test_ciede2000_figures_of_every_group(
    pairs: Pairs, library: str, difference: Lengths, record_deviation: Record
) -> None:
    de = difference(pairs.aim_lab, pairs.read_lab)
    theirs = {
        group: {**four("de00", de[mask]), "de00_share": float(np.mean(de[mask] > SHARE_BEYOND))}
        for group, mask in labelled(pairs).items()
    }
    source = f"Mean, median, 95th percentile, maximum and share beyond 1.5 of ΔE00, {GROUPS} groups: numpy on {library}"
    record_deviation(source, *worst_deviation(ours(), theirs), SAME)


def test_lengths_and_signed_means_of_every_group(pairs: Pairs, record_deviation: Record) -> None:
    """ΔE*ab by colour-science; ΔCh and the signed means from their definitions."""
    delta = pairs.read_lab - pairs.aim_lab
    de76 = np.asarray(colour.delta_E(pairs.aim_lab, pairs.read_lab, method="CIE 1976"), np.float64)
    chroma = [colour.models.Jab_to_JCh(lab)[:, 1] for lab in (pairs.aim_lab, pairs.read_lab)]
    theirs = {
        group: {
            **four("de76", de76[mask]),
            **four("dch", np.sqrt(delta[mask, 1] ** 2 + delta[mask, 2] ** 2)),
            **{f"d{part}_mean": float(delta[mask, column].mean()) for column, part in enumerate("lab")},
            "dc_mean": float((chroma[1] - chroma[0])[mask].mean()),
        }
        for group, mask in labelled(pairs).items()
    }
    source = f"ΔE*ab, ΔCh, mean ΔL*, Δa*, Δb*, ΔC*ab, {GROUPS} groups: numpy on colour-science"
    record_deviation(source, *worst_deviation(ours(), theirs), SAME)


def test_figures_relative_to_paper(pairs: Pairs, record_deviation: Record) -> None:
    """X, Y, Z of the reading by the ratio of the two papers, as ISO 15076-1 scales to the medium; colour-science."""
    paper = (pairs.device == 0).all(axis=1)
    white = colour.XYZ_to_xy(D50)
    scaled = pairs.read_xyz * pairs.aim_xyz[paper].mean(axis=0) / pairs.read_xyz[paper].mean(axis=0)
    aim, sample = (np.asarray(colour.XYZ_to_Lab(xyz / 100, white), np.float64) for xyz in (pairs.aim_xyz, scaled))
    relative = by_colour_science(aim, sample)
    theirs = {group: four("rel_de00", relative[mask]) for group, mask in labelled(pairs).items()}
    assert float(np.abs(relative - by_colour_science(pairs.aim_lab, pairs.read_lab)).max()) > 0.05
    source = f"ΔE00 relative to bare stock, {GROUPS} groups: X, Y, Z scaled apart, then colour-science"
    record_deviation(source, *worst_deviation(ours(xyz=True), theirs), SAME)


def test_the_worst_ten_patches(pairs: Pairs, record_deviation: Record) -> None:
    """By the ids of their first reading in FOGRA39L."""
    lines = (DATASETS / "FOGRA39L.txt").read_text(encoding="ascii").splitlines()
    rows = np.loadtxt(lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")])
    first: dict[tuple[float, ...], str] = {}
    for row in rows:
        first.setdefault(tuple(row[1:5].tolist()), str(int(row[0])))
    de = by_colour_science(pairs.aim_lab, pairs.read_lab)
    order = np.argsort(-de)[:10]
    found = ours().worst
    assert [patch.label for patch in found] == [first[tuple(pairs.device[row].tolist())] for row in order]
    worst = max(abs(patch.de00 - de[row]) for patch, row in zip(found, order, strict=True))
    record_deviation("ΔE00 of the ten worst patches, by name: colour-science", 10, float(worst), SAME)
