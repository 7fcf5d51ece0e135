"""Figures over groups of patches: differences, tone errors, uniformity; each patch computed once for all."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import cmc, dch, de00, de76, de94
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz, xyz_from_lab
from sentinel.core.scoring.averaging import Counts
from sentinel.core.scoring.groups import Mask, laid_inks, named_inks
from sentinel.core.scoring.ink_figures import density_figures, tone_figures
from sentinel.core.scoring.matching import Match
from sentinel.core.scoring.membership import groups_of
from sentinel.core.scoring.policy import Limits, ScoringOptions, beyond


def percentile(ordered: FloatArray, percent: float) -> float:
    """The percentile of values in rising order by numpy's linear rule (definition 7 of Hyndman and Fan, 1996)."""
    place = (len(ordered) - 1) * (percent / 100)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    low, high, share = float(ordered[below]), float(ordered[above]), place - below
    # from the nearer end, as numpy does, so that the last bit is the same
    return low + (high - low) * share if share < 0.5 else high - (high - low) * (1 - share)


def lengths(kinds: Sequence[str], values: FloatArray) -> dict[str, float]:
    """Mean, median, 95th percentile and maximum of differences that are lengths.

    `values` is (kinds, n), a row for each kind, n above 0.
    """
    ordered = np.sort(values, axis=1)
    means = ordered.mean(axis=1)
    figures: dict[str, float] = {}
    for kind, row, mean in zip(kinds, ordered, means, strict=True):
        figures[f"{kind}_mean"] = float(mean)
        figures[f"{kind}_median"] = percentile(row, 50)
        figures[f"{kind}_p95"] = percentile(row, 95)
        figures[f"{kind}_max"] = float(row[-1])
    return figures


ON_REQUEST: Mapping[str, Callable[[FloatArray, FloatArray], FloatArray]] = {"de94": de94, "cmc": cmc}
"""Lengths that are made where a limit names one: older formulas, which few limits still go by. Always made they would
be a third more of every record."""


def requested(limits: Limits) -> frozenset[str]:
    """Which of `ON_REQUEST` these limits name, in whatever group; they are made in every group then."""
    named = {metric for wanted in limits.values() for metric in wanted}
    return frozenset(kind for kind in ON_REQUEST if any(metric.startswith(f"{kind}_") for metric in named))


SIGNED = ("dl", "da", "db", "dc")


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Aim and reading of n patches in both forms, (n, 3) each: L*, a*, b* and X, Y, Z under D50."""

    aim: FloatArray
    lab: FloatArray
    aim_xyz: FloatArray
    xyz: FloatArray

    @classmethod
    def of(cls, aim: FloatArray, lab: FloatArray) -> Sides:
        """Both forms from L*, a*, b*."""
        return cls(aim, lab, xyz_from_lab(aim, D50_ASTM_E308), xyz_from_lab(lab, D50_ASTM_E308))


@dataclass(frozen=True, slots=True, eq=False)
class Differences:
    """`lengths` has a row for each of `kinds`: CIEDE2000 first, CIELAB, the chromatic difference ΔCh, CIEDE2000
    relative to paper where there is paper, and what was requested. `signed` has a row for each of SIGNED: measured less
    aim in L*, a*, b* and C*. (kinds, n) both."""

    kinds: tuple[str, ...]
    lengths: FloatArray
    signed: FloatArray


def differences(sides: Sides, paper: Mask | None, on_request: Collection[str]) -> Differences:
    """`paper` (n,) says which patches are paper, `on_request` what is wanted of ON_REQUEST."""
    aim, lab = sides.aim, sides.lab
    lengths = {"de00": de00(aim, lab), "de76": de76(aim, lab), "dch": dch(aim, lab)}
    if paper is not None:
        relative = on_paper(sides.xyz, sides.xyz[paper].mean(axis=0), sides.aim_xyz[paper].mean(axis=0))
        lengths["rel_de00"] = de00(aim, lab_from_xyz(relative, D50_ASTM_E308))
    lengths |= {kind: formula(aim, lab) for kind, formula in ON_REQUEST.items() if kind in on_request}
    chroma = np.hypot(lab[:, 1], lab[:, 2]) - np.hypot(aim[:, 1], aim[:, 2])
    return Differences(tuple(lengths), np.array(list(lengths.values())), np.vstack([(lab - aim).T, chroma]))


def on_paper(xyz: FloatArray, own_paper: FloatArray, other_paper: FloatArray) -> FloatArray:
    """The colours of a sheet as they would look on another paper: X, Y, Z scaled by the ratio of the two papers.

    This is the media-relative scaling of ICC.1 (ISO 15076-1) applied to both sheets. It is an approximation where the
    papers differ in brightener or were read on another backing.
    """
    scaled: FloatArray = xyz * (other_paper / own_paper)
    return scaled


_PLACE = re.compile(r"\s*(?:([A-Za-z]{1,3})[\s-]?(\d{1,4})|(\d{1,4})[\s,;/-](\d{1,4}))\s*")


def uniformity(places: Sequence[str], errors: FloatArray) -> float | None:
    """The largest CIELAB distance between the mean errors of two quarters of the sheet; None without usable places.

    `places` are such as `A12` or `3-14`; `errors` (n, 3) are measured less aim in L*, a*, b*. It means something on a
    chart whose colours are scattered over the sheet; on one in the order of its colours it also holds their errors.
    """
    quarters = _quarters(tuple(places))
    if not quarters:
        return None
    means = np.array([errors[quarter].mean(axis=0) for quarter in quarters])
    return float(np.linalg.norm(means[:, None] - means[None, :], axis=-1).max())


@lru_cache(maxsize=16)
def _quarters(places: tuple[str, ...]) -> tuple[Counts, ...]:
    """The rows in each quarter; a layout stands behind many readings."""
    spots = coordinates(places)
    if spots is None or len(spots) < 8:
        return ()
    halves = spots > np.median(spots, axis=0)
    quarters = [np.flatnonzero((halves == quarter).all(axis=1)) for quarter in ((0, 0), (0, 1), (1, 0), (1, 1))]
    return tuple(quarters) if all(map(len, quarters)) else ()


def coordinates(places: Sequence[str]) -> FloatArray | None:
    """Column and row of each place (n, 2), such as (2, 7) of `B7`; None where one cannot be read."""
    found = [_PLACE.fullmatch(place) for place in places]
    return np.array([_coordinates(match) for match in found if match], dtype=float) if all(found) else None


def _coordinates(match: re.Match[str]) -> tuple[int, int]:
    letters, number, first, second = match.groups()
    if letters is None:
        return int(first), int(second)
    column = 0
    for letter in letters.upper():
        column = 26 * column + ord(letter) - ord("A") + 1
    return column, int(number)


Metrics = Mapping[str, Mapping[str, float]]
"""{group: {metric: value}}"""

WORST = 10


class Patch(NamedTuple):
    """A patch by its name or id, with its CIEDE2000 difference."""

    label: str
    de00: float


class GroupFigures(NamedTuple):
    """All metrics, and the patches that are farthest off, the worst first."""

    metrics: Metrics
    worst: tuple[Patch, ...]


def figures_of(match: Match, reckoning: ScoringOptions, on_request: Collection[str] = ()) -> GroupFigures:
    """Every metric of every group that has a patch; what each one is stands in `names.METRIC_WORDS`.

    Of ON_REQUEST only what is asked for. Patches whose readings are apart are left out, except from the spread, and
    where there are no others.
    """
    spread = _spread(match)
    match = match.settled if not match.apart.all() else match
    masks = groups_of(match, reckoning)
    sides = Sides.of(match.aim, match.lab)
    found = differences(sides, masks.get("paper"), on_request)
    metrics = {group: _of_group(found, mask, reckoning.share_beyond) for group, mask in masks.items()}
    metrics["all"] |= spread | _of_sheet(match, found)
    for group, figures in _of_inks(match, sides, masks, reckoning):
        metrics[group] |= figures
    de = found.lengths[0]
    worst = tuple(Patch(match.labels[row], float(de[row])) for row in np.argsort(de)[::-1][:WORST])
    return GroupFigures(metrics, worst)


def _of_inks(
    match: Match, sides: Sides, masks: Mapping[str, Mask], reckoning: ScoringOptions
) -> Iterator[tuple[str, Mapping[str, float]]]:
    """Figures by group; tone values only where device values are ink amounts."""
    inks = named_inks(match.inks, reckoning.ink_names)
    amounts = reckoning.ink_space and laid_inks(inks) == inks
    if amounts:
        yield from tone_figures(inks, match.device, sides.aim_xyz, sides.xyz, masks).items()
    yield from density_figures(laid_inks(inks), match, masks, reckoning.density_status, tone_values=amounts).items()


def _of_group(found: Differences, mask: Mask, share_beyond: float) -> dict[str, float]:
    own = found.lengths[:, mask]
    signed = found.signed[:, mask].mean(axis=1)
    return {
        **lengths(found.kinds, own),
        "de00_share": float(np.count_nonzero(beyond(own[0], share_beyond)) / own.shape[1]),
        **{f"{kind}_mean": float(value) for kind, value in zip(SIGNED, signed, strict=True)},
    }


def _spread(match: Match) -> dict[str, float]:
    repeated = match.spread[match.readings > 1]
    return {"spread_mean": float(repeated.mean()), "spread_max": float(repeated.max())} if len(repeated) else {}


def _of_sheet(match: Match, found: Differences) -> dict[str, float]:
    even = None if match.places is None else uniformity(match.places, found.signed[:3].T)
    return {} if even is None else {"uniformity": even}
