"""Invented rooms to plan in."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from hypothesis import strategies as st

from sentinel.core.planning.room import PlannedChart, Room, RoundPrinter, RoundStock

STOCKS = (
    RoundStock(name="canvas-340", core="2 inch"),
    RoundStock(name="gloss-260", core="3 inch"),
    RoundStock(name="matte-180", core="2 inch"),
    RoundStock(name="satin-240", core="3 inch"),
    RoundStock(name="unknown-core"),
)
NAMES = tuple(stock.name for stock in STOCKS)


def chart(
    stock: str, printing: int = 5, drying: int = 0, measuring: int = 4, *, name: str = "", metres: float | None = 0.5
) -> PlannedChart:
    """A chart on the printer `north`, unless its name says otherwise."""
    return PlannedChart(
        condition=name or f"north/{stock}",
        stock=stock,
        print_minutes=printing,
        drying_minutes=drying,
        measuring_minutes=measuring,
        metres=metres,
    )


def north(*charts: PlannedChart, loaded: str | None = None, change: int = 10, adapter: int = 0) -> RoundPrinter:
    """A printer."""
    return RoundPrinter(name="north", loaded=loaded, change_minutes=change, adapter_minutes=adapter, charts=charts)


def room(*printers: RoundPrinter) -> Room:
    """A room with every stock."""
    return Room(printers=printers, stocks=STOCKS)


def random_room(seed: str, charts: Sequence[int], step: int = 1, most_drying: int = 60) -> Room:
    """So many charts on each printer, with times of the order of a print room, in multiples of `step` minutes."""
    random = Random(seed)
    printers = []
    for number, count in enumerate(charts):
        name = f"printer-{number}"
        own = [
            PlannedChart(
                condition=f"{name}/chart-{place}",
                stock=random.choice(NAMES),
                print_minutes=step * random.randint(1, 12 // step),
                drying_minutes=step * random.randint(0, most_drying // step),
                measuring_minutes=step * random.randint(1, 12 // step),
                metres=0.5,
            )
            for place in range(count)
        ]
        printers.append(
            RoundPrinter(
                name=name,
                loaded=random.choice((*NAMES, None)),
                change_minutes=step * random.randint(1, 12 // step),
                adapter_minutes=step * random.randint(0, 6 // step),
                charts=tuple(own),
            )
        )
    return room(*printers)


def alike(charts: int, drying: int, measuring: int) -> Room:
    """As many stocks, each with one chart, which differ in name alone."""
    return Room(printers=(north(*(chart(f"stock-{place:02}", 10, drying, measuring) for place in range(charts))),))


minutes = st.integers(1, 12)


@st.composite
def rooms(draw: st.DrawFn, most_charts: int, printers: int) -> Room:
    """Rooms with up to `most_charts` on so many printers."""
    count = draw(st.integers(0, most_charts))
    homes = [draw(st.integers(0, printers - 1)) for _ in range(count)]
    return room(*(_printer(draw, f"printer-{number}", homes.count(number)) for number in range(printers)))


def _printer(draw: st.DrawFn, name: str, charts: int) -> RoundPrinter:
    return RoundPrinter(
        name=name,
        loaded=draw(st.sampled_from((*NAMES, None))),
        change_minutes=draw(minutes),
        adapter_minutes=draw(st.integers(0, 6)),
        charts=tuple(
            PlannedChart(
                condition=f"{name}/chart-{place}",
                stock=draw(st.sampled_from(NAMES)),
                print_minutes=draw(minutes),
                drying_minutes=draw(st.integers(0, 40)),
                measuring_minutes=draw(minutes),
            )
            for place in range(charts)
        ),
    )


@st.composite
def rooms_of_twins(draw: st.DrawFn, most_charts: int, printers: int) -> Room:
    """Up to `most_charts` in all, most of them like another one: two kinds of stocks at most, each several times."""
    times = st.sampled_from([(draw(minutes), draw(st.integers(0, 40)), draw(minutes)) for _ in range(2)])
    kinds = [draw(st.lists(times, min_size=1, max_size=2)) for _ in range(2)]
    stocks: list[RoundStock] = []
    charts: dict[int, list[PlannedChart]] = {number: [] for number in range(printers)}
    for _ in range(draw(st.integers(1, most_charts))):
        stock, home, kind = f"stock-{len(stocks)}", draw(st.integers(0, printers - 1)), draw(st.sampled_from(kinds))
        if sum(map(len, charts.values())) + len(kind) <= most_charts:
            stocks.append(RoundStock(name=stock, core=draw(st.sampled_from((None, "2 inch", "3 inch")))))
            charts[home] += [chart(stock, *own, name=f"{home}/{stock}/{place}") for place, own in enumerate(kind)]
    names = (None, *(stock.name for stock in stocks))
    return Room(
        printers=tuple(
            RoundPrinter(
                name=f"printer-{number}",
                loaded=draw(st.sampled_from(names)),
                change_minutes=draw(minutes),
                adapter_minutes=draw(st.sampled_from((0, 3, 6))),
                charts=tuple(own),
            )
            for number, own in charts.items()
        ),
        stocks=tuple(stocks),
    )
