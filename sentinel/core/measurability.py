"""Substrates a reflection spectrophotometer cannot measure reliably (common practice, no published source)."""

from __future__ import annotations

from dataclasses import dataclass

from sentinel.core.reasons import Code, Reason
from sentinel.core.said import said


@dataclass(frozen=True, slots=True)
class Surface:
    """The properties of a substrate that decide."""

    finish: str
    base: str
    opacity: str
    texture: str


def obstacles(surface: Surface, declared: str | None, overridden: bool) -> tuple[Reason, ...]:
    """Every reason why it cannot be measured; none where somebody declared that it can."""
    if declared is not None:
        return (Reason(Code.DECLARED_NOT_MEASURABLE, said("declared not measurable: {why}", why=declared)),)
    return () if overridden else tuple(_by_surface(surface))


def _by_surface(surface: Surface) -> list[Reason]:
    found = []
    if surface.opacity == "transparent":
        message = said("the substrate is transparent: what lies under it would be measured too")
        found.append(Reason(Code.TRANSPARENT, message))
    if surface.base == "coloured":
        found.append(Reason(Code.COLOURED, said("the substrate is coloured: no aim values hold for it")))
    if surface.texture == "textured" and surface.finish == "gloss":
        message = said("the substrate is a textured gloss: its reflections reach the instrument")
        found.append(Reason(Code.TEXTURED_GLOSS, message))
    return found
