"""From two measurements that were matched to what a diagnosis is made from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.cgats.measurement import Measurement
from sentinel.core.colour.errors import SpectrumError
from sentinel.core.diagnosis.subject import Context, Rival, Rows, Sheet, Subject
from sentinel.core.reasons import Unscored
from sentinel.core.recalibration.pairing import pair_keys, paired_spectra
from sentinel.core.scoring.matching import Match, keys_of, match
from sentinel.core.scoring.patches import colour_source
from sentinel.core.scoring.roles import groups, named_inks
from sentinel.core.scoring.uniformity import coordinates


def subject_of(
    pairs: Match,
    target: Measurement,
    sample: Measurement,
    *,
    ink_space: bool,
    ink_names: tuple[str, ...] = (),
    context: Context | None = None,
) -> Subject:
    """The reading `sample` beside its `target`, matched as `pairs`, without rivals.

    Inks are called as the chart calls them, or by `ink_names` where it numbers its channels.
    """
    inks = named_inks(pairs.inks, ink_names)
    paper = groups(pairs.inks, pairs.device).get("paper", np.zeros(len(pairs), dtype=bool))
    return Subject(
        inks=inks,
        device=pairs.device,
        ink_space=ink_space and set(inks) not in (set(), {"R", "G", "B"}),
        paper=paper,
        aim=pairs.aim,
        reading=pairs.lab,
        labels=pairs.labels,
        spectra=paired_spectra(pairs, target, sample),
        sheet=_sheet(pairs, target, sample),
        context=context or Context(),
    )


def _sheet(pairs: Match, target: Measurement, sample: Measurement) -> Sheet:
    values, to_lab = colour_source(sample)
    where = {key: row for row, key in enumerate(pair_keys(pairs, target))}
    keys = keys_of(sample.chart, pairs.by, pairs.inks)
    rows: Rows = np.array([where.get(key, -1) if key is not None else -1 for key in keys])
    lab = to_lab(values)
    rows[np.isnan(lab).any(axis=1)] = -1
    return Sheet(lab, rows, _places(sample.chart.positions))


def _places(positions: Sequence[str] | None) -> FloatArray | None:
    """Column and row of each reading, where every place can be read and none is there twice."""
    found = coordinates(positions) if positions is not None else None
    return found if found is not None and len(np.unique(found, axis=0)) == len(found) else None


def rivals_of(
    pairs: Match, target: Measurement, sample: Measurement, rivals: Iterable[tuple[str, Measurement]]
) -> tuple[Rival, ...]:
    """The targets of other stocks, by name, that share patches with these pairs."""
    return tuple(_rivals(pairs, target, sample, rivals))


def _rivals(
    pairs: Match, target: Measurement, sample: Measurement, rivals: Iterable[tuple[str, Measurement]]
) -> Iterator[Rival]:
    where = {key: row for row, key in enumerate(pair_keys(pairs, target))}
    for name, rival in rivals:
        try:
            other = match(rival, sample)
        except (Unscored, SpectrumError):
            continue
        aim = np.full_like(pairs.aim, np.nan)
        keys = pair_keys(other, rival)
        there = [(where[key], row) for row, key in enumerate(keys) if key in where and other.by == pairs.by]
        if there:
            ours, theirs = np.array(there).T
            aim[ours] = other.aim[theirs]
            yield Rival(name, aim)
