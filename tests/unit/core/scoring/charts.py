"""Charts to find roles on: published, and invented ones of other inks."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import measurements, read
from sentinel.core.scoring.groups import Mask
from tests.unit.core.builders import FloatArray

DATASETS = Path(__file__).parents[3] / "data" / "datasets"
SEVEN = ("C", "M", "Y", "K", "O", "G", "V")
STEPS = (10, 20, 40, 60, 80)


def fogra39l_rows() -> FloatArray:
    """Ids, CMYK, XYZ and Lab of FOGRA39L (1617, 11), read without our own reader."""
    lines = (DATASETS / "FOGRA39L.txt").read_text(encoding="ascii").splitlines()
    return np.loadtxt(lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")])


def ids_by_group(masks: Mapping[str, Mask], ids: FloatArray) -> dict[str, list[int]]:
    return {name: [int(number) for number in ids[mask]] for name, mask in masks.items()}


def exported(fields: list[str], device: FloatArray) -> Measurement:
    """What our reader makes of a chart with these device values, every patch of one colour."""
    lines = [
        "CGATS.17",
        "BEGIN_DATA_FORMAT",
        " ".join(["SAMPLE_ID", *fields, "LAB_L LAB_A LAB_B"]),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(device)}",
        "BEGIN_DATA",
        *(" ".join([str(row), *map(str, values), "50 0 0"]) for row, values in enumerate(device.tolist(), 1)),
        "END_DATA",
    ]
    [found] = measurements(read("\n".join([*lines, ""]).encode()))
    return found


def rgb_chart() -> Measurement:
    """Nine levels of each channel, 729 patches."""
    levels = [0, 32, 64, 96, 128, 160, 204, 230, 255]
    device = np.array(list(itertools.product(levels, repeat=3)), dtype=float)
    return exported(["RGB_R", "RGB_G", "RGB_B"], device)


def seven_channel_device() -> FloatArray:
    """Paper, tone scales and solids of seven inks, all pairs of full inks, and greys of the first three: (n, 7)."""
    unit = np.eye(7)
    scales = [step * unit[ink] for ink in range(7) for step in (*STEPS, 100)]
    pairs = [100 * (unit[one] + unit[other]) for one, other in itertools.combinations(range(7), 2)]
    greys = [np.array([*grey, 0, 0, 0, 0]) for grey in ([10, 6, 6], [50, 40, 40], [75, 64, 64])]
    dark = [np.array([80, 70, 70, 60, 0, 0, 0]), np.array([80, 70, 70, 0, 0, 40, 0])]
    return np.array([np.zeros(7), *scales, *pairs, *greys, *dark])


def seven_channel_chart(order: tuple[int, ...] = tuple(range(7))) -> Measurement:
    """The same in a file that numbers its channels; `order` says which ink each channel lays."""
    fields = [f"7CLR_{channel}" for channel in range(1, 8)]
    return exported(fields, seven_channel_device()[:, order])
