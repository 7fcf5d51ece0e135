"""Whether what a plan states holds: probabilities of being outside, and the days between which a condition goes out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from tests.simulation.watch.records import Statement
from tests.simulation.watch.worlds import World

EDGES = (0.0, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9, 1.0)
"""Of stated probabilities; a part holds its upper edge."""
SOON = 28
"""Days."""


@dataclass(frozen=True)
class Held:
    """Statements against the truth, one row for each condition of which something was stated.

    `stated` and `outside` (n,): the probability, and whether it was so. `band` (m, 2) the days between which it goes
    out, counted from the evening, `went` (m,) when it does by the wear alone; inf where not within what is known.
    """

    stated: FloatArray
    outside: BoolArray
    band: FloatArray
    went: FloatArray


def held(world: World, statements: Sequence[tuple[int, Statement, FloatArray]]) -> Held:
    """What the truth of the room says to the statements; bands of conditions that are outside already are left out."""
    rows: list[Held] = []
    for day, stated, offset in statements:
        now = world.outside(world.worn[:, day] + world.stepped[:, day] - offset)
        told = ~np.isnan(stated.outside)
        bands = np.column_stack([stated.earliest, stated.latest]) - day
        banded = ~np.isnan(bands).any(axis=1) & ~now
        rows.append(Held(stated.outside[told], now[told], bands[banded], _goes_out(world, day, offset)[banded]))
    return joined(rows)


def joined(rows: Sequence[Held]) -> Held:
    """All as one."""
    none, pair = np.empty(0), np.empty((0, 2))
    return Held(
        np.concatenate([none, *(each.stated for each in rows)]),
        np.concatenate([none.astype(bool), *(each.outside for each in rows)]),
        np.concatenate([pair, *(each.band for each in rows)]),
        np.concatenate([none, *(each.went for each in rows)]),
    )


def _goes_out(world: World, day: int, offset: FloatArray) -> FloatArray:
    """Days (C,) until each is outside if nobody recalibrates and nothing steps; inf beyond what is known."""
    coming = world.worn[:, day + 1 :] + (world.stepped[:, day] - offset)[:, None]
    figures = np.einsum("cfi,cli->clf", world.maps, coming) + world.hue[:, None]
    beyond = np.any(np.abs(figures) > world.room.act[:, None], axis=2)
    days: FloatArray = np.where(beyond.any(axis=1), np.argmax(beyond, axis=1) + 1.0, np.inf)
    return days


def statement_lines(rooms: Sequence[Held]) -> Iterator[str]:
    """Both as Markdown; a line where nothing is stated."""
    all_of = joined(rooms)
    yield from _probabilities(all_of) if len(all_of.stated) else ["No probability is stated."]
    yield ""
    yield from _bands(all_of) if len(all_of.went) else ["No days are stated."]


def _probabilities(of: Held) -> Iterator[str]:
    yield "| stated probability of being outside | statements | mean stated | were outside |"
    yield "| --- | ---: | ---: | ---: |"
    part = np.maximum(np.searchsorted(EDGES, of.stated, side="left") - 1, 0)
    for number, (low, high) in enumerate(pairwise(EDGES)):
        here = part == number
        if here.any():
            mean, were = of.stated[here].mean(), of.outside[here].mean()
            yield f"| {low:g} to {high:g} | {here.sum()} | {mean:.1%} | {were:.1%} |"
    brier, base = np.mean((of.stated - of.outside) ** 2), of.outside.mean() * (1 - of.outside.mean())
    yield ""
    yield f"Brier score {brier:.4f}; always stating the mean would have {base:.4f}."


def _bands(of: Held) -> Iterator[str]:
    within = (of.band[:, 0] <= of.went) & (of.went <= of.band[:, 1])
    soon = of.went <= SOON
    yield f"Days of going out, by wear alone, within the stated 90 %: {within.mean():.1%} of {len(within)} statements"
    yield f"(too early {np.mean(of.went < of.band[:, 0]):.1%}, too late {np.mean(of.went > of.band[:, 1]):.1%});"
    if soon.any():
        yield f"{within[soon].mean():.1%} of the {soon.sum()} of conditions that go out within {SOON} days."
