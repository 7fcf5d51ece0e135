"""Substrates that cannot be measured reliably (common practice, no published source)."""

from __future__ import annotations

import pytest

from sentinel.core.conditions.measurability import Surface, obstacles
from tests.unit.core.builders import codes

PLAIN = Surface(finish="satin", base="white", opacity="opaque", texture="smooth")
HOPELESS = Surface(finish="gloss", base="coloured", opacity="transparent", texture="textured")


@pytest.mark.parametrize(
    ("surface", "found"),
    [
        (PLAIN, []),
        (Surface("gloss", "white", "opaque", "smooth"), []),
        (Surface("matte", "white", "opaque", "textured"), []),
        (Surface("matte", "white", "translucent", "smooth"), []),
        (Surface("gloss", "white", "opaque", "textured"), ["textured-gloss"]),
        (Surface("matte", "coloured", "opaque", "smooth"), ["coloured"]),
        (Surface("gloss", "white", "transparent", "smooth"), ["transparent"]),
        (HOPELESS, ["transparent", "coloured", "textured-gloss"]),
    ],
)
def test_properties_of_a_substrate_tell_every_obstacle(surface: Surface, found: list[str]) -> None:
    assert codes(obstacles(surface, None, overridden=False)) == found


@pytest.mark.parametrize("surface", [PLAIN, HOPELESS])
@pytest.mark.parametrize("overridden", [False, True])
def test_a_declared_reason_stands_alone_in_its_own_words(surface: Surface, overridden: bool) -> None:
    [reason] = obstacles(surface, "foil reflects", overridden)
    assert reason.code == "declared-not-measurable"
    assert "foil reflects" in str(reason.message)


def test_somebody_who_says_it_can_be_measured_is_believed() -> None:
    assert obstacles(HOPELESS, None, overridden=True) == ()
