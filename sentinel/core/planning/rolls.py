"""How much stock the charts of a round need, where a roll may not reach, and what of it all is not known."""

from __future__ import annotations

from collections.abc import Iterator
from math import fsum

from sentinel.core.planning.plan import Doubt, Remark, RollNeed
from sentinel.core.planning.room import Printer, Room


def roll_needs(room: Room) -> tuple[RollNeed, ...]:
    """A line for each stock on each printer, by name."""
    printers = sorted(room.printers, key=lambda printer: printer.name)
    return tuple(need for printer in printers for need in _needs_of(printer, room))


def _needs_of(printer: Printer, room: Room) -> Iterator[RollNeed]:
    for stock in sorted({chart.stock for chart in printer.charts}):
        lengths = [chart.metres for chart in printer.charts if chart.stock == stock]
        known = [metres for metres in lengths if metres is not None]
        yield RollNeed(
            printer=printer.name,
            stock=stock,
            loaded=stock == printer.loaded,
            core=room.core(printer, stock),
            charts=len(lengths),
            metres=round(fsum(known), 3),
            unknown_lengths=len(lengths) - len(known),
            metres_left=printer.metres_left(stock),
        )


def remarks_on(room: Room) -> tuple[Remark, ...]:
    """Every warning, by printer, those about its stocks first."""
    return tuple(remark for printer in _busy(room) for remark in _on_printer(printer, room))


def _busy(room: Room) -> list[Printer]:
    return sorted((printer for printer in room.printers if printer.charts), key=lambda printer: printer.name)


def _on_printer(printer: Printer, room: Room) -> Iterator[Remark]:
    for need in _needs_of(printer, room):
        title = room.stock(need.stock).title
        yield from (Remark(doubt, printer.name, need.stock, text) for doubt, text in _on_roll(need, title))
    if printer.loaded is None:
        text = "not known which stock is loaded: a roll change is planned before the first chart"
        yield Remark(Doubt.LOADED_UNKNOWN, printer.name, None, text)
    yield from _on_cores(printer, room)
    yield from _on_drying(printer, room)


def _on_roll(need: RollNeed, title: str) -> Iterator[tuple[Doubt, str]]:
    if need.unknown_lengths:
        yield Doubt.LENGTH_UNKNOWN, f"{title}: the length of {_charts(need.unknown_lengths)} is not known"
    known = need.unknown_lengths < need.charts
    wanted = f"the charts need {need.metres:.2f} m" + (" or more" if need.unknown_lengths else "")
    if need.metres_left is None:
        yield Doubt.ROLL_UNKNOWN, f"{title}: not known what is left on the roll" + (f", {wanted}" if known else "")
    elif need.too_short:
        yield Doubt.ROLL_TOO_SHORT, f"{title}: {wanted}, {need.metres_left:.2f} m are left on the roll"


def _on_cores(printer: Printer, room: Room) -> Iterator[Remark]:
    """Cores matter where stocks change and a change of adapters takes time."""
    wanted = {chart.stock for chart in printer.charts}
    stocks = sorted(wanted if printer.loaded is None else wanted | {printer.loaded})
    if printer.adapter_minutes and (len(stocks) > 1 or printer.loaded is None):
        for stock in map(room.stock, stocks):
            if room.core(printer, stock.name) is None:
                text = f"{stock.title}: core not known, time for a change of adapters is planned"
                yield Remark(Doubt.CORE_UNKNOWN, printer.name, stock.name, text)


def _on_drying(printer: Printer, room: Room) -> Iterator[Remark]:
    assumed = {chart.stock: chart.drying_minutes for chart in printer.charts if chart.drying_assumed}
    for stock, minutes in sorted(assumed.items()):
        text = f"{room.stock(stock).title}: the drying time is not in the settings, {minutes / 60:g} h are assumed"
        yield Remark(Doubt.DRYING_UNKNOWN, printer.name, stock, text)


def _charts(number: int) -> str:
    return "1 chart" if number == 1 else f"{number} charts"
