"""What a recalibration is foretold from: a reading beside its aim, patch by patch."""

from __future__ import annotations

from dataclasses import dataclass

from sentinel.core.cgats.document import FloatArray


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
