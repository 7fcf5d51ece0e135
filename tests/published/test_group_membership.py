"""Who belongs to which group, against labels made without the program on published and own charts."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import colour
import numpy as np
import numpy.typing as npt
import pytest

from sentinel.core.scoring.groups import groups
from tests.published.labelled import Label, labels

Record = Callable[[str, int, float, float], None]
FloatArray = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

DATASETS = Path(__file__).parents[1] / "data" / "datasets"
CMYK = ("C", "M", "Y", "K")


def differing(found: Mapping[str, Mask], labelled: Mapping[str, Mask | Label]) -> tuple[int, float]:
    """How many labels there are, and how many are otherwise; a group that no label knows has no patch."""
    counted, wrong = 0, 0
    for name in found.keys() | labelled.keys():
        size = len(found["all"])
        label = labelled.get(name, np.zeros(size, dtype=bool))
        inside, told = label if isinstance(label, Label) else (label, np.ones(size, dtype=bool))
        counted += int(np.count_nonzero(told))
        wrong += int(np.count_nonzero((found.get(name, np.zeros(size, dtype=bool)) != inside) & told))
    return counted, float(wrong)


@pytest.mark.parametrize("name", ["FOGRA39L", "TR006"])
def test_groups_of_published_characterization_data(name: str, record_deviation: Record) -> None:
    """ISO 12642-2 charts as published (where from: tests/data/published/README.md)."""
    lines = [line.strip() for line in (DATASETS / f"{name}.txt").read_text(encoding="latin-1").splitlines()]
    rows = np.loadtxt(lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")])
    ids, device, lab = [int(number) for number in rows[:, 0]], rows[:, 1:5], rows[:, 8:11]
    found = groups(CMYK, device, lab)
    counted = differing(found, labels(ids, device, lab))
    record_deviation(f"Patches of {name} in another group than labelled", *counted, 0)


def test_neutrals_of_a_scale_by_the_formula_of_iso_12647_2(record_deviation: Record) -> None:
    """ISO 12647-2:2013 (from memory): a grey's aim has a* of the paper x (1 - 0.85 x (L*paper - L*) / (L*paper -
    L*black)), b* alike, on a brightened paper; beside each step two casts of 7, in a* and b*, and the same in black."""
    paper, black = np.array([94.0, 1.5, -6.0]), np.array([16.0, 0.0, 0.0])
    device, aim, neutral = [[0, 0, 0, 0], [0, 0, 0, 100]], [paper, black], [False, False]
    for recipe, lightness in (([25, 19, 19], 75.0), ([50, 40, 40], 58.0), ([75, 66, 66], 40.0), ([100, 90, 90], 25.0)):
        fade = 1 - 0.85 * (paper[0] - lightness) / (paper[0] - black[0])
        grey = np.array([lightness, *(paper[1:] * fade)])
        for shift, amounts in (
            ([0, 0, 0], [*recipe, 0]),
            ([0, 7, 0], [*recipe, 0]),
            ([0, 0, -7], [*recipe, 0]),
            ([0, 0, 0], [0, 0, 0, recipe[0] - 1]),
        ):
            device.append(amounts)
            aim.append(grey + shift)
            neutral.append(shift == [0, 0, 0] and amounts[3] == 0)
    found = groups(CMYK, np.array(device, float), np.array(aim))
    found = {name: mask for name, mask in found.items() if name in ("all", "greys")}
    counted = differing(found, {"all": found["all"], "greys": np.array(neutral)})
    record_deviation("Neutrals by ISO 12647-2:2013's grey formula (from memory), and casts beside them", *counted, 0)


RGB_GRID = {
    # by hand: the 27 corners, edge middles, face middles and the centre of the RGB cube, by their device values
    "paper": ["255 255 255"],
    "solids": ["0 255 255", "255 0 255", "255 255 0"],
    "solid_C": ["0 255 255"],
    "solid_M": ["255 0 255"],
    "solid_Y": ["255 255 0"],
    "tones": ["128 255 255", "255 128 255", "255 255 128"],
    "tones_C": ["128 255 255"],
    "tones_M": ["255 128 255"],
    "tones_Y": ["255 255 128"],
    "secondaries": ["255 0 0", "0 255 0", "0 0 255"],
    "tertiaries": ["0 0 0"],
    "overprints": ["255 0 0", "0 255 0", "0 0 255", "0 0 0"],
    "greys": ["128 128 128"],
    "dark": ["0 0 0"],
    "surface": [
        *("0 255 255", "255 0 255", "255 255 0", "255 0 0", "0 255 0", "0 0 255"),
        *("255 128 0", "255 0 128", "128 255 0", "0 255 128", "128 0 255", "0 128 255"),
    ],
}


def test_groups_of_an_rgb_grid(record_deviation: Record) -> None:
    """Its aim is sRGB (IEC 61966-2-1) under D50 by colour-science."""
    device = np.array([[r, g, b] for r in (0, 128, 255) for g in (0, 128, 255) for b in (0, 128, 255)], dtype=float)
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    aim = np.asarray(colour.XYZ_to_Lab(colour.sRGB_to_XYZ(device / 255, illuminant=white), white), np.float64)
    names = [" ".join(f"{value:.0f}" for value in row) for row in device]
    found = groups(("R", "G", "B"), device, aim)
    labelled = {group: np.isin(names, members) for group, members in {"all": names, **RGB_GRID}.items()}
    record_deviation(
        "Patches of a grid of 27 sRGB colours in another group than labelled by hand", *differing(found, labelled), 0
    )


SEVEN = ("C", "M", "Y", "K", "O", "G", "V")
N_CHANNEL = [
    # invented: amounts of seven inks, L* a* b*, and the groups by hand
    ([0, 0, 0, 0, 0, 0, 0], (95, 0, -3), "paper"),
    ([100, 0, 0, 0, 0, 0, 0], (55, -37, -50), "solids solid_C surface"),
    ([0, 0, 0, 100, 0, 0, 0], (15, 0, 0), "solids solid_K dark"),
    ([0, 0, 0, 0, 100, 0, 0], (65, 60, 80), "solids solid_O surface spot"),
    ([0, 0, 0, 0, 0, 100, 0], (58, -70, 30), "solids solid_G surface spot"),
    ([0, 0, 0, 0, 0, 0, 100], (25, 45, -55), "solids solid_V surface spot"),
    ([0, 0, 0, 0, 40, 0, 0], (82, 25, 35), "tones tones_O spot"),
    ([0, 0, 0, 0, 15, 0, 0], (90, 9, 12), "tones tones_O spot highlights"),
    ([0, 100, 0, 0, 100, 0, 0], (47, 72, 50), "overprints secondaries surface spot"),
    ([100, 0, 0, 0, 0, 100, 0], (45, -60, -10), "overprints secondaries surface spot"),
    ([100, 0, 0, 0, 0, 100, 100], (20, -5, -25), "overprints tertiaries spot dark"),
    ([50, 40, 40, 0, 0, 0, 0], (58, 0.4, -1.5), "greys"),
    ([50, 40, 40, 0, 5, 0, 0], (57, 0.4, -1.5), "spot"),
    ([8, 45, 50, 0, 0, 0, 0], (68, 18, 20), "skin"),
    ([0, 0, 0, 85, 0, 0, 0], (33, 0, 0), "tones tones_K dark"),
]


TRACE_OF_ORANGE = 12


@pytest.mark.parametrize("numbered", [False, True])
def test_groups_of_a_chart_of_seven_inks(numbered: bool, record_deviation: Record) -> None:
    """Numbered channels keep every group that needs no name: which inks are extra is not told by a number."""
    inks = tuple(f"7CLR_{place}" for place in range(1, 8)) if numbered else SEVEN
    device = np.array([amounts for amounts, _, _ in N_CHANNEL], dtype=float)
    aim = np.array([lab for _, lab, _ in N_CHANNEL], dtype=float)
    called = dict(zip(SEVEN, inks, strict=True))
    names = sorted({name for _, _, said in N_CHANNEL for name in said.split()})
    told = np.ones(len(N_CHANNEL), dtype=bool)
    labelled = {name: Label(np.array([name in said.split() for _, _, said in N_CHANNEL]), told) for name in names}
    labelled["all"] = Label(told, told)
    if numbered:  # which inks are extra is not told by a number: a trace of orange in a grey may be of any
        del labelled["spot"]
        labelled["greys"] = Label(labelled["greys"].inside, np.arange(len(N_CHANNEL)) != TRACE_OF_ORANGE)
        labelled = {
            "_".join(called.get(part, part) for part in name.split("_")): label for name, label in labelled.items()
        }
    found = groups(inks, device, aim)
    kind = "numbered" if numbered else "named"
    record_deviation(
        f"Patches of an own chart of seven {kind} inks in another group than labelled", *differing(found, labelled), 0
    )
