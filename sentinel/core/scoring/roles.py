"""What part a patch plays, told from its device values alone, never from its id: layouts and exports renumber."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sentinel.core.cgats.document import FloatArray

Mask = npt.NDArray[np.bool_]

FULL_INK = 100.0
FULL_RGB = 255.0

# Cyan of grey patches and the magenta = yellow that goes with it, after the greys of ISO 12642-2 charts (read off
# published data: 10/6/6 to 100/85/85) and those of ISO 12647-2 (25/19/19, 50/40/40, 75/64/64; from memory).
GREY_CYAN = np.array([0.0, 10.0, 20.0, 40.0, 60.0, 80.0, 100.0])
GREY_LEAST = np.array([0.0, 6.0, 12.0, 27.0, 45.0, 65.0, 85.0])
GREY_MOST = np.array([0.0, 8.0, 15.5, 31.5, 50.0, 69.0, 85.0])
GREY_SLACK = 1.0


def groups(inks: tuple[str, ...], device: FloatArray) -> dict[str, Mask]:
    """The groups of patches that metrics and limits name, each a mask (n,) over `device` (n, inks).

    Ink amounts are in percent, RGB in 0 to 255 (255/255/255 is paper). A group without a patch is left out.
    """
    masks: dict[str, Mask] = {"all": np.ones(len(device), dtype=bool)}
    if set(inks) == {"R", "G", "B"}:
        masks["paper"] = np.asarray((device >= FULL_RGB).all(axis=1))
        equal: Mask = device.max(axis=1) == device.min(axis=1)
        masks["greys"] = equal & (device[:, 0] > 0) & (device[:, 0] < FULL_RGB)
    elif inks:
        masks["paper"] = np.asarray((device == 0).all(axis=1))
        masks["solids"] = ((device >= FULL_INK).sum(axis=1) == 1) & ((device > 0).sum(axis=1) == 1)
        masks["greys"] = _ink_greys(inks, device)
    return {name: mask for name, mask in masks.items() if mask.any()}


def _ink_greys(inks: tuple[str, ...], device: FloatArray) -> Mask:
    """Greys composed of cyan, magenta and yellow without any other ink."""
    if not {"C", "M", "Y"} <= set(inks):
        return np.zeros(len(device), dtype=bool)
    c, m, y = (device[:, inks.index(ink)] for ink in "CMY")
    others = [column for column, ink in enumerate(inks) if ink not in "CMY"]
    least = np.interp(c, GREY_CYAN, GREY_LEAST) - GREY_SLACK
    most = np.interp(c, GREY_CYAN, GREY_MOST) + GREY_SLACK
    balanced = (abs(m - y) <= GREY_SLACK) & (m >= least) & (m <= most) & (m > 0)
    grey: Mask = (c > 0) & balanced & (device[:, others] == 0).all(axis=1)
    return grey
