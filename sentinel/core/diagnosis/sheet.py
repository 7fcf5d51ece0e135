"""What a diagnosis is made from: one reading beside its aim, patch by patch, and what is known around it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray, Rows
from sentinel.core.colour.bands import SpectrumError
from sentinel.core.diagnosis.drying import DryingBehaviour
from sentinel.core.inks.ordinary import AS_EVERYWHERE, OrdinaryMovement
from sentinel.core.inks.readings import PairedSpectra, Readings, pair_keys, paired_spectra
from sentinel.core.measurement import InstrumentName, Measurement
from sentinel.core.scoring.averaging import colour_source
from sentinel.core.scoring.groups import groups, named_inks
from sentinel.core.scoring.matching import Match, match, sample_keys
from sentinel.core.scoring.metrics import coordinates
from sentinel.core.verdict import Unscored

MCondition = Literal["M0", "M1", "M2", "M3"]
NOT_TOLD = InstrumentName()


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

    `hours_since_print` and `drying_hours` tell of a wet chart, `drying` what was learnt of how the stock dries;
    `moved_alike` (-1 to 1) is how alike other conditions read by the same instrument moved since the same day, -1 for
    'they stayed'; `new_lot` that a new lot of the stock was loaded; `aim_read_with` and `read_with` are the instruments
    of the aim and of the reading; `weights` scales what each cause is expected with: 1 leaves the balance as it is;
    `movement` is how far sheets move here from one to the next; `light_inks` are the inks that the printer's driver
    splits into a light and a full one, empty where it splits none.
    """

    aim_m: MCondition | None = None
    reading_m: MCondition | None = None
    hours_since_print: float | None = None
    drying_hours: float | None = None
    moved_alike: float | None = None
    new_lot: bool | None = None
    aim_read_with: InstrumentName = NOT_TOLD
    read_with: InstrumentName = NOT_TOLD
    drying: DryingBehaviour | None = None
    weights: Mapping[str, float] = field(default_factory=dict)
    movement: OrdinaryMovement = AS_EVERYWHERE
    light_inks: tuple[str, ...] | None = None

    @property
    def instruments(self) -> tuple[str, str] | None:
        """What those of the aim and of the reading are called, where they are known to be two."""
        aim, own = self.aim_read_with.told, self.read_with.told
        return (aim, own) if aim and own and self.read_with.is_other_than(self.aim_read_with) else None


@dataclass(frozen=True, slots=True, eq=False)
class DiagnosisSubject:
    """A reading of n patches beside its aim.

    `device` is (n, inks): ink amounts in percent for a chart in `ink_space`, else of no use but to tell `paper` (n,),
    the patches without any ink. `aim` and `reading` are Lab (n, 3) under D50 and 2 degrees, replicates averaged;
    `aim_sheets` as in `Readings`.
    """

    inks: tuple[str, ...]
    device: FloatArray
    ink_space: bool
    paper: npt.NDArray[np.bool_]
    aim: FloatArray
    reading: FloatArray
    labels: tuple[str, ...] = ()
    spectra: PairedSpectra | None = None
    sheet: Sheet | None = None
    rivals: tuple[Rival, ...] = ()
    context: Context = Context()
    aim_sheets: float = 1.0

    @property
    def readings(self) -> Readings:
        """The same as a recalibration takes it."""
        return Readings(self.inks, self.device, self.ink_space, self.aim, self.reading, self.spectra, self.aim_sheets)


def subject_of(
    pairs: Match,
    target: Measurement,
    sample: Measurement,
    *,
    ink_space: bool,
    ink_names: tuple[str, ...] = (),
    context: Context | None = None,
    aim_sheets: float = 1.0,
) -> DiagnosisSubject:
    """The reading `sample` beside its `target`, matched as `pairs`, without rivals.

    Inks are called as the chart calls them, or by `ink_names` where it numbers its channels. Nothing is said of inks
    where the amounts of some patches are unknown.
    """
    inks = named_inks(pairs.inks, ink_names)
    paper = groups(pairs.inks, pairs.device, pairs.aim).get("paper", np.zeros(len(pairs), dtype=bool))
    return DiagnosisSubject(
        inks=inks,
        device=pairs.device,
        ink_space=ink_space and set(inks) not in (set(), {"R", "G", "B"}) and not np.isnan(pairs.device).any(),
        paper=paper,
        aim=pairs.aim,
        reading=pairs.lab,
        labels=pairs.labels,
        spectra=paired_spectra(pairs),
        sheet=_sheet(pairs, target, sample),
        context=context or Context(),
        aim_sheets=aim_sheets,
    )


def _sheet(pairs: Match, target: Measurement, sample: Measurement) -> Sheet:
    values, to_lab = colour_source(sample)
    where = {key: row for row, key in enumerate(pair_keys(pairs, target))}
    keys = sample_keys(target, sample, pairs.by)
    rows: Rows = np.array([where.get(key, -1) if key is not None else -1 for key in keys])
    lab = to_lab(values)
    rows[np.isnan(lab).any(axis=1)] = -1
    return Sheet(lab, rows, _places(sample.chart.positions))


def _places(positions: Sequence[str] | None) -> FloatArray | None:
    """Column and row of each reading, where every place can be read and none is there twice."""
    found = coordinates(positions) if positions is not None else None
    return found if found is not None and len(np.unique(found, axis=0)) == len(found) else None


def rivals_of(
    pairs: Match, target: Measurement, sample: Measurement, rivals: Iterable[tuple[str, Measurement]]
) -> tuple[Rival, ...]:
    """The targets of other stocks, by name, that share patches with these pairs."""
    return tuple(_rivals(pairs, target, sample, rivals))


def _rivals(
    pairs: Match, target: Measurement, sample: Measurement, rivals: Iterable[tuple[str, Measurement]]
) -> Iterator[Rival]:
    where = {key: row for row, key in enumerate(pair_keys(pairs, target))}
    for name, rival in rivals:
        try:
            other = match(rival, sample)
        except (Unscored, SpectrumError):
            continue
        aim = np.full_like(pairs.aim, np.nan)
        keys = pair_keys(other, rival)
        there = [(where[key], row) for row, key in enumerate(keys) if key in where and other.by == pairs.by]
        if there:
            ours, theirs = np.array(there).T
            aim[ours] = other.aim[theirs]
            yield Rival(name, aim)
