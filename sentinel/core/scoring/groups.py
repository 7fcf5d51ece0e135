"""What part a patch plays, told from its device values and the aim's colour, never from its id: layouts renumber."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement import Chart
from sentinel.core.message import msg
from sentinel.core.scoring.expression import Expression
from sentinel.core.scoring.policy import InkSet, ScoringOptions
from sentinel.core.verdict import Code, Unscored

Mask = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.intp]

FULL_INK = 100.0
FULL_RGB = 255.0
BLACKS = ("K", "PK", "MK")
"""Black, photo black and matte black: the names the trade writes for them (common practice, no published source)."""
COLOURS = ("C", "M", "Y")
PROCESS = (*COLOURS, *BLACKS)

END = 0.005
"""Per cent from nothing, or from all, that are the end of a scale: exports round to 0.001 and 99.999."""

# Where a tint is light and where a patch is dark is common practice, no published source.
HIGHLIGHT_INK = 20.0
DARK_TOTAL = 250.0
DARK_BLACK = 80.0
DARK_LIGHTNESS = 50.0
DARK_RGB = 74.9
"""Per cent of light taken away in each of R, G and B: 64 of 255 and less are left."""

NEUTRAL = 5.0
"""How far in a*, b* from the line between paper and black a patch still counts as neutral: about where a cast is seen
beside a true grey (common practice, no published source)."""
BLACK_LIGHTNESS, BLACK_CHROMA = 40.0, 12.0
"""A solid at most so light and so coloured is a black (common practice)."""
SKIN_LIGHTNESS, SKIN_CHROMA, SKIN_HUE = (30.0, 85.0), (10.0, 40.0), (35.0, 75.0)
"""L*, C*ab and hue angle in degrees between which skin lies, light and dark (common practice, no published source)."""

_FAMILY = re.compile(
    r"(?:VIVID|V|LIGHT|LT|L|PALE|PHOTO|P)*(?:(?P<C>C|CYAN)|(?P<M>M|MAGENTA)|(?P<Y>Y|YELLOW))(?:LIGHT|LT|L|PALE)*\d?"
    r"|(?:V|LIGHT|LT|L|PALE|PHOTO|P|MATT?E?|M)*(?P<K>K|BK|BLACK|GY|GR[AE]Y|GR[AE]YK)(?:LIGHT|LT|L|PALE)*\d?"
)
"""Inks and their light sisters as the trade writes them, letters and digits alone (common practice)."""
_CHANNEL = re.compile(r"\d{1,2}CLR_(\d{1,2})")
_LIGHT_TAKEN = {"R": "C", "G": "M", "B": "Y"}


def named_inks(inks: tuple[str, ...], names: tuple[str, ...]) -> tuple[str, ...]:
    """The inks of a chart with the channels of an n-channel one called by the names its printer's inks have."""
    channels = [int(found[1]) if (found := _CHANNEL.fullmatch(ink)) else 0 for ink in inks]
    return tuple(
        names[channel - 1] if 0 < channel <= len(names) else ink for ink, channel in zip(inks, channels, strict=True)
    )


def laid_inks(inks: tuple[str, ...]) -> tuple[str, ...]:
    """The inks that groups are named by: of an RGB chart cyan, magenta and yellow, which take its light away."""
    return tuple(_LIGHT_TAKEN[ink] for ink in inks) if set(inks) == _LIGHT_TAKEN.keys() else inks


def exact_ends(amounts: FloatArray, full: float) -> FloatArray:
    """Amounts as they are, but none and all of it exact; the ends are within `END` per cent of `full`."""
    near = END / 100 * full
    return np.where(abs(amounts) <= near, 0.0, np.where(abs(amounts - full) <= near, full, amounts))


def groups(
    inks: tuple[str, ...],
    device: FloatArray,
    aim: FloatArray | None = None,
    labels: Sequence[str] = (),
    reckoning: ScoringOptions | None = None,
    ids: Sequence[str] = (),
) -> dict[str, Mask]:
    """The groups of patches that metrics and limits name, each a mask (n,) over `device` (n, inks).

    `aim` (n, 3) are their colours as L*, a*, b* under D50: they say what is neutral, skin, and black; without them, and
    where one is NaN, a patch is in no such group. RGB counts as cyan, magenta and yellow, light taken away. `labels`
    are the patches' names, or their ids like `ids`, for groups of the print room's own. A group without a patch is left
    out, and a patch with an unknown amount plays no part but that of being there.
    """
    rules = reckoning or ScoringOptions()
    called = named_inks(inks, rules.ink_names)
    masks: dict[str, Mask] = {"all": np.ones(len(device), dtype=bool)}
    if called:
        masks |= _Chart.of(called, device, aim).groups()
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
    device = exact_ends(device, FULL_INK if laid_inks(inks) == inks else FULL_RGB)
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


def families(inks: tuple[str, ...]) -> tuple[str | None, ...]:
    """C, M, Y or K for each process ink or light one of its kind, such as `LC` or `light-grey`; None for any other.

    `CL` is clear ink, unless `ML` stands beside it.
    """
    bare = [re.sub(r"[^A-Z0-9]", "", ink.upper()) for ink in inks]
    found = [None if ink == "CL" and "ML" not in bare else _FAMILY.fullmatch(ink) for ink in bare]
    return tuple(each.lastgroup if each else None for each in found)


@dataclass(frozen=True, slots=True, eq=False)
class _Chart:
    """`amounts` (n, channels) in per cent with exact ends, `families` those of the `inks`, `aim` (n, 3)."""

    inks: tuple[str, ...]
    families: tuple[str | None, ...]
    amounts: FloatArray
    aim: FloatArray
    of_light: bool

    @classmethod
    def of(cls, inks: tuple[str, ...], device: FloatArray, aim: FloatArray | None) -> _Chart:
        """RGB becomes the cyan, magenta and yellow that take away red, green and blue."""
        names = laid_inks(inks)
        of_light = names != inks
        amounts = exact_ends((1 - device / FULL_RGB) * 100 if of_light else device, FULL_INK)
        colours = np.full((len(device), 3), np.nan) if aim is None else aim
        return cls(names, families(names), amounts, colours, of_light)

    def groups(self) -> dict[str, Mask]:
        """Every group but `all`, those without a patch too."""
        used, full = (self.amounts > 0).sum(axis=1), (self.amounts >= FULL_INK).sum(axis=1)
        blacks = self._blacks(used, full)
        black, coloured = self.amounts[:, blacks].sum(axis=1), self.amounts[:, ~blacks] > 0
        overprints = (full >= 2) & (used == full)
        masks: dict[str, Mask] = {
            "paper": used == 0,
            "solids": (full == 1) & (used == 1),
            "tones": (full == 0) & (used == 1),
            "overprints": overprints,
            "secondaries": overprints & (used == 2) & (black == 0),
            "tertiaries": overprints & (used >= 3) & (black == 0),
            "dark": self._dark(black),
            "highlights": (used > 0) & (self.amounts.max(axis=1) <= HIGHLIGHT_INK),
            "surface": (full >= 1) & (used < len(self.inks)) & (black == 0) & (used <= 2),
        }
        masks["greys"] = self._neutral(masks["paper"], self._black_patch(blacks, full, used)) & self._composed(
            black, coloured
        )
        masks["skin"] = self._skin() & (used >= 2)
        if {"C", "M", "Y"} <= set(self.families) and None in self.families:
            extra = [column for column, own in enumerate(self.families) if own is None]
            masks["spot"] = np.asarray((self.amounts[:, extra] > 0).any(axis=1))
        for column, ink in enumerate(self.inks):
            masks[f"solid_{ink}"] = masks["solids"] & (self.amounts[:, column] > 0)
            masks[f"tones_{ink}"] = masks["tones"] & (self.amounts[:, column] > 0)
        return masks

    def _blacks(self, used: Counts, full: Counts) -> Mask:
        """Which channels are black or grey inks (channels,): by their names, else by the colours of their solids."""
        named = np.array([own == "K" for own in self.families])
        if any(own is not None for own in self.families):
            return named
        solids = (full == 1) & (used == 1)
        dark = (self.aim[:, 0] <= BLACK_LIGHTNESS) & (np.hypot(self.aim[:, 1], self.aim[:, 2]) <= BLACK_CHROMA)
        return np.asarray(((self.amounts > 0) & (solids & dark)[:, None]).any(axis=0))

    def _dark(self, black: FloatArray) -> Mask:
        """By the weight of ink, or by black, unless it is a light black as the aim's lightness tells."""
        heavy = self.amounts.min(axis=1) >= DARK_RGB if self.of_light else self.amounts.sum(axis=1) >= DARK_TOTAL
        return np.asarray(heavy | ((black >= DARK_BLACK) & ~(self.aim[:, 0] > DARK_LIGHTNESS)))

    def _composed(self, black: FloatArray, coloured: Mask) -> Mask:
        """Made of cyan, magenta and yellow of whatever lightness and nothing else, short of all light taken away.

        Of channels without a name: of three or more that are not black.
        """
        own = [of for of in self.families if of != "K"]
        if any(self.families):
            kinds = [np.asarray(coloured[:, [of == kind for of in own]].any(axis=1)) for kind in "CMY"]
            alone = ~coloured[:, [of is None for of in own]].any(axis=1)
            three = kinds[0] & kinds[1] & kinds[2] & alone
        else:
            three = coloured.sum(axis=1) >= 3
        return np.asarray(three & (black == 0) & ~(self.of_light & (self.amounts.min(axis=1) >= FULL_INK)))

    def _black_patch(self, blacks: Mask, full: Counts, used: Counts) -> Mask:
        """The solid of the black ink; in RGB all light taken away."""
        if self.of_light:
            return np.asarray(full == len(self.inks))
        return np.asarray((full == 1) & (used == 1) & (self.amounts[:, blacks] >= FULL_INK).any(axis=1))

    def _neutral(self, paper: Mask, black: Mask) -> Mask:
        """Near the line that leads from the paper's colour to the black's, or to no colour at all where one lacks."""
        white, deep = self._colour(paper, (100.0, 0.0, 0.0)), self._colour(self._darkest(black), (0.0, 0.0, 0.0))
        up = (self.aim[:, 0] - deep[0]) / max(white[0] - deep[0], 1.0)
        line = deep[1:] + np.clip(up, 0.0, 1.0)[:, None] * (white[1:] - deep[1:])
        return np.asarray(np.hypot(*(self.aim[:, 1:] - line).T) <= NEUTRAL)

    def _darkest(self, patches: Mask) -> Mask:
        """Those of the darkest colour: a light black is none."""
        lightness = np.where(patches, self.aim[:, 0], np.nan)
        return np.asarray(lightness <= np.fmin.reduce(lightness, initial=np.inf) + 1.0)

    def _colour(self, patches: Mask, otherwise: tuple[float, float, float]) -> FloatArray:
        found = self.aim[patches & ~np.isnan(self.aim).any(axis=1)]
        return found.mean(axis=0) if len(found) else np.array(otherwise)

    def _skin(self) -> Mask:
        lightness, a, b = self.aim.T
        hue, chroma = np.degrees(np.arctan2(b, a)), np.hypot(a, b)
        each = ((lightness, SKIN_LIGHTNESS), (chroma, SKIN_CHROMA), (hue, SKIN_HUE))
        return np.asarray(np.logical_and.reduce([(values >= low) & (values <= high) for values, (low, high) in each]))


def refuse_wrong_inks(chart: Chart, expected: InkSet) -> None:
    """Raises Unscored where the chart lays an ink this stock leaves out, or never one that it takes.

    Nothing is refused where the printer's inks are not told, nor for an RGB chart.
    """
    called = named_inks(chart.inks, expected.inks)
    if not expected.inks or not called or set(called) <= {"R", "G", "B"}:
        return
    laid = exact_ends(chart.device, FULL_INK) > 0
    used = {ink for column, ink in enumerate(called) if laid[:, column].any()}
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
