"""The targets that the sentinel keeps, as a table, in full and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from sentinel.application.kept_targets import ListedTarget
from sentinel.cli.terminal import table
from sentinel.core.scoring.target_versions import TargetVersion

SHORT = 12
"""Digits of a hash in a table."""


def targets_table(listed: Sequence[ListedTarget], zone: ZoneInfo) -> str:
    """One line a version."""
    rows = [
        (
            each.version.target.name,
            each.version.version,
            f"{each.version.target.added_at.astimezone(zone):%Y-%m-%d %H:%M}",
            each.version.target.sha256[:SHORT],
            each.version.target.source,
            _short_spread(each.version.target.facts),
            each.use.value,
            ", ".join(each.conditions),
        )
        for each in listed
    ]
    headers = ("target", "version", "since", "sha256", "source", "spread", "state", "used by")
    return table(headers, rows)


def target_json(listed: ListedTarget) -> dict[str, Any]:
    """All of a version. Times are UTC; `facts` are what is known of how it came about."""
    target, retirement = listed.version.target, listed.version.retirement
    return {
        "schema": "sentinel.target/1",
        "target": target.name,
        "version": listed.version.version,
        "state": listed.use.value,
        "conditions": list(listed.conditions),
        "sha256": target.sha256,
        "source": target.source,
        "since": target.added_at.isoformat(),
        "by": target.added_by,
        "approved_by": target.approved_by,
        "facts": dict(target.facts),
        "retired": None
        if retirement is None
        else {"at": retirement.at.isoformat(), "by": retirement.by, "why": retirement.why},
    }


def retired_json(retired: TargetVersion, left: ListedTarget | None, users: Sequence[str]) -> dict[str, Any]:
    """What was taken out of use, the version that holds instead, and whom that concerns."""
    return {
        "schema": "sentinel.target-retired/1",
        "target": retired.target.name,
        "version": retired.version,
        "in_use": None if left is None else left.version.version,
        "conditions": list(users),
    }


def target_text(listed: ListedTarget, zone: ZoneInfo) -> str:
    """All of a version, for people."""
    version, target, retirement = listed.version, listed.version.target, listed.version.retirement
    approval = f", approved by {target.approved_by}" if target.approved_by else ""
    lines = [
        f"target {target.name}, version {version.version}: {listed.use.value}"
        + (f" for {', '.join(listed.conditions)}" if listed.conditions else ""),
        f"source: {target.source}",
        f"kept: {target.added_at.astimezone(zone):%Y-%m-%d %H:%M} by {target.added_by}{approval}",
        f"sha256: {target.sha256}",
        f"holds: {_held(target.facts)}",
        *(_adoption(target.facts, target.approved_by) if "checks" in target.facts else ()),
    ]
    if retirement is not None:
        when = f"{retirement.at.astimezone(zone):%Y-%m-%d %H:%M}"
        lines.append(f"retired: {when} by {retirement.by}: {retirement.why}")
    return "\n".join(lines)


def added_text(listed: ListedTarget, zone: ZoneInfo, unused_because: str | None) -> str:
    """What was kept, and what it means from now on."""
    if unused_because is not None:
        return f"{target_text(listed, zone)}\nnot used yet: {unused_because}"
    return f"{target_text(listed, zone)}\nnew checks are scored against it; past ones keep the target they had"


def retired_text(retired: TargetVersion, left: ListedTarget | None, users: Sequence[str]) -> str:
    """What was taken out of use, and what holds instead."""
    told = f"{retired.target.name} version {retired.version} is retired; past checks keep it."
    if left is not None:
        return f"{told} Version {left.version.version} is {left.use.value}."
    if users:
        return f"{told} No version is left: new checks of {', '.join(users)} are unscored (no-target)."
    return f"{told} No version is left; no printing condition is scored against it."


def _held(facts: Mapping[str, Any]) -> str:
    backing = f"{facts['backing']} backing" if facts["backing"] else "backing not told"
    return (
        f"{facts['patches']} patches as {facts['quantity']}, {facts['m_condition'] or 'M0 to M3 not told'}, {backing}"
    )


def _short_spread(facts: Mapping[str, Any]) -> str:
    spread = facts.get("spread")
    return f"{spread['de00_mean']:.2f}, worst {spread['de00_max']:.2f}" if spread else ""


def _adoption(facts: Mapping[str, Any], approved_by: str | None) -> Iterator[str]:
    if failed := [str(each["check"]) for each in facts["checks"] if each["verdict"] == "fail"]:
        yield f"failed checks among them: {', '.join(failed)}"
    if facts["instruments"]:
        yield f"instruments: {', '.join(facts['instruments'])}"
    yield f"spread: {_spread(facts['spread'])}"
    rejected = [f"check {each['check']} {each['patch']} (ΔE00 {each['de00']:.2f})" for each in facts["rejected"]]
    yield f"outliers rejected: {len(rejected)}" + (f": {', '.join(rejected)}" if rejected else "")
    if facts["missing"]:
        yield f"readings missing: {facts['missing']}"
    if facts["unread"]:
        yield f"patches left out, read by no check: {', '.join(facts['unread'])}"
    yield f"reference: {_reference(facts['reference'])}"
    yield f"caution: an aim taken from a drifted printer makes its drift the norm; {approved_by} answers for this one"


def _spread(spread: Mapping[str, Any] | None) -> str:
    if spread is None:
        return "not known from one check"
    return (
        f"mean ΔE00 {spread['de00_mean']:.2f} of the readings from the mean of their patch, "
        f"worst {spread['de00_max']:.2f} ({spread['patch']})"
    )


def _reference(reference: Mapping[str, Any] | None) -> str:
    if reference is None:
        return "none was given, so nothing tells how far this aim is from published data"
    return (
        f"ΔE00 from {reference['file']}: mean {reference['de00_mean']:.2f}, 95th percentile "
        f"{reference['de00_p95']:.2f}, maximum {reference['de00_max']:.2f}, over {reference['patches']} patches"
    )
