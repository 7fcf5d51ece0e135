"""How far sheets ordinarily move from one to the next, by what moves: as everywhere, by ink technology, as a house
shows it. Light: no numpy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple


class Factor(StrEnum):
    """What moves by itself. A name is kept with checks and never changed."""

    STRENGTH = "strength"  # of each ink, with its missing dots
    TONE = "tone"  # of each ink, with the skew of its curve and its light ink
    ALL_STRENGTHS = "all-strengths"  # every ink by the same part of its density
    ALL_TONES = "all-tones"  # every ink by as much dot gain
    PAPER = "paper"
    READING = "reading"  # a brightener's light, the surface
    SHAPE = "shape"  # any smooth shape over the print, channels of a chart that does not tell its inks


OF_KIND: Mapping[str, Factor] = MappingProxyType(
    {
        "strength": Factor.STRENGTH,
        "gaps": Factor.STRENGTH,
        "tone": Factor.TONE,
        "skew": Factor.TONE,
        "light": Factor.TONE,
        "reach": Factor.TONE,
        "paper": Factor.PAPER,
        "emission": Factor.READING,
        "surface": Factor.READING,
        "field": Factor.SHAPE,
        "density": Factor.SHAPE,
        "channel": Factor.SHAPE,
    }
)
"""By the kind of a departure (`DesignColumn`)."""

TOGETHER: Mapping[Factor, str] = MappingProxyType({Factor.ALL_STRENGTHS: "strength", Factor.ALL_TONES: "tone"})
"""The kind of departure that a factor moves in every ink at once."""


NEXT_SHEET_EVERYWHERE = (0.3, 0.6)
NEXT_SHEET: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        **dict.fromkeys(("aqueous-dye", "aqueous-pigment"), NEXT_SHEET_EVERYWHERE),
        **dict.fromkeys(("solvent", "latex", "uv"), (0.5, 1.0)),
    }
)
"""Mean ΔE00 between a sheet and the next, by ink technology, where sheets are held against each other alone (common
practice, from memory, no published source; the same sheet read again: 0.1 to 0.3; canvas moves like the second)."""


class Size(NamedTuple):
    """A size by its logarithm: what it is likeliest, and the standard deviation of that."""

    log: float
    spread: float


@dataclass(frozen=True, slots=True)
class ShownMovement:
    """What pairs of sheets alone say of one sheet beside its print, whatever was expected `beforehand`, be it more or
    less than everywhere: standard deviation of each ink's strength and tone, in ΔE00 where they show most on its own
    tone scale, and mean ΔE00 of single patches."""

    strength: Size
    tone: Size
    patches: Size
    beforehand: OrdinaryMovement


@dataclass(frozen=True, slots=True)
class OrdinaryMovement:
    """`variances` by factor, in times what is usual (`healthy_sheet.SHARES`) of a sheet beside its aim; where inks move
    together in times what is usual of each by itself. `noise`, of single patches, is a standard deviation, in times the
    usual one. `shown` is there where pairs of sheets were learnt from."""

    variances: Mapping[Factor, float] = field(default_factory=dict)
    noise: float = 1.0
    shown: ShownMovement | None = field(default=None, compare=False)

    @property
    def beforehand(self) -> OrdinaryMovement:
        """As was expected before any pair was seen."""
        return self.shown.beforehand if self.shown else self

    def variance(self, factor: Factor) -> float:
        """Of one factor; the usual where nothing is said."""
        return self.variances.get(factor, 0.0 if factor in TOGETHER else 1.0)

    def at_least(self, other: OrdinaryMovement) -> OrdinaryMovement:
        """Nowhere less than another one."""
        found = {factor: max(self.variance(factor), other.variance(factor)) for factor in Factor}
        return replace(self, variances=found, noise=max(self.noise, other.noise))


AS_EVERYWHERE = OrdinaryMovement()
"""The next sheet of the same job lies a mean ΔE00 of 0.3 to 0.6 from this one."""


def _times(size: float) -> OrdinaryMovement:
    """Sheets that move `size` times as far; what moves them (heat, cure, feed) moves the inks in part together."""
    together = size**2 - 1
    own = dict.fromkeys((Factor.STRENGTH, Factor.TONE, Factor.SHAPE), size**2)
    return OrdinaryMovement({**own, Factor.ALL_STRENGTHS: together / 4, Factor.ALL_TONES: together / 4}, size)


BY_TECHNOLOGY: Mapping[str, OrdinaryMovement] = MappingProxyType(
    {
        "aqueous-dye": AS_EVERYWHERE,
        "aqueous-pigment": AS_EVERYWHERE,
        "solvent": _times(1.3),
        "latex": _times(1.7),
        "uv": _times(1.7),
    }
)
"""Before a house has shown anything: the next sheet a mean ΔE00 of 0.3 to 0.6 with aqueous inks, of 0.5 to 1.0 with
latex and UV, solvent between. Common practice, no published source."""

TEXTURED = _times(1.7)
"""The same on canvas and other textured stocks, with any ink."""


def expected_movement(technology: str, *, textured: bool) -> OrdinaryMovement:
    """Before a house has shown anything; as everywhere for an unknown technology."""
    found = BY_TECHNOLOGY.get(technology, AS_EVERYWHERE)
    return found.at_least(TEXTURED) if textured else found
