"""Which checks a study is made of: causes in equal shares, healthy prints, two faults at once, and what is beyond.

The numbers alone decide; the same study of the same world has the same checks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

from demo.simulator.checks import LabelledCheck, draw_check
from demo.simulator.files import Values
from demo.simulator.rooms import Kind, World
from demo.simulator.sizes import NotReachableError

MIX = (
    "solid off", "healthy", "wrong mode", "rows shifted", "new lot", "tone shift", "wet", "healthy", "wrong scale",
    "scratch", "wrong substrate", "head wear", "strip backwards", "recalibrated", "new lot", "wrong mode", "tone shift",
    "nozzle line", "drift", "healthy", "wet", "wrong substrate", "wrong scale", "sheet turned", "nozzle line",
)  # fmt: skip
"""One round of single checks, two or three of each cause and four healthy: 25, no factor in common with 24 rooms."""

PAIRED = (
    "head wear", "tone shift", "wet", "new lot", "wrong substrate", "wrong mode", "wrong scale", "rows shifted",
    "scratch",
)  # fmt: skip
NEVER_TOGETHER = {("new lot", "wrong substrate")}
"""The paper is another one or of another lot, not both."""
PAIRS = tuple(pair for pair in combinations(PAIRED, 2) if pair not in NEVER_TOGETHER)

BEYOND = ("humidity",)
"""Faults of all inks at once, which no cause of the list is made for: shown without a claim."""

_ANOTHER = 1_000_003
_TRIES = 24


@dataclass(frozen=True, slots=True)
class Sample:
    """One check to be drawn, with the number it is asked for first."""

    world: World
    number: int
    cases: tuple[str, ...]
    kind: Kind = "full"
    values: Values = "spectra"

    @property
    def room(self) -> int:
        """The room it is drawn from first."""
        return self.number % self.world.rooms

    def draw(self) -> LabelledCheck:
        """The check; from another room where its own cannot show these faults beyond the warning limits."""
        for again in range(_TRIES):
            try:
                return draw_check(self.world, self.number + again * _ANOTHER, self.cases, self.kind, self.values)
            except NotReachableError:
                continue
        raise NotReachableError(f"expected a room of {self.world.name} to show {' and '.join(self.cases)}")


def singles(world: World, count: int, kind: Kind, values: Values) -> list[Sample]:
    """So many checks with one cause or none."""
    return [Sample(world, number, (MIX[number % len(MIX)],), kind, values) for number in range(count)]


def doubles(world: World, count: int) -> list[Sample]:
    """So many full spectral checks with two faults."""
    return [Sample(world, number, PAIRS[11 * number % len(PAIRS)]) for number in range(count)]


def light_inks(world: World, count: int, kind: Kind) -> list[Sample]:
    """So many checks on which a light ink behind C, M or K is off."""
    return [Sample(world, number, ("light ink",), kind) for number in range(count)]


def beyond(world: World, count: int) -> list[Sample]:
    """So many full spectral checks with what no cause is made for."""
    return [Sample(world, number, (BEYOND[number % len(BEYOND)],)) for number in range(count)]


def by_room(samples: Iterable[Sample]) -> list[list[Sample]]:
    """The same, room by room: a room's responses and aims are made once."""
    rooms: dict[tuple[str, int], list[Sample]] = defaultdict(list)
    for sample in samples:
        rooms[sample.kind, sample.room].append(sample)
    return list(rooms.values())
