"""What a reflection spectrophotometer can measure at all, and whether an instrument was within its certificate."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sentinel.core.measurement import Backing, MCondition
from sentinel.core.message import msg
from sentinel.core.verdict import Code, Reason


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
        return (Reason(Code.DECLARED_NOT_MEASURABLE, msg("declared not measurable: {why}", why=declared)),)
    return () if overridden else tuple(_by_surface(surface))


def _by_surface(surface: Surface) -> list[Reason]:
    found = []
    if surface.opacity == "transparent":
        message = msg("the substrate is transparent: what lies under it would be measured too")
        found.append(Reason(Code.TRANSPARENT, message))
    if surface.base == "coloured":
        found.append(Reason(Code.COLOURED, msg("the substrate is coloured: no aim values hold for it")))
    if surface.texture == "textured" and surface.finish == "gloss":
        message = msg("the substrate is a textured gloss: its reflections reach the instrument")
        found.append(Reason(Code.TEXTURED_GLOSS, message))
    return found


@dataclass(frozen=True, slots=True)
class InstrumentRules:
    """What is known of an instrument: the last day of its certificate, what is declared for files that do not say."""

    label: str | None
    certificate_until: date | None
    m_condition: MCondition | None
    backing: Backing | None


def certificate_remark(serial: str | None, until: date | None, day: date) -> Reason | None:
    """A remark for a reading made on `day` after the certificate's last day; None where nothing is to be said."""
    if until is None or day <= until:
        return None
    message = msg("the certificate of instrument {serial} ended on {day}", serial=str(serial), day=until)
    return Reason(Code.CERTIFICATE_EXPIRED, message)
