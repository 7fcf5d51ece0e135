"""From two measurements to readings beside their aim, patch by patch."""

from __future__ import annotations

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.cgats.measurement import Chart, Measurement
from sentinel.core.recalibration.subject import Readings, Spectra
from sentinel.core.scoring.matching import Match, keys_of, match
from sentinel.core.scoring.roles import named_inks


def readings_of(
    target: Measurement, sample: Measurement, *, ink_space: bool = True, ink_names: tuple[str, ...] = ()
) -> Readings:
    """The patches both hold; `ink_names` name the channels of an n-channel chart in their order.

    Raises Unscored where the two share no patch or must not be compared, SpectrumError for spectra of no use.
    """
    found = match(target, sample)
    return Readings(
        inks=named_inks(found.inks, ink_names),
        device=found.device,
        ink_space=ink_space,
        aim=found.aim,
        reading=found.lab,
        spectra=_spectra(found, target, sample),
    )


def _spectra(found: Match, target: Measurement, sample: Measurement) -> Spectra | None:
    wavelengths = target.wavelengths
    if target.reflectance is None or sample.reflectance is None or wavelengths is None or sample.wavelengths is None:
        return None
    if not np.array_equal(wavelengths, sample.wavelengths):
        return None
    aim, reading = (_averaged(found, side) for side in (target, sample))
    return Spectra(wavelengths, aim, reading)


def _averaged(found: Match, side: Measurement) -> FloatArray:
    """Reflectance (n, bands) of the matched patches, replicates averaged, those with a missing value left out."""
    reflectance = side.reflectance
    assert reflectance is not None  # noqa: S101
    keys = keys_of(side.chart, found.by, found.inks)
    chart = Chart(found.ids, found.labels, found.inks, found.device)
    wanted = keys_of(chart, found.by, found.inks)
    place = {key: row for row, key in enumerate(wanted)}
    whole = np.asarray(~np.isnan(reflectance).any(axis=1))
    rows = [row for row, key in enumerate(keys) if key in place and whole[row]]
    group = np.array([place[keys[row]] for row in rows], dtype=np.intp)
    sums = np.zeros((len(wanted), reflectance.shape[1]))
    np.add.at(sums, group, reflectance[rows])
    mean: FloatArray = sums / np.bincount(group, minlength=len(wanted))[:, None]
    return mean
