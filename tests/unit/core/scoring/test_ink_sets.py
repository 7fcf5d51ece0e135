"""Whether a chart was printed with the inks its stock takes.

That photo stock carries no matte black is common practice, no published source.
"""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.measurement import Chart
from sentinel.core.scoring.groups import refuse_wrong_inks
from sentinel.core.scoring.policy import InkSet
from sentinel.core.verdict import Reason, Unscored
from tests.unit.core.builders import measurement

PRINTER = ("C", "M", "Y", "PK", "MK", "LC")
PHOTO, MATTE = InkSet(PRINTER, frozenset({"MK"})), InkSet(PRINTER, frozenset({"PK"}))


def chart(*inks: str, unused: tuple[str, ...] = ()) -> Chart:
    """Paper and the solid of each ink but the unused ones."""
    device = np.vstack([np.zeros(len(inks)), np.diag([0.0 if ink in unused else 100.0 for ink in inks])])
    return measurement(device=device, inks=inks).chart


def numbered(*left_out: str) -> Chart:
    """The same on the printer's six numbered channels, these inks not laid."""
    channels = tuple(f"6CLR_{number}" for number in range(1, 7))
    unused = tuple(channels[PRINTER.index(ink)] for ink in left_out)
    return chart(*channels, unused=unused)


def refusal(read: Chart, expected: InkSet) -> Reason:
    with pytest.raises(Unscored) as found:
        refuse_wrong_inks(read, expected)
    return found.value.reason


@pytest.mark.parametrize(
    "read",
    [
        chart("C", "M", "Y", "PK", "LC"),
        chart(*PRINTER, unused=("MK",)),
        chart("LC", "PK", "Y", "M", "C"),
        numbered("MK"),
    ],
    ids=["without its column", "its column empty", "in another order", "numbered channels"],
)
def test_a_photo_stock_s_chart_without_matte_black_is_right(read: Chart) -> None:
    refuse_wrong_inks(read, PHOTO)


@pytest.mark.parametrize("read", [chart(*PRINTER), numbered()], ids=["named", "numbered channels"])
def test_matte_black_on_photo_stock_is_the_wrong_chart(read: Chart) -> None:
    reason = refusal(read, PHOTO)
    assert reason.code == "ink-unexpected"
    assert str(reason.message) == "expected a chart without MK, which this stock leaves out, got it"


@pytest.mark.parametrize(
    ("read", "lacking"),
    [
        (chart("C", "M", "Y", "PK"), "LC"),
        (chart(*PRINTER, unused=("MK", "LC")), "LC"),
        (numbered("MK", "C", "LC"), "C, LC"),
    ],
)
def test_a_chart_that_never_lays_an_ink_of_its_stock_is_the_wrong_chart(read: Chart, lacking: str) -> None:
    reason = refusal(read, PHOTO)
    assert reason.code == "ink-missing"
    assert str(reason.message) == f"expected a chart of C M Y PK LC, got one without {lacking}"


def test_the_chart_of_photo_stock_is_wrong_for_matte_stock() -> None:
    assert refusal(numbered("MK"), MATTE).code == "ink-unexpected"
    refuse_wrong_inks(numbered("PK"), MATTE)


def test_an_ink_that_must_not_be_there_is_told_before_one_that_is_missing() -> None:
    assert refusal(numbered("C"), PHOTO).code == "ink-unexpected"


@pytest.mark.parametrize(
    ("read", "expected"),
    [
        (chart("C", "M"), InkSet()),
        (chart("R", "G", "B"), PHOTO),
        (chart("B", "G", "R"), PHOTO),
        (measurement(ids=["1", "2"]).chart, PHOTO),
    ],
    ids=["inks not told", "RGB", "RGB in another order", "no device values"],
)
def test_nothing_is_refused_where_inks_are_not_told(read: Chart, expected: InkSet) -> None:
    refuse_wrong_inks(read, expected)


def test_an_unknown_amount_is_no_ink_that_was_laid() -> None:
    device = np.vstack([np.diag([100.0] * 4), [[0, 0, 0, 0]]])
    device = np.hstack([device, np.full((5, 1), np.nan)])
    refuse_wrong_inks(
        measurement(device=device, inks=("C", "M", "Y", "PK", "MK")).chart, InkSet(PRINTER[:5], PHOTO.left_out)
    )


def test_a_trace_that_is_paper_is_no_ink_that_was_laid() -> None:
    device = np.vstack([np.diag([100.0] * 4), [[0, 0, 0, 0]]])
    device = np.hstack([device, np.full((5, 1), 0.004)])
    refuse_wrong_inks(
        measurement(device=device, inks=("C", "M", "Y", "PK", "MK")).chart, InkSet(PRINTER[:5], PHOTO.left_out)
    )
