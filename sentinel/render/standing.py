"""Where a printing condition stands, in a line for people: the same wherever a command shows it."""

from __future__ import annotations

from collections.abc import Mapping
from zoneinfo import ZoneInfo

from sentinel.core.cases.standing import NextStep, Standing, Turn


def standing_words(stand: Standing, zone: ZoneInfo) -> str:
    """Its case, the next step with whose turn it is, and who sees to it; empty where nothing is open or to be done."""
    parts = []
    if stand.number is not None:
        since = "" if stand.since is None else f" since {stand.since.astimezone(zone):%Y-%m-%d %H:%M}"
        parts.append(f"case {stand.number}{since}")
    if stand.next_step is not NextStep.NOTHING:
        parts.append(next_words(stand))
    if stand.seen_by:
        parts.append(f"{stand.seen_by} sees to it")
    return ", ".join(parts)


def next_words(stand: Standing) -> str:
    """The next step, and whose turn it is."""
    return f"next: {stand.next_step.value}" + ("" if stand.turn is Turn.NOBODY else f" ({stand.turn.value})")


def standings_text(standings: Mapping[str, Standing], zone: ZoneInfo) -> str:
    """A line each of these printing conditions."""
    lines = []
    for name, stand in sorted(standings.items()):
        words = standing_words(stand, zone)
        lines.append(f"- {name}: production {stand.production.value}" + (f", {words}" if words else ""))
    return "\n".join(lines)
