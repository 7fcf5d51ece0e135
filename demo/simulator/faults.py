"""What can go wrong between the press that made the aim and the file that comes in, each with its true label.

A fault has a `size`, 0 for none, which `sizes.sized` sets to what is wanted; patch order has none. `scene` changes what
is printed or how it is read; `reading` what becomes of the spectra on their way into the file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal, NamedTuple

from demo.simulator.charts import Chart
from demo.simulator.papers import Mode
from demo.simulator.press import Press
from demo.simulator.spectra import FloatArray

Sign = Literal[-1, 1]


@dataclass(frozen=True, slots=True)
class Label:
    """The true cause by its code; the ink by its name in the file where it is one ink's; +1 for more, -1 for less."""

    cause: str
    ink: str | None = None
    sign: Sign | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """What is printed on and with, and the mode it is really read under."""

    press: Press
    mode: Mode


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A printed chart: `spectra` (patches, bands) in the chart's order, as they stand on the paper."""

    spectra: FloatArray
    scene: Scene
    chart: Chart


class Told(NamedTuple):
    """An ink by its place in the set, and a sign; None where the cause has none."""

    ink: int | None = None
    sign: Sign | None = None


@dataclass(frozen=True, kw_only=True)
class Fault:
    """Nothing wrong: what the others stand on. `greatest` is the largest size that is still believable."""

    size: float = 0.0
    cause: ClassVar[str] = ""
    greatest: ClassVar[float] = 0.0

    def scene(self, scene: Scene) -> Scene:
        """The scene under the fault."""
        return scene

    def reading(self, sheet: Sheet) -> FloatArray:
        """Spectra (patches, bands) as they come into the file, in the chart's order."""
        return sheet.spectra

    def told(self) -> Told:
        """Which ink and sign belong to the truth."""
        return Told()

    def label(self, inks: tuple[str, ...]) -> Label:
        """The truth, with ink names as the file has them."""
        ink, sign = self.told()
        return Label(self.cause, None if ink is None else inks[ink], sign)
