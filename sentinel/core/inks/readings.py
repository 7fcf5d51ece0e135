"""Two measurements brought to readings beside their aim, patch by patch."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement import Measurement
from sentinel.core.scoring.groups import named_inks
from sentinel.core.scoring.matching import Match, averaged, keys_of, match, sample_keys


@dataclass(frozen=True, slots=True, eq=False)
class Spectra:
    """Both sides as reflectance (n, bands), 1.0 the perfect diffuser, at `wavelengths` (bands,) in nm."""

    wavelengths: FloatArray
    aim: FloatArray
    reading: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """A reading of n patches beside its aim.

    `device` is (n, inks): ink amounts in percent for a chart in `ink_space`. `aim` and `reading` are Lab (n, 3) under
    D50 and 2 degrees, replicates averaged. `spectra` are there where both sides have them at the same wavelengths.
    """

    inks: tuple[str, ...]
    device: FloatArray
    ink_space: bool
    aim: FloatArray
    reading: FloatArray
    spectra: Spectra | None = None


def readings_of(
    target: Measurement, sample: Measurement, *, ink_space: bool = True, ink_names: tuple[str, ...] = ()
) -> Readings:
    """The patches both hold; `ink_names` name the channels of an n-channel chart in their order.

    Raises Unscored where the two share no patch or must not be compared, SpectrumError for spectra of no use.
    """
    found = match(target, sample).settled
    return Readings(
        inks=named_inks(found.inks, ink_names),
        device=found.device,
        ink_space=ink_space,
        aim=found.aim,
        reading=found.lab,
        spectra=paired_spectra(found, target, sample),
    )


def paired_spectra(pairs: Match, target: Measurement, sample: Measurement) -> Spectra | None:
    """Replicates averaged, in the order of the pairs; None unless both sides have spectra at the same wavelengths."""
    wavelengths = target.wavelengths
    if target.reflectance is None or sample.reflectance is None or wavelengths is None or sample.wavelengths is None:
        return None
    if not np.array_equal(wavelengths, sample.wavelengths):
        return None
    wanted = pair_keys(pairs, target)
    aim = _averaged(target, keys_of(target.chart, pairs.by, pairs.inks), wanted)
    reading = _averaged(sample, sample_keys(target, sample, pairs.by), wanted)
    return Spectra(wavelengths, aim, reading)


def pair_keys(pairs: Match, target: Measurement) -> list[Hashable | None]:
    """What each pair was matched by, in the order of the pairs."""
    by_id = dict(zip(target.chart.ids, keys_of(target.chart, pairs.by, pairs.inks), strict=True))
    return [by_id[name] for name in pairs.ids]


def _averaged(side: Measurement, keys: Sequence[Hashable | None], wanted: Sequence[Hashable | None]) -> FloatArray:
    patches = averaged(side, keys)
    where = {key: row for row, key in enumerate(patches.keys)}
    return patches.values[[where[key] for key in wanted]]
