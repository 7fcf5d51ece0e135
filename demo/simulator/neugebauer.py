"""Coverages to spectra: the Yule-Nielsen modified spectral Neugebauer model over Demichel's areas.

Sources: Demichel, Procede 26, 1924; Neugebauer, Z. wiss. Photogr. 36, 1937; Yule and Nielsen, TAGA Proc. 3, 1951;
Viggiano, TAGA Proc., 1985 (the factor n in each band). Reviewed by Wyble and Berns, 'A critical review of spectral
models applied to binary color printing', Color Res. Appl. 25(1), 2000. (Volumes and pages from memory.)
"""

from __future__ import annotations

import numpy as np

from demo.simulator.spectra import FloatArray


def demichel(coverage: FloatArray) -> FloatArray:
    """Areas (patches, 2^inks) of paper and overprints from coverages (patches, inks) of 0 to 1.

    Dots fall at random on one another. The last ink changes fastest, as in `overprints`; rows add to 1.
    """
    areas = np.ones((len(coverage), 1))
    for ink in coverage.T:
        areas = np.stack((areas * (1.0 - ink)[:, None], areas * ink[:, None]), axis=2).reshape(len(coverage), -1)
    return areas


def overprints(inks: int) -> FloatArray:
    """Which inks each primary carries, 0 or 1: (2^inks, inks), in the order of `demichel`."""
    numbers = np.arange(2**inks)[:, None]
    carried: FloatArray = ((numbers >> np.arange(inks)[::-1]) & 1).astype(np.float64)
    return carried


def yule_nielsen(areas: FloatArray, primaries: FloatArray, n: float) -> FloatArray:
    """Spectra (patches, bands) of areas (patches, primaries) and the primaries' spectra (primaries, bands).

    n = 1 is Neugebauer's sum: light leaves where it came in; a larger one lets it wander between the dots.
    """
    spectra: FloatArray = (areas @ primaries ** (1.0 / n)) ** n
    return spectra
