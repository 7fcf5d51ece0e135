"""Which patch of a measurement belongs to which patch of a target."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import BoolArray, FloatArray, packed, unpacked
from sentinel.core.measurement import Chart, Measurement
from sentinel.core.message import Message, msg
from sentinel.core.scoring.averaging import Counts, Patches, averaged
from sentinel.core.scoring.groups import FULL_INK, FULL_RGB
from sentinel.core.scoring.near_match import half_step, near
from sentinel.core.verdict import Code, Unscored

KeyKind = Literal["device values", "names", "ids"]

DEVICE_STEPS = 100
"""Device values are told apart to 1/100 of their unit, the precision in which exports round them."""


@dataclass(frozen=True, slots=True, eq=False)
class TargetPatches:
    """The m distinct patches of a target that have values: `device` (m, inks), `aim` (m, 3) as L*, a*, b*.

    `inks` and `device` are the measured file's where the target tells none; NaN where neither does.
    """

    inks: tuple[str, ...]
    device: FloatArray
    aim: FloatArray
    labels: tuple[str, ...]
    ids: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Spectra:
    """The averaged reflectance of one side of a match at `wavelengths` (bands,) in nm; it is picked out when asked for,
    since most of what asks wants few patches.

    `means` are those of all patches of the side, `order` (n,) where those of the match stand among them.
    """

    wavelengths: FloatArray
    means: FloatArray
    order: Counts

    def picked(self, kept: BoolArray) -> Spectra:
        """Of these patches of the match alone."""
        return replace(self, order=self.order[kept])

    def of(self, rows: npt.NDArray[np.bool_] | slice = slice(None)) -> FloatArray:
        """Reflectance (rows, bands), 1.0 the perfect diffuser, of these patches of the match."""
        return self.means[self.order[rows]]


@dataclass(frozen=True, slots=True, eq=False)
class Match:
    """The patches both sides hold, in the target's order.

    `rows` (n,) are those of `target`, and `held` (m,) says which of its patches the file holds, with values or without.
    `device` is (n, inks) from the target, `aim` and `lab` are (n, 3); `labels` are for people: the target's names
    where it has any, else its `ids`; `spread` is that of the measured replicates, `readings` (n,) how many there were,
    `places` where the first stood on the sheet, if that is known; `near` counts those whose device values the rounding
    of exports sets apart; `apart` (n,) are those whose readings, on either side, cannot be of one patch, so that only
    the first stands for them. `target_patches` and `measured_patches` count what each side holds; `aim_spectra` and
    `spectra` are there where a side's colours come from spectra.
    """

    by: KeyKind
    target: TargetPatches
    rows: Counts
    held: npt.NDArray[np.bool_]
    inks: tuple[str, ...]
    device: FloatArray
    labels: tuple[str, ...]
    ids: tuple[str, ...]
    aim: FloatArray
    lab: FloatArray
    spread: FloatArray
    readings: Counts
    places: tuple[str, ...] | None
    target_patches: int
    measured_patches: int
    apart: BoolArray
    near: int = 0
    aim_spectra: Spectra | None = None
    spectra: Spectra | None = None

    def __len__(self) -> int:
        return len(self.labels)

    @property
    def has_spectra(self) -> bool:
        """Whether both sides have spectra, at whatever wavelengths."""
        return self.aim_spectra is not None and self.spectra is not None

    @property
    def target_share(self) -> float:
        """How much of the target was measured."""
        return len(self) / self.target_patches

    @property
    def measured_share(self) -> float:
        """How much of what was measured is in the target."""
        return len(self) / self.measured_patches

    @property
    def settled(self) -> Match:
        """Without the patches whose readings are apart, which count as not read."""
        return self._of(~self.apart) if self.apart.any() else self

    def _of(self, kept: BoolArray) -> Match:
        rows = np.flatnonzero(kept).tolist()
        return replace(
            self,
            rows=self.rows[kept],
            device=self.device[kept],
            labels=tuple(self.labels[row] for row in rows),
            ids=tuple(self.ids[row] for row in rows),
            aim=self.aim[kept],
            lab=self.lab[kept],
            spread=self.spread[kept],
            readings=self.readings[kept],
            places=tuple(self.places[row] for row in rows) if self.places else None,
            apart=self.apart[kept],
            aim_spectra=self.aim_spectra and self.aim_spectra.picked(kept),
            spectra=self.spectra and self.spectra.picked(kept),
        )


LAB_AND_SPREAD = 4


def patch_values(pairs: Match) -> bytes:
    """What was read, as it is kept with a check: L*, a*, b* and the spread of replicates of every patch."""
    return packed(np.column_stack([pairs.lab, pairs.spread]))


def kept_lab(values: bytes) -> FloatArray:
    """Lab (n, 3) of the patches that `patch_values` kept."""
    return unpacked(values, LAB_AND_SPREAD)[:, :3]


def match(target: Measurement, sample: Measurement) -> Match:
    """Pairs by device values where both have the same inks, else by names, else by ids; replicates averaged.

    Device values pair to 1/100, and beyond that where the digits of one export explain the difference (`near_match`).

    Raises Unscored where the two cannot be compared or share no patch.
    """
    by = key_kind(target.chart, sample.chart)
    aims = _aims(target, by)
    keys = keys_of(sample.chart, by, target.chart.inks)
    moved = _moved(target, sample, by, keys)
    if moved:
        keys = [moved.get(key, key) for key in keys]
    reads = averaged(sample, keys)
    where = {key: row for row, key in enumerate(reads.keys)}
    in_reads = np.array([where.get(key, -1) for key in aims.keys])
    in_aims = np.flatnonzero(in_reads >= 0)
    if not len(in_aims):
        message = NONE_MATCHES[by].format(patches=len(aims.keys), others=len(reads.keys))
        raise Unscored(Code.CHART_MISMATCH, message)
    there = set(keys)
    held = np.array([key in there for key in aims.keys])
    whole = _whole(target, by) if target.chart.inks else _filled_in(_whole(target, by), aims.keys, sample.chart, keys)
    pairs = _joined(by, whole, aims, held, in_aims, _Read(sample, reads, in_reads[in_aims]))
    pairs = replace(pairs, aim_spectra=_spectra(target, aims, in_aims))
    return replace(pairs, near=len(moved)) if moved else pairs


def sample_keys(target: Measurement, sample: Measurement, by: KeyKind) -> list[Hashable | None]:
    """One key a row of the sample, that of the target's patch where only the rounding of exports lies between."""
    keys = keys_of(sample.chart, by, target.chart.inks)
    moved = _moved(target, sample, by, keys)
    return [moved.get(key, key) for key in keys] if moved else keys


def _moved(
    target: Measurement, sample: Measurement, by: KeyKind, keys: Sequence[Hashable | None]
) -> dict[Hashable | None, Hashable]:
    """The target's key for each of the sample's that rounding alone sets apart from it."""
    if by != "device values":
        return {}
    aims, inks = _aims(target, by), target.chart.inks
    known = set(aims.keys)
    if all(key is None or key in known for key in keys):
        return {}
    device = sample.chart.device[:, [sample.chart.inks.index(ink) for ink in inks]]
    full = FULL_RGB if set(inks) == {"R", "G", "B"} else FULL_INK
    one, other = half_step(target.chart.device, full), half_step(device, full)
    if one == other and one > 0.5 / DEVICE_STEPS:
        return {}  # the same coarse rounding leaves nothing between
    return near(keys, device, aims.keys, target.chart.device[aims.first], max(one, other))


NONE_MATCHES: Mapping[KeyKind, Message] = {
    "device values": msg(
        "expected the aim's {patches} patches, got {others} other patches: none has the device values of a patch of "
        "the aim"
    ),
    "names": msg(
        "expected the aim's {patches} patches, got {others} other patches: none has the names of a patch of the aim"
    ),
    "ids": msg(
        "expected the aim's {patches} patches, got {others} other patches: none has the ids of a patch of the aim"
    ),
}


@lru_cache(maxsize=64)
def _aims(target: Measurement, by: KeyKind) -> Patches:
    """The same target stands against many readings."""
    return averaged(target, keys_of(target.chart, by, target.chart.inks))


@lru_cache(maxsize=64)
def _whole(target: Measurement, by: KeyKind) -> TargetPatches:
    patches, chart = _aims(target, by), target.chart
    rows = patches.first.tolist()
    ids = tuple([chart.ids[row] for row in rows])
    labels = tuple([chart.names[row] for row in rows]) if chart.names else ids
    return TargetPatches(chart.inks, chart.device[patches.first], patches.lab, labels, ids)


def _filled_in(
    whole: TargetPatches, wanted: Sequence[Hashable], chart: Chart, keys: Sequence[Hashable | None]
) -> TargetPatches:
    """With the device values of the file, where it has any; rows of one patch that disagree leave it without."""
    where = {key: row for row, key in enumerate(wanted)}
    place = np.array([where.get(key, -1) for key in keys])
    rows = np.flatnonzero(place >= 0)
    device = np.full((len(wanted), len(chart.inks)), np.nan)
    device[place[rows[::-1]]] = chart.device[rows[::-1]]  # the first of several rows stays
    differing = (abs(device[place[rows]] - chart.device[rows]) > 1 / DEVICE_STEPS).any(axis=1)
    device[place[rows[differing]]] = np.nan
    return replace(whole, inks=chart.inks, device=device)


@dataclass(frozen=True, slots=True, eq=False)
class _Read:
    """What was measured; `order` picks its matched patches."""

    measurement: Measurement
    patches: Patches
    order: Counts

    @property
    def chart(self) -> Chart:
        """What was printed."""
        return self.measurement.chart

    @property
    def places(self) -> tuple[str, ...] | None:
        """Where the first reading of each matched patch stood on the sheet."""
        positions = self.chart.positions
        return tuple([positions[row] for row in self.patches.first[self.order].tolist()]) if positions else None


def _spectra(side: Measurement, patches: Patches, order: Counts) -> Spectra | None:
    """Where the values that were averaged are spectra, as `colour_source` prefers."""
    if side.wavelengths is None or side.reflectance is None:
        return None
    return Spectra(side.wavelengths, patches.values, order)


def _joined(
    by: KeyKind, target: TargetPatches, aims: Patches, held: npt.NDArray[np.bool_], rows: Counts, sample: _Read
) -> Match:
    picked = rows.tolist()
    return Match(
        by=by,
        target=target,
        rows=rows,
        held=held,
        inks=target.inks,
        device=target.device[rows],
        labels=tuple([target.labels[row] for row in picked]),
        ids=tuple([target.ids[row] for row in picked]),
        aim=target.aim[rows],
        lab=sample.patches.lab[sample.order],
        spread=sample.patches.spread[sample.order],
        readings=sample.patches.count[sample.order],
        places=sample.places,
        target_patches=len(target.ids),
        measured_patches=len(sample.patches.keys),
        apart=(aims.apart[rows] | sample.patches.apart[sample.order]),
        spectra=_spectra(sample.measurement, sample.patches, sample.order),
    )


def key_kind(target: Chart, sample: Chart) -> KeyKind:
    """How the two can be matched. Raises Unscored where both have device values, but of other inks."""
    if target.inks and sample.inks:
        if set(target.inks) == set(sample.inks):
            return "device values"
        raise Unscored(
            Code.CHART_MISMATCH,
            msg(
                "expected a chart of the inks {inks} as for the aim, got {others}",
                inks=" ".join(target.inks),
                others=" ".join(sample.inks),
            ),
        )
    return "names" if any(target.names or ()) and any(sample.names or ()) else "ids"


def keys_of(chart: Chart, by: KeyKind, inks: Sequence[str]) -> list[Hashable | None]:
    """One key a row; None for a row whose device values are not all there. `inks` gives the order of the columns."""
    if by == "names":
        return [name or None for name in chart.names or ()]
    if by == "ids":
        return list(chart.ids)
    columns = chart.device[:, [chart.inks.index(ink) for ink in inks]]
    known = np.asarray(~np.isnan(columns).any(axis=1))
    steps = np.rint(np.where(known[:, None], columns, 0.0) * DEVICE_STEPS).astype(np.int64)
    whole_rows = np.ascontiguousarray(steps).view(f"V{steps.itemsize * len(inks)}").ravel()
    return [row if there else None for row, there in zip(whole_rows.tolist(), known.tolist(), strict=True)]
