"""The picture of a notice: a PNG of a size for phones, drawn from facts alone, whatever patches are called."""

from __future__ import annotations

import struct

import pytest

from sentinel.render.notices.samples import BARE, CHECK, CONDITION, FILE, TREND, WORST
from sentinel.render.plots import Facts, drawable, picture


def facts(**changes: object) -> Facts:
    return {**CONDITION, "check": {**CHECK, **changes}}


def size(png: bytes) -> tuple[int, int]:
    """Width and height in its header: PNG specification (ISO/IEC 15948), 11.2.2."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", png[16:24])
    return int(width), int(height)


def test_a_picture_is_as_wide_as_a_phone_shows_well() -> None:
    width, height = size(picture(facts()))
    assert width == 900
    assert 900 < height < 2000


def test_each_patch_makes_it_higher() -> None:
    assert size(picture(facts(worst=WORST * 4)))[1] > size(picture(facts(worst=WORST)))[1]


def test_trend_and_patches_are_each_drawn_alone_where_the_other_is_missing() -> None:
    both = size(picture(facts()))[1]
    assert size(picture(facts(worst=[])))[1] < both
    assert size(picture(facts(trend=[])))[1] < both


def test_the_same_facts_make_the_same_picture() -> None:
    assert picture(facts()) == picture(facts())


@pytest.mark.parametrize(
    ("told", "answer"),
    [
        (facts(), True),
        (facts(worst=[]), True),
        (facts(trend=TREND[:1]), True),
        (facts(trend=TREND[:1], worst=[]), False),
        (facts(trend=[], worst=[]), False),
        (BARE, False),
        (FILE, False),
    ],
)
def test_one_point_makes_no_trend_and_facts_without_a_check_no_picture(told: Facts, answer: bool) -> None:
    assert drawable(told) is answer


@pytest.mark.parametrize("name", ["$x^2", "a\nb", "Übergang", "\\frac{", "日本", "<b>", "x" * 300, ""])
def test_a_patch_may_be_called_anything(name: str) -> None:
    assert size(picture(facts(trend=[], worst=[{**WORST[0], "patch": name}])))[0] == 900


def test_limits_may_be_missing_and_figures_nought() -> None:
    flat = [{**point, "mean": 0.0, "max": 0.0} for point in TREND]
    assert size(picture(facts(limits={}, trend=flat)))[0] == 900
