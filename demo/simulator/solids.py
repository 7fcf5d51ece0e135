"""Solids and overprints: what layers of ink leave of the light.

Sources: Beer-Lambert's law; Kubelka and Munk, Z. techn. Phys. 12, 1931, in its form with one constant (K/S adds).
"""

from __future__ import annotations

import numpy as np

from demo.simulator.inks import InkSet
from demo.simulator.spectra import FloatArray


def laid_down(carried: FloatArray, trapping: float) -> FloatArray:
    """How much of each ink lies in each primary (primaries, inks): the first in full, those on top a little less."""
    under = np.cumsum(carried, axis=1) - carried
    layers: FloatArray = carried * np.where(under > 0, trapping, 1.0)
    return layers


def filtered(below: FloatArray, layers: FloatArray, inks: InkSet) -> FloatArray:
    """Reflectance (primaries, bands) of layers of ink on `below` (bands,).

    Beer and Lambert: inks only absorb, densities add. Kubelka and Munk with one constant: inks lie in the paper and
    scatter with it, K/S adds; an ink's K/S is what makes its density on a perfect white at strength 1.
    """
    density = np.array([ink.density for ink in inks.inks])
    if inks.law == "beer-lambert":
        through: FloatArray = below * 10.0 ** -(layers @ density)
        return through
    absorbed = absorption_over_scattering(below) + layers @ absorption_over_scattering(10.0**-density)
    return infinite_reflectance(absorbed)


def absorption_over_scattering(reflectance: FloatArray) -> FloatArray:
    """K/S of a layer too thick to see through, from its reflectance (Kubelka and Munk 1931)."""
    ratio: FloatArray = (1.0 - reflectance) ** 2 / (2.0 * reflectance)
    return ratio


def infinite_reflectance(ratio: FloatArray) -> FloatArray:
    """Reflectance of a layer too thick to see through, from its K/S."""
    reflected: FloatArray = 1.0 + ratio - np.sqrt(ratio * ratio + 2.0 * ratio)
    return reflected
