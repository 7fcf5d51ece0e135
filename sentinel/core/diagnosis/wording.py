"""The sentence behind each cause."""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.diagnosis.causes import Cause, Sign
from sentinel.core.said import Sentence, said


def sentence(cause: Cause, ink: str | None, sign: Sign | None, size: float) -> Sentence:
    """`size` is the departure in ΔE00 where it shows most."""
    pattern = SENTENCES.get((cause, sign == 1)) or SENTENCES.get((cause, None)) or OF_NO_CAUSE
    if cause not in OF_INKS:
        return pattern.format(size=size)
    return pattern.format(inks=said("ink {ink}", ink=ink) if ink else said("all inks"), size=size)


OF_INKS = frozenset({Cause.SOLID, Cause.TONE})

SENTENCES: Mapping[tuple[Cause, bool | None], Sentence] = {
    (Cause.SOLID, True): said("{inks} stronger than in the aim, by up to ΔE00 {size:.1f}"),
    (Cause.SOLID, False): said("{inks} weaker than in the aim, by up to ΔE00 {size:.1f}"),
    (Cause.TONE, True): said("the tones of {inks} heavier by up to ΔE00 {size:.1f}, solids in place"),
    (Cause.TONE, False): said("the tones of {inks} lighter by up to ΔE00 {size:.1f}, solids in place"),
    (Cause.NOT_DRY, None): said("all inks darker together, by up to ΔE00 {size:.1f}, as on a print that has not dried"),
    (Cause.SHADE, None): said("the paper moved by ΔE00 {size:.1f}, and all that lies on it moved along"),
    (Cause.SCALE, True): said("all patches lighter by one factor, paper by ΔE00 {size:.1f}"),
    (Cause.SCALE, False): said("all patches darker by one factor, paper by ΔE00 {size:.1f}"),
    (Cause.MODE, True): said(
        "more light of a brightener, paper by ΔE00 {size:.1f}: light patches differ as between M0, M1 and M2"
    ),
    (Cause.MODE, False): said(
        "less light of a brightener, paper by ΔE00 {size:.1f}: light patches differ as between M0, M1 and M2"
    ),
}
"""By the cause, and whether its sign is +1; None where the sign changes nothing."""

OF_NO_CAUSE = said("mean ΔE00 {size:.1f} in a way that no cause known here makes")
