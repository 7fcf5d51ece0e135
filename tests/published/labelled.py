"""Which patches of published charts belong to which group, labelled by hand and never by the program.

The labels were made by reading the printed device values and L*, a*, b* of each file: paper, solids, overprints
and tone scales by their amounts; greys among all patches of cyan, magenta and yellow without black, by how far a* and
b* lie from the straight line between paper (L* 95, b* -2) and black (L* 16, or 15 in TR 006), five units at most.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

PAPER = (1, 1367)
SOLIDS = {"C": (73, 1287), "M": (9, 1307), "Y": (649, 1327), "K": (1260, 1347)}
SECONDARIES = {"R": 657, "G": 721, "B": 81}
TERTIARY = 729
OVERPRINTS_WITH_BLACK = {
    "CK": (100, 0, 0, 100),
    "MK": (0, 100, 0, 100),
    "YK": (0, 0, 100, 100),
    "CMK": (100, 100, 0, 100),
    "CYK": (100, 0, 100, 100),
    "MYK": (0, 100, 100, 100),
    "CMYK": (100, 100, 100, 100),
}
GREYS = {
    "FOGRA39L": (92, 101, 183, 192, 283, 374, 465, 729, 1369, 1370, 1371, 1372, 1373, 1374, 1417, 1428, 1611),
    "TR006": (92, 101, 183, 192, 283, 374, 465, 638, 729, 1370, 1371, 1372, 1373, 1374, 1417, 1428, 1611),
}
"""By the ids of the ISO 12642-2 layout, which both files have."""


def masks(name: str, ids: list[int], device: FloatArray) -> dict[str, Mask]:
    """The labelled groups of a file, each a mask over rows of these ids and CMYK amounts (n, 4)."""
    one = [(device[:, [other for other in range(4) if other != ink]] == 0).all(axis=1) for ink in range(4)]
    tones = {ink: one[place] & (device[:, place] > 0) & (device[:, place] < 100) for place, ink in enumerate("CMYK")}
    black = [np.asarray((device == recipe).all(axis=1)) for recipe in OVERPRINTS_WITH_BLACK.values()]
    named = {
        "all": np.ones(len(ids), dtype=bool),
        "paper": np.isin(ids, PAPER),
        "solids": np.isin(ids, [number for numbers in SOLIDS.values() for number in numbers]),
        "secondaries": np.isin(ids, list(SECONDARIES.values())),
        "tertiaries": np.isin(ids, TERTIARY),
        "overprints": np.isin(ids, [*SECONDARIES.values(), TERTIARY]) | np.logical_or.reduce(black),
        "greys": np.isin(ids, GREYS[name]),
        "tones": np.logical_or.reduce(list(tones.values())),
    }
    named |= {f"solid_{ink}": np.isin(ids, numbers) for ink, numbers in SOLIDS.items()}
    return named | {f"tones_{ink}": mask for ink, mask in tones.items()}
