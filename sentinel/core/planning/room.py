"""What the planning of a round is told: stocks, rolls, printers as they stand, charts to print."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from sentinel.core.conditions.events import Event, EventKind


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundStock:
    """A substrate as whoever handles its roll must know it."""

    name: str
    label: str | None = None
    core: str | None = None
    """What the roll is wound on, in any words, such as `3 inch`; None where nobody said."""
    notes: str | None = None
    """Coated side, handling."""

    @property
    def title(self) -> str:
        """How people call it."""
        return self.label or self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartMinutes:
    """How long a chart prints and is measured, in minutes, and what it uses of the roll."""

    print_minutes: float
    measuring_minutes: float
    metres: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PrinterTimes:
    """How people call a printer, and how long its roll changes take: see RoundPrinter."""

    label: str | None
    change_minutes: int
    adapter_minutes: int


@dataclass(frozen=True, slots=True)
class RoundRules:
    """What a round is planned by: checks due within `soon` are made in it; a drying time nobody said is assumed."""

    soon: timedelta
    assumed_drying_hours: float
    printers: Mapping[str, PrinterTimes]
    stocks: tuple[RoundStock, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """A roll that is, or was last, on a printer."""

    stock: str
    metres_left: float | None = None
    """None where nobody said."""
    core: str | None = None
    """What this very roll is wound on, which counts before what is said of its stock; None where nobody said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedChart:
    """A check to make: a chart to print, dry and measure. Whole minutes, rounded up by whoever hands them in."""

    condition: str
    """The printing condition, unique in the round."""
    stock: str
    print_minutes: int
    drying_minutes: int
    """Of this stock with the ink technology of this printer."""
    measuring_minutes: int
    drying_assumed: bool = False
    """Whether nobody said how long it dries, so that the time is an assumption, which is told."""
    metres: float | None = None
    """Stock it uses up, with the feed and the cut; None where nobody said."""
    why: str = "due"
    """Why it is in the round, in a word or two."""

    def __post_init__(self) -> None:
        least = {"print_minutes": 1, "drying_minutes": 0, "measuring_minutes": 1}
        for name, limit in least.items():
            if (minutes := getattr(self, name)) < limit:
                raise ValueError(f"{self.condition}: expected {name} of at least {limit}, got {minutes}")


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPrinter:
    """A printer as it stands when the round begins, with its charts in any order."""

    name: str
    label: str | None = None
    loaded: str | None = None
    """The stock on it; None where it is empty or nobody said, so that the first chart needs a roll change."""
    rolls: tuple[Roll, ...] = ()
    """What is known of rolls for this printer, one a stock, the loaded one among them."""
    change_minutes: int
    """A roll change, from taking the old roll off until the first chart can be printed."""
    adapter_minutes: int = 0
    """What a change takes longer when the cores differ, or when one of the two is not known."""
    charts: tuple[PlannedChart, ...] = ()

    def __post_init__(self) -> None:
        if self.change_minutes < 1:
            raise ValueError(f"{self.name}: expected change_minutes of at least 1, got {self.change_minutes}")
        if self.adapter_minutes < 0:
            raise ValueError(f"{self.name}: expected adapter_minutes of at least 0, got {self.adapter_minutes}")

    @property
    def title(self) -> str:
        """How people call it."""
        return self.label or self.name

    def metres_left(self, stock: str) -> float | None:
        """On the roll of this stock for this printer, or None where nobody said."""
        return next((roll.metres_left for roll in self.rolls if roll.stock == stock), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A check that is to be made and cannot be planned."""

    condition: str
    printer: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Everything a round is planned from."""

    printers: tuple[RoundPrinter, ...]
    stocks: tuple[RoundStock, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    """Never among the charts as well."""

    def __post_init__(self) -> None:
        for kind, names in (
            ("printer", [printer.name for printer in self.printers]),
            ("stock", [stock.name for stock in self.stocks]),
            ("condition", [*(chart.condition for chart in self.charts), *(each.condition for each in self.left_out)]),
        ):
            if twice := sorted({name for name in names if names.count(name) > 1}):
                raise ValueError(f"expected every {kind} once, got {', '.join(twice)} again")

    @property
    def charts(self) -> tuple[PlannedChart, ...]:
        """Those of every printer."""
        return tuple(chart for printer in self.printers for chart in printer.charts)

    def stock(self, name: str) -> RoundStock:
        """The stock of that name; one nobody described has a name and nothing else."""
        return next((stock for stock in self.stocks if stock.name == name), RoundStock(name=name))

    def core(self, printer: RoundPrinter, stock: str) -> str | None:
        """What the roll of this stock for this printer is wound on, or None where nobody said."""
        told = (roll.core for roll in printer.rolls if roll.stock == stock)
        return next(told, None) or self.stock(stock).core


def rolls_told(events: Iterable[Event], now: datetime) -> tuple[Roll, ...]:
    """The last roll of each stock on one printer, in the order in which they were loaded: the last is the one on it.

    `events` are those of that printer, in any order. What was printed on a stock after its roll was loaded is taken
    off its length, over the whole width of the roll; printing of which no stock is told was on the roll then loaded.
    The length is None where nobody told it, and where something was printed and the width is not known.
    """
    rolls: dict[str, Event] = {}
    printed: dict[str, float] = {}
    for event in sorted((event for event in events if event.at <= now), key=lambda event: (event.at, event.seq)):
        stock = event.substrate or next(reversed(rolls), None)
        if event.kind is EventKind.ROLL_LOADED and stock is not None:
            rolls.pop(stock, None)  # so that it stands last
            rolls[stock], printed[stock] = event, 0.0
        elif event.kind is EventKind.PRINTED_AREA and stock in rolls:
            printed[stock] += float(event.facts["square_metres"])
    return tuple(_roll(stock, event, printed[stock]) for stock, event in rolls.items())


def _roll(stock: str, event: Event, square_metres: float) -> Roll:
    inches = event.facts.get("core_inches")
    return Roll(stock=stock, metres_left=_left(event, square_metres), core=core_words(inches))


def _left(event: Event, square_metres: float) -> float | None:
    metres, width_mm = event.facts.get("metres"), event.facts.get("width_mm")
    if metres is None or not square_metres:
        return metres
    return max(0.0, metres - square_metres / (width_mm / 1000)) if width_mm else None


def core_words(inches: float | None) -> str | None:
    """What a roll is wound on, as people call it."""
    return f"{inches:g} inch" if inches else None
