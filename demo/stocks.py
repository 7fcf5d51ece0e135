"""The printers and stocks of the invented room, as the print model sees them."""

from __future__ import annotations

from demo.print_model import Drift
from demo.simulator.papers import Paper


def _stock(
    name: str, white: float, tint: float, brightener: float, surface: float, uptake: float, gain: float
) -> Paper:
    return Paper(
        name=name, family=name.partition("-")[0], white=white, tint=tint, hump=0.0, brightener=brightener, peak=440.0,
        under_m0=0.6, surface=surface, uptake=uptake, gain=gain, n=2.0, wet=1.0,
    )  # fmt: skip


_ALL = (
    _stock("satin-240", white=0.90, tint=0.02, brightener=0.06, surface=0.003, uptake=1.00, gain=0.10),
    _stock("cotton-310", white=0.88, tint=0.08, brightener=0.00, surface=0.022, uptake=0.78, gain=0.17),
    _stock("banner-440", white=0.86, tint=0.03, brightener=0.03, surface=0.015, uptake=0.90, gain=0.13),
    _stock("board-300", white=0.84, tint=0.05, brightener=0.02, surface=0.010, uptake=0.92, gain=0.12),
)
STOCKS = {stock.name: stock for stock in _ALL}

# each printer lays down ink in its own way, and its aims were read from its own prints
PRINTERS = {
    "north": Drift(),
    "harbour": Drift(density={"C": 0.96, "M": 1.03, "K": 0.95}, gain=0.02),
    "quarry": Drift(density={"C": 1.02, "M": 0.97, "Y": 0.95}, gain=-0.03),
}


def press(printer: str, drift: Drift) -> Drift:
    """A printer's own way with a drift on top."""
    own = PRINTERS[printer]
    inks = {*own.density, *drift.density}
    density = {ink: own.density.get(ink, 1.0) * drift.density.get(ink, 1.0) for ink in inks}
    return Drift(density, own.gain + drift.gain)
