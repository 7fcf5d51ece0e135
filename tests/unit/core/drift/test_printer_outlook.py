"""A printer followed by readings and events: in order, anew, with figures that come and go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.conditions.events import EventKind
from sentinel.core.conditions.forecasts import FigureBounds
from sentinel.core.conditions.risk import RiskOutlook
from sentinel.core.drift.figures import Figure
from sentinel.core.drift.forecast import Reading
from sentinel.core.drift.printer_outlook import (
    FollowedPrinter,
    Item,
    PrinterEvent,
    PrinterSheet,
    WatchedPrinter,
    in_order,
)

START = datetime(2026, 3, 2, 12, tzinfo=UTC)
DAY = timedelta(days=1)
C, M, ALL = Figure("solid_C", "dl_mean"), Figure("solid_M", "dl_mean"), Figure("all", "de00_mean")
SATIN, MATTE = "north/satin-240", "north/matte-190"
BOUNDS = [
    FigureBounds("solid_C", "dl_mean", -3.0, 3.0),
    FigureBounds("solid_M", "dl_mean", -3.0, None),
    FigureBounds("all", "de00_mean", None, 3.0),
]


def sheets(by: float, count: int = 24, begin: int = 0) -> list[PrinterSheet]:
    """A sheet a day, in turn of both stocks: magenta moves by so much a day, on both."""
    rng = np.random.default_rng(4)
    found = []
    for day in range(begin, begin + count):
        noise = rng.normal(0.0, 0.3, 2)
        figures = {C: noise[0], M: by * day + noise[1], ALL: 1.0 + abs(by) * day / 3}
        reading = Reading(day + 1, START + day * DAY, figures)
        found.append(PrinterSheet((SATIN, MATTE)[day % 2], "aim", reading))
    return found


def event(kind: EventKind, day: float, *conditions: str, seq: int = 900, ink: str | None = None) -> PrinterEvent:
    return PrinterEvent(START + day * DAY, seq, kind, conditions or (SATIN, MATTE), ink)


def through(items: Sequence[Item]) -> FollowedPrinter:
    printer = FollowedPrinter(WatchedPrinter.of([SATIN, MATTE], items))
    printer.go_on(items)
    return printer


def outlook(items: Sequence[Item], condition: str = SATIN) -> RiskOutlook:
    return through(items).outlooks({condition: BOUNDS})[condition]


def test_wear_on_all_stocks_is_foretold_with_the_figure_that_leads_and_its_pace() -> None:
    found = outlook(sheets(-0.09))
    assert found.leading is not None
    assert (found.leading.group, found.leading.metric) == ("solid_M", "dl_mean")
    assert found.leading.sure
    assert found.leading.a_day == pytest.approx(-0.09, abs=0.03)
    assert found.outside[0] < 0.2
    assert found.outside[60] > 0.8
    assert list(found.outside) == sorted(found.outside)
    assert (found.check_seq, found.at, found.readings) == (23, START + 23 * DAY, 24)


def test_a_limit_on_one_side_alone_is_left_on_that_side_alone() -> None:
    bounds = [FigureBounds("solid_M", "dl_mean", -3.0, None)]
    lower, higher = (through(sheets(by)).outlooks({SATIN: bounds})[SATIN] for by in (-0.12, 0.12))
    assert lower.outside[30] > 10 * higher.outside[30]


def test_followed_on_is_followed_anew() -> None:
    items = in_order(sheets(-0.05, 40), [event(EventKind.RECALIBRATION, 20.5, SATIN), event(EventKind.SERVICE, 30.5)])
    whole = through(items)
    parts = FollowedPrinter(WatchedPrinter.of([SATIN, MATTE], items))
    parts.go_on(items, 33)
    parts.go_on(items)
    assert parts.taken == whole.taken == 42
    both = {SATIN: BOUNDS, MATTE: BOUNDS}
    assert parts.outlooks(both) == whole.outlooks(both)
    assert set(parts.outlooks(both)) == set(both)


def scatter_of(items: Sequence[Item]) -> FloatArray:
    plan = WatchedPrinter.of([SATIN, MATTE], items)
    found: FloatArray = np.array(plan.units) * np.sqrt(np.array(plan.noise))[plan.ink_of]
    return found


def test_figures_of_an_ink_have_the_units_of_their_scatters_and_share_a_noise() -> None:
    """A print that is read twice as well in one figure as in another of the ink; in the mean as usual."""
    other = Figure("solid_M", "db_mean")
    items = [
        sheet._replace(reading=replace(sheet.reading, figures={M: 0.7 * each[0], other: 0.175 * each[1]}))
        for sheet in sheets(0.0, 256)
        for each in [np.random.default_rng(sheet.reading.seq).normal(size=2)]
    ]
    plan = WatchedPrinter.of([SATIN, MATTE], items)
    assert plan.figures == (other, M)
    assert plan.units == pytest.approx((0.175, 0.7), rel=0.25)
    assert np.prod(plan.units) == pytest.approx(0.35**2)
    assert plan.noise == pytest.approx((1.0,), rel=0.25)


def test_the_scatter_is_learnt_anew_only_when_readings_have_doubled() -> None:
    restless = sheets(0.0, 70)
    plans = [scatter_of(restless[:count]).tolist() for count in (15, 16, 31, 32, 63, 64)]
    assert plans[0] == pytest.approx([0.25, 0.35, 0.35])
    assert plans[1] == plans[2] != plans[3]
    assert plans[3] == plans[4] != plans[5]


def test_gone_on_with_day_by_day_is_begun_anew_whatever_was_learnt_on_the_way() -> None:
    told = [event(EventKind.RECALIBRATION, 20.5, SATIN), event(EventKind.HEADS, 29.5, seq=901)]
    items, printer, begun = in_order(sheets(-0.05, 70), told), None, 0
    for count in range(1, len(items) + 1):
        plan = WatchedPrinter.of([SATIN, MATTE], items[:count])
        if printer is None or printer.plan != plan:
            printer, begun = FollowedPrinter(plan), begun + 1
        printer.go_on(items[:count])
    assert begun == 4  # at the first sheet, and at 16, 32 and 64 of them
    assert printer is not None
    both = {SATIN: BOUNDS, MATTE: BOUNDS}
    assert printer.outlooks(both) == through(items).outlooks(both)


@pytest.mark.parametrize(
    "kind", [EventKind.RECALIBRATION, EventKind.STOCK_LOT, EventKind.HEADS, EventKind.INK_LOT, EventKind.SERVICE]
)
def test_what_was_told_moves_prints_and_is_no_scatter(kind: EventKind) -> None:
    """Every eighth day another level of magenta."""
    still = sheets(0.0, 64)
    moved = [
        sheet._replace(
            reading=replace(sheet.reading, figures={**sheet.reading.figures, M: sheet.reading.figures[M] + level})
        )
        for day, sheet in enumerate(still)
        for level in [2.5 * (day // 8 % 2)]
    ]
    events = [event(kind, day - 0.5, seq=900 + day) for day in range(8, 64, 8)]
    plain, told, untold = (
        scatter_of(in_order(read, events_told)) for read, events_told in ((still, events), (moved, events), (moved, ()))
    )
    assert told == pytest.approx(plain, rel=1e-6)
    assert untold[2] > 1.2 * told[2]


def test_how_strongly_each_stock_shows_the_wear_is_learnt_and_the_groups_that_show_several_inks_keep_one() -> None:
    items = [
        sheet._replace(
            reading=replace(sheet.reading, figures={**sheet.reading.figures, M: shown * 0.06 * day, ALL: 9.0})
        )
        for day, sheet in enumerate(sheets(0.0, 64))
        for shown in [1.3 if sheet.condition == SATIN else 0.7]
    ]
    plan = WatchedPrinter.of([SATIN, MATTE], items)
    matte, satin = plan.sensitivity
    inks = plan.inks
    assert satin[inks["M"]] / matte[inks["M"]] > 1.3
    assert satin[inks["M"]] * matte[inks["M"]] == pytest.approx(1.0)
    assert satin[inks["C"]] == pytest.approx(1.0, abs=0.15)
    assert satin[inks["all"]] == 1.0
    assert WatchedPrinter.of([SATIN, MATTE], items[:15]).sensitivity == ()


def test_another_level_after_a_recalibration_teaches_no_sensitivity() -> None:
    still = sheets(0.0, 64)
    set_off = [
        sheet._replace(reading=replace(sheet.reading, figures={**sheet.reading.figures, M: 2.0 * (day > 30)}))
        if sheet.condition == SATIN
        else sheet
        for day, sheet in enumerate(still)
    ]
    told = in_order(set_off, [event(EventKind.RECALIBRATION, 30.5, SATIN)])
    _, satin = WatchedPrinter.of([SATIN, MATTE], told).sensitivity
    assert satin == pytest.approx([1.0] * len(satin), abs=0.1)


def test_a_recalibration_sets_off_one_stock_and_the_wear_goes_on() -> None:
    worn = sheets(-0.1)
    after = in_order(worn, [event(EventKind.RECALIBRATION, 23.5, SATIN)])
    assert outlook(after).outside[0] < outlook(worn).outside[0] / 2
    assert outlook(after, MATTE).outside[14] == pytest.approx(outlook(worn, MATTE).outside[14], abs=0.05)
    assert outlook(after).outside[60] > 0.5


@pytest.mark.parametrize(
    ("told", "satin", "matte"),
    [
        (event(EventKind.HEADS, 23.5), True, True),
        (event(EventKind.INK_LOT, 23.5, ink="M"), True, True),
        (event(EventKind.SERVICE, 23.5), True, True),
        (event(EventKind.STOCK_LOT, 23.5, SATIN), True, False),
        (event(EventKind.PROFILE, 23.5, SATIN), True, False),
        (event(EventKind.PRINTED_AREA, 23.5), False, False),
    ],
    ids=lambda one: one.kind.value if isinstance(one, PrinterEvent) else "",
)
def test_what_was_told_makes_less_sure(told: PrinterEvent, satin: bool, matte: bool) -> None:
    still, moved = (in_order(sheets(0.0), [each]) for each in (event(EventKind.NOZZLE_CHECK, 23.5), told))
    for condition, touched in ((SATIN, satin), (MATTE, matte)):
        before, after = outlook(still, condition).outside[1], outlook(moved, condition).outside[1]
        assert (after > 1.2 * before) is touched


def test_another_aim_begins_that_stock_anew() -> None:
    old = sheets(0.0)
    last = old[-2]
    far = {figure: value + 2.5 for figure, value in last.reading.figures.items()}
    moved = PrinterSheet(last.condition, "another aim", Reading(99, START + 25 * DAY, far))
    found = through([*old, moved]).outlooks({MATTE: BOUNDS})[MATTE]
    assert found.outside[0] < 0.1  # what moved is the aim, not the printer


def test_a_stock_that_was_never_read_has_no_outlook() -> None:
    printer = through(sheets(0.0)[:1])
    assert set(printer.outlooks({MATTE: BOUNDS, SATIN: BOUNDS})) == {SATIN}


def test_a_figure_without_bounds_cannot_be_left() -> None:
    found = through(sheets(-0.2)).outlooks({SATIN: ()})[SATIN]
    assert max(found.outside) == 0.0
