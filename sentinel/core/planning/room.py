"""What the planning of a round is told: stocks, printers as they stand, and the charts to print on them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
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
class Roll:
    """A roll that is, or was last, on a printer."""

    stock: str
    metres_left: float | None = None
    """None where nobody said."""
    core: str | None = None
    """What this very roll is wound on, which counts before what is said of its stock; None where nobody said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
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
class Printer:
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
    charts: tuple[Chart, ...] = ()

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

    printers: tuple[Printer, ...]
    stocks: tuple[Stock, ...] = ()
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
    def charts(self) -> tuple[Chart, ...]:
        """Those of every printer."""
        return tuple(chart for printer in self.printers for chart in printer.charts)

    def stock(self, name: str) -> Stock:
        """The stock of that name; one nobody described has a name and nothing else."""
        return next((stock for stock in self.stocks if stock.name == name), Stock(name=name))

    def core(self, printer: Printer, stock: str) -> str | None:
        """What the roll of this stock for this printer is wound on, or None where nobody said."""
        told = (roll.core for roll in printer.rolls if roll.stock == stock)
        return next(told, None) or self.stock(stock).core
