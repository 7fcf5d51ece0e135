"""What part a patch plays, told from its device values alone, never from its id: layouts and exports renumber."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement import Chart
from sentinel.core.message import msg
from sentinel.core.scoring.expression import Expression
from sentinel.core.scoring.policy import InkSet, ScoringOptions
from sentinel.core.verdict import Code, Unscored

Mask = npt.NDArray[np.bool_]

FULL_INK = 100.0
FULL_RGB = 255.0
COLOURS = ("C", "M", "Y")
BLACKS = ("K", "PK", "MK")
"""Black, photo black and matte black: the names the trade writes for them (common practice, no published source)."""
PROCESS = (*COLOURS, *BLACKS)

# Where a tint is light and where a patch is dark is common practice, no published source.
HIGHLIGHT_INK = 20.0
DARK_TOTAL = 250.0
DARK_BLACK = 80.0
DARK_RGB = 64.0

# Cyan of grey patches and the magenta = yellow that goes with it, after the greys of ISO 12642-2 charts (read off
# published data: 10/6/6 to 100/85/85) and those of ISO 12647-2 (25/19/19, 50/40/40, 75/64/64; from memory).
GREY_CYAN = np.array([0.0, 10.0, 20.0, 40.0, 60.0, 80.0, 100.0])
GREY_LEAST = np.array([0.0, 6.0, 12.0, 27.0, 45.0, 65.0, 85.0])
GREY_MOST = np.array([0.0, 8.0, 15.5, 31.5, 50.0, 69.0, 85.0])
GREY_SLACK = 1.0

_CHANNEL = re.compile(r"\d{1,2}CLR_(\d{1,2})")


def named_inks(inks: tuple[str, ...], names: tuple[str, ...]) -> tuple[str, ...]:
    """The inks of a chart with the channels of an n-channel one called by the names its printer's inks have."""
    channels = [int(found[1]) if (found := _CHANNEL.fullmatch(ink)) else 0 for ink in inks]
    return tuple(
        names[channel - 1] if 0 < channel <= len(names) else ink for ink, channel in zip(inks, channels, strict=True)
    )


def groups(
    inks: tuple[str, ...],
    device: FloatArray,
    aim: FloatArray | None = None,
    labels: Sequence[str] = (),
    reckoning: ScoringOptions | None = None,
    ids: Sequence[str] = (),
) -> dict[str, Mask]:
    """The groups of patches that metrics and limits name, each a mask (n,) over `device` (n, inks) and `aim` (n, 3), L*, a*, b*.

    `labels` are the patches' names, or their ids like `ids`, for groups of the print room's own. A group without a
    patch is left out, and a patch with an unknown amount plays no part but that of being there.
    """
    rules = reckoning or ScoringOptions()
    called = named_inks(inks, rules.ink_names)
    masks: dict[str, Mask] = {"all": np.ones(len(device), dtype=bool)}
    if set(called) == {"R", "G", "B"}:
        masks |= _of_rgb(device)
    elif called:
        masks |= _of_inks(called, device)
    unknown = np.isnan(device).any(axis=1)
    if unknown.any():
        masks = {name: mask if name == "all" else mask & ~unknown for name, mask in masks.items()}
    for name, own in rules.own_groups.items():
        masks[name] = np.zeros(len(device), dtype=bool)
        for called_so in (labels, ids) if own.names else ():
            if called_so:
                masks[name] = masks[name] | np.isin(np.array(called_so), own.names)
        if own.where is not None:
            masks[name] = masks[name] | _fulfilling(Expression(own.where), called, device)
    return {name: mask for name, mask in masks.items() if mask.any()}


def _fulfilling(condition: Expression, inks: tuple[str, ...], device: FloatArray) -> Mask:
    """The patches that fulfil a condition; none where it names an ink the chart does not have."""
    if not inks:
        return np.zeros(len(device), dtype=bool)
    values = {
        **{ink: device[:, column] for column, ink in enumerate(inks)},
        **{f"ink{column + 1}": device[:, column] for column in range(len(inks))},
        "total": device.sum(axis=1),
        "most": device.max(axis=1),
        "least": device.min(axis=1),
        "used": (device > 0).sum(axis=1),
    }
    if not condition.names <= values.keys():
        return np.zeros(len(device), dtype=bool)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.array(np.broadcast_to(condition(values), (len(device),)), dtype=bool)


def _of_rgb(device: FloatArray) -> dict[str, Mask]:
    most, least = device.max(axis=1), device.min(axis=1)
    paper: Mask = least >= FULL_RGB
    return {
        "paper": paper,
        "greys": (most == least) & (least > 0) & ~paper,
        "dark": most <= DARK_RGB,
        "highlights": (least >= FULL_RGB * (1 - HIGHLIGHT_INK / 100)) & ~paper,
        "surface": (most >= FULL_RGB) & (least <= 0),
    }


def _of_inks(inks: tuple[str, ...], device: FloatArray) -> dict[str, Mask]:
    used, full = (device > 0).sum(axis=1), (device >= FULL_INK).sum(axis=1)
    most, total = device.max(axis=1), device.sum(axis=1)
    black = device[:, [column for column, ink in enumerate(inks) if ink in BLACKS]].sum(axis=1)
    extra = [column for column, ink in enumerate(inks) if ink not in PROCESS]
    named_process = set(COLOURS) <= set(inks)
    masks: dict[str, Mask] = {
        "paper": used == 0,
        "solids": (full == 1) & (used == 1),
        "tones": (full == 0) & (used == 1),
        "overprints": (full >= 2) & (used == full),
        "greys": _greys(inks, device),
        "dark": (total >= DARK_TOTAL) | (black >= DARK_BLACK),
        "highlights": (used > 0) & (most <= HIGHLIGHT_INK),
        "surface": (full >= 1) & (used < len(inks)) & (black == 0) & (used <= 2),
    }
    if named_process and extra:
        masks["spot"] = np.asarray((device[:, extra] > 0).any(axis=1))
    for column, ink in enumerate(inks):
        masks[f"solid_{ink}"] = masks["solids"] & (device[:, column] > 0)
        masks[f"tones_{ink}"] = masks["tones"] & (device[:, column] > 0)
    return masks


def _greys(inks: tuple[str, ...], device: FloatArray) -> Mask:
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


def refuse_wrong_inks(chart: Chart, expected: InkSet) -> None:
    """Raises Unscored where the chart lays an ink this stock leaves out, or never one that it takes.

    Nothing is refused where the printer's inks are not told, nor for an RGB chart.
    """
    called = named_inks(chart.inks, expected.inks)
    if not expected.inks or not called or set(called) <= {"R", "G", "B"}:
        return
    used = {ink for column, ink in enumerate(called) if (chart.device[:, column] > 0).any()}
    if unwanted := sorted(used & expected.left_out):
        raise Unscored(
            Code.INK_UNEXPECTED,
            msg("expected a chart without {inks}, which this stock leaves out, got it", inks=", ".join(unwanted)),
        )
    if lacking := [ink for ink in expected.inks if ink not in used | expected.left_out]:
        raise Unscored(
            Code.INK_MISSING,
            msg(
                "expected a chart of {inks}, got one without {lacking}",
                inks=" ".join(ink for ink in expected.inks if ink not in expected.left_out),
                lacking=", ".join(lacking),
            ),
        )
