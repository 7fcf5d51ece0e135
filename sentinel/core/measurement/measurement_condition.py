"""How a chart was read: M0 to M3, backing and the rest; never just 'condition'."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

MCondition = Literal["M0", "M1", "M2", "M3"]
Backing = Literal["black", "white"]
Bandpass = Literal["corrected", "uncorrected"]


@dataclass(frozen=True, slots=True)
class MeasurementCondition:
    """How the patches were read; None is 'the file does not say'.

    `m` is M0 to M3; `backing` black or white; `illuminant` such as D50; `observer` in degrees, 2 or 10;
    `bandpass` whether spectra are corrected for the instrument's band-pass.
    """

    m: MCondition | None = None
    backing: Backing | None = None
    filter: str | None = None
    illuminant: str | None = None
    observer: Literal[2, 10] | None = None
    geometry: str | None = None
    bandpass: Bandpass | None = None
