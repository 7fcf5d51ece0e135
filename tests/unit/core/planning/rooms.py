"""Invented rooms to plan in."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from hypothesis import strategies as st

from sentinel.core.planning.room import Chart, Printer, Room, Stock

STOCKS = (
    Stock(name="canvas-340", core="2 inch"),
    Stock(name="gloss-260", core="3 inch"),
    Stock(name="matte-180", core="2 inch"),
    Stock(name="satin-240", core="3 inch"),
    Stock(name="unknown-core"),
)
NAMES = tuple(stock.name for stock in STOCKS)


def chart(
    stock: str, printing: int = 5, drying: int = 0, measuring: int = 4, *, name: str = "", metres: float | None = 0.5
) -> Chart:
    """A chart on the printer `north`, unless its name says otherwise."""
    return Chart(
        condition=name or f"north/{stock}",
        stock=stock,
        print_minutes=printing,
        drying_minutes=drying,
        measuring_minutes=measuring,
        metres=metres,
    )


def north(*charts: Chart, loaded: str | None = None, change: int = 10, adapter: int = 0) -> Printer:
    """A printer."""
    return Printer(name="north", loaded=loaded, change_minutes=change, adapter_minutes=adapter, charts=charts)


def room(*printers: Printer) -> Room:
    """A room with every stock."""
    return Room(printers=printers, stocks=STOCKS)


def random_room(seed: str, charts: Sequence[int], step: int = 1, most_drying: int = 60) -> Room:
    """So many charts on each printer, with times of the order of a print room, in multiples of `step` minutes."""
    random = Random(seed)
    printers = []
    for number, count in enumerate(charts):
        name = f"printer-{number}"
        own = [
            Chart(
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
            Printer(
                name=name,
                loaded=random.choice((*NAMES, None)),
                change_minutes=step * random.randint(1, 12 // step),
                adapter_minutes=step * random.randint(0, 6 // step),
                charts=tuple(own),
            )
        )
    return room(*printers)


minutes = st.integers(1, 12)


@st.composite
def rooms(draw: st.DrawFn, most_charts: int, printers: int) -> Room:
    """Rooms with up to `most_charts` on so many printers."""
    count = draw(st.integers(0, most_charts))
    homes = [draw(st.integers(0, printers - 1)) for _ in range(count)]
    return room(*(_printer(draw, f"printer-{number}", homes.count(number)) for number in range(printers)))


def _printer(draw: st.DrawFn, name: str, charts: int) -> Printer:
    return Printer(
        name=name,
        loaded=draw(st.sampled_from((*NAMES, None))),
        change_minutes=draw(minutes),
        adapter_minutes=draw(st.integers(0, 6)),
        charts=tuple(
            Chart(
                condition=f"{name}/chart-{place}",
                stock=draw(st.sampled_from(NAMES)),
                print_minutes=draw(minutes),
                drying_minutes=draw(st.integers(0, 40)),
                measuring_minutes=draw(minutes),
            )
            for place in range(charts)
        ),
    )
