"""Two measurements brought to readings beside their aim, patch by patch."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement import Measurement
from sentinel.core.scoring.groups import named_inks
from sentinel.core.scoring.matching import Match, keys_of, match


@dataclass(frozen=True, slots=True, eq=False)
class PairedSpectra:
    """Both sides as reflectance (n, bands), 1.0 the perfect diffuser, at `wavelengths` (bands,) in nm."""

    wavelengths: FloatArray
    aim: FloatArray
    reading: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """A reading of n patches beside its aim.

    `device` is (n, inks): ink amounts in percent for a chart in `ink_space`. `aim` and `reading` are Lab (n, 3) under
    D50 and 2 degrees, replicates averaged. `spectra` are there where both sides have them at the same wavelengths.
    `aim_sheets` is of how many sheets the aim is the mean, `EXACT` for one that does not stray.
    """

    inks: tuple[str, ...]
    device: FloatArray
    ink_space: bool
    aim: FloatArray
    reading: FloatArray
    spectra: PairedSpectra | None = None
    aim_sheets: float = 1.0


EXACT = float("inf")
"""Sheets of an aim that does not stray: published characterization data."""


def readings_of(
    target: Measurement,
    sample: Measurement,
    *,
    ink_space: bool = True,
    ink_names: tuple[str, ...] = (),
    aim_sheets: float = 1.0,
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
        spectra=paired_spectra(found),
        aim_sheets=aim_sheets,
    )


def paired_spectra(pairs: Match) -> PairedSpectra | None:
    """Replicates averaged, in the order of the pairs; None unless both sides have spectra at the same wavelengths."""
    aim, reading = pairs.aim_spectra, pairs.spectra
    if aim is None or reading is None or not np.array_equal(aim.wavelengths, reading.wavelengths):
        return None
    return PairedSpectra(aim.wavelengths, aim.of(), reading.of())


def pair_keys(pairs: Match, target: Measurement) -> list[Hashable | None]:
    """What each pair was matched by, in the order of the pairs."""
    by_id = dict(zip(target.chart.ids, keys_of(target.chart, pairs.by, pairs.inks), strict=True))
    return [by_id[name] for name in pairs.ids]
