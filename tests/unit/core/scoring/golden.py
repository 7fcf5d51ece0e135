"""The golden scores: what the two published datasets, and invented spectra, score against one another.

Rescoring must give the same again, or say by RULES_VERSION that it does not. After a change that is meant:
raise RULES_VERSION in sentinel/core/scoring/score.py, run

    python -m tests.unit.core.scoring.golden

at the top of the project, and read the difference of tests/data/golden_scores.json. It refuses to write changed
scores under a version that is already in the file. Figures that are new beside unchanged ones may join a version
while no release has it:

    python -m tests.unit.core.scoring.golden --added
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import measurements, read
from sentinel.core.scoring.policy import OwnGroup, ScoringOptions, ScoringRules
from sentinel.core.scoring.score import RULES_VERSION, Aim, Score, Target, score
from sentinel.settings.targets_and_limits import HOUSE_LIMITS
from tests.unit.core.builders import WAVELENGTHS, FloatArray

DATA = Path(__file__).parents[3] / "data"
GOLDEN = DATA / "golden_scores.json"
TOLERANCE = 1e-9
ABOUT = "written by python -m tests.unit.core.scoring.golden, which says when it may be; never by hand"
POLICY = ScoringRules(score_unknown_m=True, least_patches=6, least_share=0.9, rival_share=0.5)
PLAIN = ScoringOptions()
OWN = ScoringOptions(
    ink_names=("C", "M", "Y", "K"),
    own_groups={"skin": OwnGroup(where="K == 0 and C < M and M > 20 and total < 140"), "first": OwnGroup(("1", "9"))},
    share_beyond=1.0,
)

Scores = dict[str, dict[str, Any]]


class SameVersionError(Exception):
    """Scores changed and RULES_VERSION did not."""


def scores() -> Scores:
    """Every golden case as it scores now."""
    fogra, tr006 = dataset("FOGRA39L"), dataset("TR006")
    return {
        "TR006 against FOGRA39L, Lab": outcome(fogra, tr006),
        "FOGRA39L against TR006, Lab": outcome(tr006, fogra),
        "TR006 against FOGRA39L, XYZ": outcome(replace(fogra, lab=None), replace(tr006, lab=None)),
        "FOGRA39L against TR006, Lab against XYZ": outcome(replace(tr006, lab=None), fogra),
        "invented spectra, strong against weak inks": outcome(printed(fogra, 0.9), printed(fogra, 1.0)),
        "invented spectra against FOGRA39L": outcome(fogra, printed(fogra, 1.0)),
        "TR006 against FOGRA39L, four channels named, own groups": outcome(channels(fogra), channels(tr006), OWN),
        "TR006 against FOGRA39L, places known": outcome(fogra, placed(tr006)),
    }


def dataset(name: str) -> Measurement:
    [found] = measurements(read((DATA / "datasets" / f"{name}.txt").read_bytes()))
    return found


def printed(chart: Measurement, strength: float) -> Measurement:
    """The chart with invented spectra: each ink takes light away around its own wavelength, black throughout."""
    centres, widths = np.array([640.0, 535.0, 440.0]), np.array([70.0, 50.0, 45.0])
    bands = np.exp(-(((WAVELENGTHS - centres[:, None]) / widths[:, None]) ** 2))
    absorption = np.vstack([1.6 * bands, np.full(len(WAVELENGTHS), 1.7)])
    reflectance: FloatArray = 0.88 * np.exp(-strength * (chart.chart.device / 100) @ absorption)
    return replace(chart, reflectance=reflectance, wavelengths=WAVELENGTHS, lab=None, xyz=None)


def channels(measured: Measurement) -> Measurement:
    """Its inks called by their channel alone."""
    return replace(measured, chart=replace(measured.chart, inks=tuple(f"4CLR_{number}" for number in range(1, 5))))


def placed(measured: Measurement) -> Measurement:
    """Its rows as rows of 49 patches on one sheet."""
    places = tuple(f"{1 + row % 49}-{1 + row // 49}" for row in range(len(measured.chart.ids)))
    return replace(measured, chart=replace(measured.chart, positions=places))


def outcome(aim: Measurement, sample: Measurement, reckoning: ScoringOptions = PLAIN) -> dict[str, Any]:
    target = Target("aim", "", aim, aim.condition, "ink-space")
    return _shown(score(sample, sample.condition, [Aim(target, HOUSE_LIMITS, 0.9, reckoning)], POLICY))


def _shown(found: Score) -> dict[str, Any]:
    assert found.match is not None
    every_200th = slice(None, None, 200)
    return {
        "verdict": found.verdict.value,
        "recovered": found.recovered,
        "reasons": [reason.code.value for reason in found.reasons],
        "matched": len(found.match),
        "metrics": {group: dict(values) for group, values in found.metrics.items()},
        "worst": [[patch.label, patch.de00] for patch in found.worst],
        "lab of every 200th patch": found.match.lab[every_200th].tolist(),
        "spread of every 200th patch": found.match.spread[every_200th].tolist(),
    }


def differences(kept: Any, found: Any, place: str = "") -> list[str]:
    """Where the two are not the same, numbers to 1e-9."""
    if isinstance(kept, dict) and isinstance(found, dict):
        names = list(dict.fromkeys([*kept, *found]))
        return [
            line
            for name in names
            for line in differences(kept.get(name), found.get(name), f"{place} / {name}" if place else name)
        ]
    if isinstance(kept, list) and isinstance(found, list) and len(kept) == len(found):
        pairs = enumerate(zip(kept, found, strict=True))
        return [line for row, pair in pairs for line in differences(*pair, f"{place} [{row}]")]
    if isinstance(kept, float) and isinstance(found, float):
        return [] if abs(kept - found) <= TOLERANCE else [f"{place}: {kept!r} became {found!r}"]
    return [] if kept == found else [f"{place}: {_short(kept)} became {_short(found)}"]


def _short(value: Any) -> str:
    return "a table" if isinstance(value, dict) else repr(value)


def without_additions(kept: Any, found: Any) -> Any:
    """`found` without what `kept` has no name for."""
    if not (isinstance(kept, dict) and isinstance(found, dict)):
        return found
    return {name: without_additions(kept[name], value) for name, value in found.items() if name in kept}


def write(path: Path, version: int, found: Scores, *, additions: bool = False) -> None:
    """Replaces the golden file. Raises SameVersionError where its scores changed and `version` is the same.

    With `additions`, names that the file does not have yet are no change.
    """
    if path.exists():
        kept = json.loads(path.read_text(encoding="utf-8"))
        changed = differences(kept["scores"], without_additions(kept["scores"], found) if additions else found)
        if changed and kept["rules_version"] >= version:
            raise SameVersionError("raise RULES_VERSION first; scores changed:\n" + "\n".join(changed))
    content = {"about": ABOUT, "rules_version": version, "scores": found}
    path.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description="Writes the golden scores anew.")
    parser.add_argument("--added", action="store_true", help="what is new may join a version that no release has")
    write(GOLDEN, RULES_VERSION, scores(), additions=parser.parse_args().added)


if __name__ == "__main__":
    main()
