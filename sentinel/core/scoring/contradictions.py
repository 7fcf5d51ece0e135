"""One measurement held against itself: two statements of one reading that cannot both be true."""

from __future__ import annotations

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.measurement import Measurement
from sentinel.core.message import msg
from sentinel.core.scoring.matching import colour_source
from sentinel.core.verdict import Code, Reason, Unscored

APART = 1.0
"""Mean ΔE00 between Lab and spectra of one file that no instrument's own arithmetic reaches (common practice)."""

ARITHMETIC = 0.1
"""Mean ΔE00 that rounded spectra and another table of weights make, most of it in dark patches."""


def held_against_itself(measurement: Measurement) -> tuple[Reason, ...]:
    """A remark where Lab for D50 and 2 degrees and the spectra beside it differ by more than rounding.

    Raises Unscored where they do by more than any instrument makes of one reading.
    """
    lab, condition = measurement.lab, measurement.condition
    unclear = measurement.interpretation.about("light")
    if measurement.reflectance is None or lab is None or unclear:
        return ()
    if condition.illuminant not in (None, "D50") or condition.observer not in (None, 2):
        return ()
    values, to_lab = colour_source(measurement)
    both = ~(np.isnan(values).any(axis=1) | np.isnan(lab).any(axis=1))
    if not both.any():
        return ()
    mean = float(de00(lab[both], to_lab(values[both])).mean())
    if mean >= APART:
        raise Unscored(
            Code.CONTRADICTS_ITSELF,
            msg(
                "expected Lab and spectra of one reading to agree, but they are {mean:.2f} ΔE00 apart on average: "
                "export both for D50 and 2 degrees, and from the same reading",
                mean=mean,
            ),
        )
    if mean <= ARITHMETIC + _rounding(lab[both]):
        return ()
    message = msg(
        "the file's Lab is {mean:.2f} ΔE00 on average from that of its spectra, more than rounding explains; the "
        "spectra were taken",
        mean=mean,
    )
    return (Reason(Code.CONTRADICTS_ITSELF, message),)


def _rounding(lab: FloatArray) -> float:
    """The step values were rounded to, learnt from their digits: 1, 0.1, 0.01, or 0 for finer ones.

    ΔE00 of rounded neutrals is on average about three quarters of it.
    """
    steps = (1.0, 0.1, 0.01)
    return next((step for step in steps if (abs(lab / step - np.rint(lab / step)) < 1e-6).all()), 0.0)
