"""What a diagnosis is made from: one reading beside its aim, patch by patch, and what is known around it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from sentinel.core.cgats.document import FloatArray
from sentinel.core.recalibration.subject import Readings, Spectra

Rows = npt.NDArray[np.intp]
MCondition = Literal["M0", "M1", "M2", "M3"]


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """Every single reading in the order of the file.

    `lab` is (m, 3); `patch` (m,) says to which matched patch its device values belong, -1 for none;
    `places` is (m, 2), column and row on the sheet, where known.
    """

    lab: FloatArray
    patch: Rows
    places: FloatArray | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Rival:
    """The target of another stock: its aim as Lab (n, 3) for the same patches, NaN where it lacks one."""

    name: str
    aim: FloatArray


@dataclass(frozen=True, slots=True)
class Context:
    """What is known beside the file; None and the empty are 'not known'.

    `hours_since_print` and `drying_hours` tell of a wet chart; `moved_alike` (-1 to 1) is how alike other conditions
    read by the same instrument moved since the same day, -1 for 'they stayed'; `new_lot` that a new lot of the stock
    was loaded; `weights` scales what each cause is expected with: 1 leaves the balance as it is.
    """

    aim_m: MCondition | None = None
    reading_m: MCondition | None = None
    hours_since_print: float | None = None
    drying_hours: float | None = None
    moved_alike: float | None = None
    new_lot: bool | None = None
    weights: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """A reading of n patches beside its aim.

    `device` is (n, inks): ink amounts in percent for a chart in `ink_space`, else of no use but to tell `paper` (n,),
    the patches without any ink. `aim` and `reading` are Lab (n, 3) under D50 and 2 degrees, replicates averaged.
    """

    inks: tuple[str, ...]
    device: FloatArray
    ink_space: bool
    paper: npt.NDArray[np.bool_]
    aim: FloatArray
    reading: FloatArray
    labels: tuple[str, ...] = ()
    spectra: Spectra | None = None
    sheet: Sheet | None = None
    rivals: tuple[Rival, ...] = ()
    context: Context = Context()

    @property
    def readings(self) -> Readings:
        """The same as a recalibration takes it."""
        return Readings(self.inks, self.device, self.ink_space, self.aim, self.reading, self.spectra)
