"""Substrates a reflection spectrophotometer cannot measure reliably (common practice, no published source)."""

from __future__ import annotations

from dataclasses import dataclass

from sentinel.core.reasons import Code, Reason


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
        return (Reason(Code.DECLARED_NOT_MEASURABLE, f"declared not measurable: {declared}"),)
    return () if overridden else tuple(_by_surface(surface))


def _by_surface(surface: Surface) -> list[Reason]:
    found = []
    if surface.opacity == "transparent":
        found.append(Reason(Code.TRANSPARENT, "the substrate is transparent: what lies under it would be measured too"))
    if surface.base == "coloured":
        found.append(Reason(Code.COLOURED, "the substrate is coloured: no aim values hold for it"))
    if surface.texture == "textured" and surface.finish == "gloss":
        found.append(
            Reason(Code.TEXTURED_GLOSS, "the substrate is a textured gloss: its reflections reach the instrument")
        )
    return found
