"""Scoring one measurement: targets from files, the one that fits its chart, comparing, judging; and scoring a recorded
check again."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from sentinel.core.colour.bands import SpectrumError
from sentinel.core.colour.difference import de00
from sentinel.core.measurement import (
    STRUCTURAL_BOUNDS,
    Measurement,
    MeasurementCondition,
    Understand,
    UnreadableError,
)
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.message import msg
from sentinel.core.scoring.agreement import comparable, understood
from sentinel.core.scoring.contradictions import held_against_itself, paper_against_dark, readings_apart
from sentinel.core.scoring.groups import groups
from sentinel.core.scoring.judging import is_recovered, judge
from sentinel.core.scoring.matching import Match, match
from sentinel.core.scoring.membership import Counted, counted, lacking
from sentinel.core.scoring.metrics import Metrics, Patch, figures_of, requested
from sentinel.core.scoring.policy import Limits, ScoringOptions, ScoringRules
from sentinel.core.verdict import Code, Reason, Unscored, Verdict


def worst_patches(match: Match, count: int) -> list[dict[str, Any]]:
    """At most `count` patches, the worst first: `patch`, `aim` and `read` as [L*, a*, b*], `de00`."""
    differences = de00(match.aim, match.lab)
    return [
        {
            "patch": match.labels[row],
            "aim": match.aim[row].tolist(),
            "read": match.lab[row].tolist(),
            "de00": float(differences[row]),
        }
        for row in np.argsort(differences, kind="stable")[::-1][:count].tolist()
    ]


def brightener_index(measurements: Sequence[Measurement]) -> dict[str, float] | None:
    """M1 less M2 of the paper in L*, a* and b*: a difference and nothing else. None where not both were read."""
    by_m = {measurement.condition.m: measurement for measurement in measurements}
    if "M1" not in by_m or "M2" not in by_m:
        return None
    try:
        pairs = match(by_m["M2"], by_m["M1"])
    except (Unscored, SpectrumError):
        return None
    paper = groups(pairs.inks, pairs.device, pairs.aim).get("paper")
    if paper is None:
        return None
    delta = np.mean(pairs.lab[paper] - pairs.aim[paper], axis=0)
    return {"dl": float(delta[0]), "da": float(delta[1]), "db": float(delta[2])}


RULES_VERSION = 3
"""Raised whenever the same file, target and limits could score differently than before."""


PLAIN = ScoringOptions()


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """Aim values for a chart.

    `condition` is what its file says, with what was declared for it filled in; `stock` is what people call the stock
    it stands for, where that is known. `aim_sheets` is of how many sheets it is the mean, see `adoption.sheets_of`.
    """

    name: str
    sha256: str
    measurement: Measurement
    condition: MeasurementCondition
    colour_path: str
    instrument: str | None = None
    stock: str | None = None
    aim_sheets: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """A target with the limits that hold for it here, and how its figures are made.

    `least_share` is the part of its patches a file must hold; None accepts a file that holds a part of the target,
    if nearly all of the file is in the target. `required` are the groups that must have been read, see `lacking`.
    """

    target: Target
    limits: Limits
    least_share: float | None
    reckoning: ScoringOptions = PLAIN
    required: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Score:
    """The outcome for one measurement; `aim` and `match` are None where it could not be scored.

    `worst` are the patches farthest off; `recovered` says that a failing condition is over with it; `patches` counts
    those of every group of the target, where there is a match or too few of a group to judge.
    """

    verdict: Verdict
    reasons: tuple[Reason, ...]
    metrics: Metrics = field(default_factory=dict)
    aim: Aim | None = None
    match: Match | None = None
    rival: str | None = None
    worst: tuple[Patch, ...] = ()
    recovered: bool = False
    patches: Counted = field(default_factory=dict)

    def noting(self, *reasons: Reason) -> Score:
        """The same with further reasons behind those it has."""
        return replace(self, reasons=(*self.reasons, *reasons))


def unscored(*reasons: Reason) -> Score:
    """The outcome of what cannot be scored."""
    return Score(Verdict.UNSCORED, reasons)


def score(sample: Measurement, condition: MeasurementCondition, aims: Sequence[Aim], rules: ScoringRules) -> Score:
    """The sample under `condition` against the aim that fits its chart best. Never raises for what a file holds."""
    try:
        understood(sample, condition)
        aim, pairs = _best(sample, aims)
        _enough(pairs, aim, rules)
        remarks = (
            *comparable(aim.target.condition, condition, rules.score_unknown_m),
            *held_against_itself(sample),
        )
    except Unscored as outcome:
        return unscored(outcome.reason)
    patches = counted(pairs, aim.reckoning)
    if missing := lacking(patches, aim.required, rules.least_share):
        return Score(Verdict.UNSCORED, (*missing, *remarks, *_partial(pairs)), patches=patches)
    patches = counted(pairs.settled, aim.reckoning)
    metrics, worst = figures_of(pairs, aim.reckoning, requested(aim.limits))
    verdict, reasons = judge(metrics, aim.limits, patches)
    recovered = verdict is not Verdict.FAIL and is_recovered(metrics, aim.limits)
    reasons = (*reasons, *remarks, *_rounded(pairs), *_partial(pairs))
    scored = Score(verdict, reasons, metrics, aim, pairs, worst=worst, recovered=recovered, patches=patches)
    return _without_contradictions(scored, pairs, aim, rules)


def _without_contradictions(scored: Score, pairs: Match, aim: Aim, rules: ScoringRules) -> Score:
    """Its verdict withheld where too few patches are left, of all or of what is required, without those whose readings
    are apart, or the paper is darker than the darkest patches; its figures stay, and the diagnosis sees every row."""
    apart, inverted = readings_apart(pairs), paper_against_dark(pairs)
    missing = lacking(scored.patches, aim.required, rules.least_share) if apart else ()
    if inverted or missing or (apart and not _is_enough(pairs.settled, aim, rules)):
        reasons = (*inverted, *missing, *apart, *scored.reasons)
        return replace(scored, verdict=Verdict.UNSCORED, reasons=reasons, recovered=False)
    return scored.noting(*apart) if apart else scored


def _best(sample: Measurement, aims: Sequence[Aim]) -> tuple[Aim, Match]:
    """The aim that shares most of its and the sample's patches. Raises Unscored, with the reason, where none does."""
    fits: list[tuple[Aim, Match]] = []
    refusals: list[Unscored] = []
    for aim in aims:
        try:
            fits.append((aim, _matched(aim.target, sample)))
        except Unscored as refusal:
            refusals.append(refusal)
    if fits:
        return max(fits, key=lambda fit: fit[1].target_share + fit[1].measured_share)
    if refusals:
        raise refusals[0]
    raise Unscored(Code.NO_TARGET, msg("expected an aim for this printing condition, the settings name none"))


def _matched(target: Target, sample: Measurement) -> Match:
    try:
        understood(target.measurement, target.condition)
        return match(target.measurement, sample)
    except SpectrumError as fault:
        raise Unscored(Code.SPECTRAL_RANGE, fault.sentence) from fault


def _is_enough(pairs: Match, aim: Aim, rules: ScoringRules) -> bool:
    share = pairs.target_share if aim.least_share is not None else max(pairs.target_share, pairs.measured_share)
    return share >= _least_share(aim, rules) and len(pairs) >= rules.least_patches


def _least_share(aim: Aim, rules: ScoringRules) -> float:
    return rules.least_share if aim.least_share is None else aim.least_share


def _enough(pairs: Match, aim: Aim, rules: ScoringRules) -> None:
    if not _is_enough(pairs, aim, rules):
        raise Unscored(
            Code.TOO_FEW_PATCHES,
            msg(
                "expected at least {share:.0%} of the {patches} patches of {target}, and no fewer than {fewest} "
                "patches, got {found} patches among {read} patches read",
                share=_least_share(aim, rules),
                patches=pairs.target_patches,
                target=aim.target.name,
                fewest=rules.least_patches,
                found=len(pairs),
                read=pairs.measured_patches,
            ),
        )


def _rounded(pairs: Match) -> tuple[Reason, ...]:
    if not pairs.near:
        return ()
    message = msg(
        "{count} patch was matched although its device values differ by the rounding of exports",
        "{count} patches were matched although their device values differ by the rounding of exports",
        count=pairs.near,
    )
    return (Reason(Code.DEVICE_VALUES_ROUNDED, message),)


def _partial(pairs: Match) -> tuple[Reason, ...]:
    if len(pairs) == pairs.target_patches:
        return ()
    message = msg(
        "{found} patches were read of the aim's {patches} patches", found=len(pairs), patches=pairs.target_patches
    )
    return (Reason(Code.PART_OF_TARGET, message),)


def against_rivals(
    result: Score, sample: Measurement, condition: MeasurementCondition, rivals: Iterable[Target], rules: ScoringRules
) -> Score:
    """The score, where it failed and another target fits so much better that the wrong stock is plausible with a remark
    on that."""
    if result.verdict is not Verdict.FAIL:
        return result
    bound = result.metrics["all"]["de00_mean"] * rules.rival_share
    best: tuple[float, Target] | None = None
    for rival in rivals:
        try:
            comparable(rival.condition, condition, unknown_m_scored=True)
            pairs = _matched(rival, sample)
        except Unscored:
            continue
        mean = float(de00(pairs.aim, pairs.lab).mean())
        if (
            len(pairs) >= rules.least_share * len(result.match or pairs)
            and len(pairs) >= rules.least_patches
            and mean <= bound
            and (best is None or mean < best[0])
        ):
            best = (mean, rival)
    if best is None:
        return result
    mean, rival = best
    message = FITS_BETTER.format(stock=rival.stock or rival.name, mean=mean, own=result.metrics["all"]["de00_mean"])
    return replace(result.noting(Reason(Code.RIVAL_FITS_BETTER, message)), rival=rival.name)


FITS_BETTER = msg(
    "the aim of {stock} fits better: mean {mean:.2f} ΔE00 instead of {own:.2f} ΔE00; make sure which stock was printed"
)


TOLERANCE = 1e-9
"""Differences of figures between environments, in their own unit, that are no difference."""


@dataclass(frozen=True, slots=True)
class Rescored:
    """`worst` is the largest difference of any figure from the recorded one; `differing` says of every figure that is
    not the same to the last bit by how much, None of one that only one side has."""

    verdict: Verdict
    reasons: tuple[Reason, ...]
    metrics: Metrics
    worst: float
    differing: Mapping[str, float | None]


def rescored(
    target: Measurement, sample: Measurement, limits: Limits, reckoning: ScoringOptions, recorded: Metrics
) -> Rescored:
    """The same arithmetic on the same readings. Raises Unscored where they no longer match."""
    pairs = match(target, sample)
    metrics = figures_of(pairs, reckoning, requested(limits)).metrics
    verdict, reasons = judge(metrics, limits, counted(pairs, reckoning))
    before, after = dict(_flat(recorded)), dict(_flat(metrics))
    differing = {
        name: abs(before[name] - after[name]) if name in before and name in after else None
        for name in sorted(before.keys() | after.keys())
        if before.get(name) != after.get(name)
    }
    worst = max((each for each in differing.values() if each is not None), default=0.0)
    return Rescored(verdict, reasons, metrics, worst, differing)


def _flat(metrics: Metrics) -> Iterator[tuple[str, float]]:
    for group, values in metrics.items():
        for metric, value in values.items():
            yield f"{group}.{metric}", value


class TargetAway(Unscored):
    """The disk did not give a target that is there, and may do so yet."""


def target_from(
    data: bytes,
    name: str,
    table: int,
    colour_path: str,
    declared: MeasurementCondition,
    instrument: str | None = None,
    understand: Understand = read_measurements,
) -> Target:
    """The target in measurement number `table` (from 1) of a file; `declared` fills what the file does not say.

    Raises Unscored, with the reason, where the file cannot serve as a target.
    """
    try:
        found = understand(data, STRUCTURAL_BOUNDS)
    except (UnreadableError, Unscored) as fault:
        said = fault.sentence if isinstance(fault, UnreadableError) else fault.reason.message
        message = msg("the aim {name} cannot be read: {fault}", name=name, fault=said)
        raise Unscored(Code.TARGET_NOT_READABLE, message) from fault
    if len(found) < table:
        raise Unscored(
            Code.TARGET_NOT_READABLE,
            msg(
                "expected {table} measurements or more in the aim {name}, got {found}",
                table=table,
                name=name,
                found=len(found),
            ),
        )
    chosen = found[table - 1]
    if chosen.reflectance is None and chosen.lab is None and chosen.xyz is None:
        raise Unscored(
            Code.TARGET_NOT_READABLE,
            msg("expected spectral, Lab or XYZ columns in the aim {name}, got none of them", name=name),
        )
    own = chosen.condition
    condition = replace(own, m=own.m or declared.m, backing=own.backing or declared.backing)
    serial = chosen.serial or instrument
    return Target(name, hashlib.sha256(data).hexdigest(), chosen, condition, colour_path, serial)
