"""`sentinel plan`: what each way of calling for checks would cost and save in this house."""

from __future__ import annotations

import argparse
import json
import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.application.ways import DEFAULT_WEEKS, HouseWays, PrinterWays, house_ways
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.core.conditions.due import DAY
from sentinel.core.conditions.event_input import moment
from sentinel.core.conditions.risk import SHARES, WEEK_DAYS
from sentinel.core.planning.ways import BY_AGE, Estimate, PlaceCosts, Shadow, ShadowCheck, StatedBin, WayCost
from sentinel.errors import AdminError
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition

PLAN_SCHEMA = "sentinel.plan/1"
WIDTH = 100
HOW = (
    "Worked out from the checks on record: a way gets those that it would have called for, and no others. Days out of "
    "tolerance that nobody knows are what the printer's wear makes likely between checks, working days alone, and in "
    "proportion to how many prints were read out of tolerance for each that was said to be; after a check that failed "
    "they are known. In brackets: 90 % confidence."
)


def plan_text(found: HouseWays, zone: ZoneInfo, detail: bool = False) -> str:
    """A paragraph a printer: its ways side by side, what was said held against what was read, what risk would have
    had; with `detail` also its conditions, and the checks one by one."""
    weeks = (found.until - found.since) / (WEEK_DAYS * DAY)
    head = f"What calling for checks comes to, by the checks since {_day(found.since, zone)} ({weeks:.0f} weeks)"
    parts = [[head, *_folded(HOW)]]
    parts += [_printer(each, zone, detail) for each in found.printers]
    if len(found.printers) > 1 and found.together:
        parts.append(["All printers that can be judged, together", *_table(found.together)])
    return "\n\n".join("\n".join(part) for part in parts)


def _printer(found: PrinterWays, zone: ZoneInfo, detail: bool) -> list[str]:
    costs = found.costs
    since = f" since {_day(costs.since, zone)}" if costs.since else ""
    now = " and ".join(_way_words(way) for way in found.in_force)
    conditions, readings = counted(costs.conditions, "printing condition"), counted(costs.readings, "reading")
    lines = [f"{costs.name}: {conditions}, {readings}{since}; called for now: {now}", *_place(costs)]
    if costs.lacking is not None:
        return lines
    lines += ["", *_stated(found.stated)]
    lines += ["", *(line for shadow in found.shadows for line in _folded(_shadow(shadow, zone)))]
    if detail:
        lines += [line for each in found.conditions for line in ("", each.name, *_place(each))]
        lines += ["", *_checks(found.shadows, zone)]
    return lines


def _place(costs: PlaceCosts) -> list[str]:
    return _table(costs.ways) if costs.lacking is None else list(_folded(f"{costs.lacking}."))


def _table(ways: Sequence[WayCost]) -> list[str]:
    rows = [
        (
            _way_words(each.way),
            each.checks,
            estimate_words(each.charts, 1),
            estimate_words(each.minutes, 0),
            estimate_words(each.unknown, 2),
        )
        for each in ways
    ]
    headers = ("way", "checks", "charts a week", "hands-on minutes a week", "days out, not known, a week")
    table = tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True)
    age = next(each for each in ways if each.way == BY_AGE)
    against = [f"{each.way} {_against(each, age)}" for each in ways if each.way in SHARES]
    return [*(line.rstrip() for line in table.splitlines()), *_folded(f"Against age: {'; '.join(against)}.")]


def _way_words(way: str) -> str:
    if way in SHARES:
        return f"risk, {way} (1 in {round(1 / SHARES[way])})"
    return "by age" if way == BY_AGE else way


def estimate_words(found: Estimate | None, digits: int) -> str:
    """With what holds it with 90 % confidence."""
    if found is None:
        return "not known"
    return f"{found.value:.{digits}f} ({found.low:.{digits}f} to {found.high:.{digits}f})"


def _against(way: WayCost, age: WayCost) -> str:
    parts = (
        f"{own.value - other.value:+.{digits}f} {unit}"
        for own, other, digits, unit in (
            (way.charts, age.charts, 1, "charts"),
            (way.minutes, age.minutes, 0, "min"),
            (way.unknown, age.unknown, 2, "days"),
        )
        if own is not None and other is not None
    )
    return ", ".join(parts)


def _stated(bins: Sequence[StatedBin]) -> list[str]:
    if not bins:
        return ["Nothing was said of these prints before they were read."]
    checks, out = sum(each.checks for each in bins), sum(each.out for each in bins)
    expected = sum(each.checks * each.stated for each in bins)
    head = (
        f"Before {counted(checks, 'check')} it was said how likely the print was out of tolerance: {expected:.1f} were "
        f"to be expected, {out} were read so."
    )
    rows = [
        (
            f"{each.low:.0%} to {each.high:.0%}",
            each.checks,
            f"{each.stated:.1%}",
            each.out,
            f"{each.out / each.checks:.1%}",
        )
        for each in bins
    ]
    table = tabulate(
        rows, headers=("said", "checks", "on average", "out", "share"), tablefmt="simple", disable_numparse=True
    )
    return [*_folded(head), *(line.rstrip() for line in table.splitlines())]


def _shadow(shadow: Shadow, zone: ZoneInfo) -> str:
    skipped, added = (f"{counted(len(each), 'check')}{_verdicts(each)}" for each in (shadow.skipped, shadow.added))
    awaited = ", ".join(f"{name} since {_day(at, zone)}" for name, at in sorted(shadow.awaited.items())) or "nothing"
    return (
        f"{_way_words(shadow.level)}, beside age: would have skipped {skipped}, would have had {added} sooner, and "
        f"calls beyond age for {awaited}."
    )


def _verdicts(checks: Sequence[ShadowCheck]) -> str:
    counts = Counter(each.verdict.value for each in checks)
    return f" ({', '.join(f'{count} {verdict}' for verdict, count in sorted(counts.items()))})" if counts else ""


def _checks(shadows: Sequence[Shadow], zone: ZoneInfo) -> list[str]:
    """Those that risk would have skipped, or had sooner, at any level."""
    rows = []
    for together in zip(*(shadow.checks for shadow in shadows), strict=True):
        first = together[0]
        skipped = [shadow.level for shadow, each in zip(shadows, together, strict=True) if each.skipped]
        sooner = [
            f"{shadow.level} {_day(each.added_at, zone)}"
            for shadow, each in zip(shadows, together, strict=True)
            if each.added_at is not None
        ]
        if skipped or sooner:
            said = "" if first.stated is None else f"{first.stated:.1%}"
            time = f"{first.at.astimezone(zone):%Y-%m-%d %H:%M}"
            rows.append(
                (first.seq, time, first.condition, first.verdict.value, said, ", ".join(skipped), ", ".join(sooner))
            )
    if not rows:
        return ["Risk would have had no check otherwise than age."]
    headers = ("check", "measured", "printing condition", "verdict", "said", "skipped by", "sooner by")
    table = tabulate(
        rows,
        headers=headers,
        tablefmt="simple",
        disable_numparse=True,
        maxcolwidths=[None, None, 24, None, None, 12, 18],
    )
    return [line.rstrip() for line in table.splitlines()]


def _folded(text: str) -> Iterator[str]:
    yield from textwrap.wrap(text, WIDTH, break_on_hyphens=False)


def _day(at: datetime, zone: ZoneInfo) -> str:
    return f"{at.astimezone(zone):%Y-%m-%d}"


def plan_json(found: HouseWays, now: datetime) -> dict[str, Any]:
    """All of it. Figures are a week's; a probability is a share of 1."""
    return {
        "schema": PLAN_SCHEMA,
        "generated_at": now.isoformat(),
        "since": found.since.isoformat(),
        "until": found.until.isoformat(),
        "together": [_way_json(each) for each in found.together],
        "printers": [
            {
                **place_json(each.costs),
                "in_force": list(each.in_force),
                "by_condition": [place_json(place) for place in each.conditions],
                "stated": [asdict(one) for one in each.stated],
                "shadow": [_shadow_json(shadow) for shadow in each.shadows],
            }
            for each in found.printers
        ],
    }


def place_json(costs: PlaceCosts) -> dict[str, Any]:
    """What the ways of calling cost on a printer or a condition."""
    return {
        "name": costs.name,
        "conditions": costs.conditions,
        "readings": costs.readings,
        "first_read_at": costs.since.isoformat() if costs.since else None,
        "lacking": str(costs.lacking) if costs.lacking else None,
        "ways": [_way_json(each) for each in costs.ways],
    }


def _way_json(cost: WayCost) -> dict[str, Any]:
    return {
        "way": cost.way,
        "share": SHARES.get(cost.way),
        "checks": cost.checks,
        **{
            name: None if found is None else asdict(found)
            for name, found in (
                ("charts", cost.charts),
                ("hands_on_minutes", cost.minutes),
                ("unknown_days", cost.unknown),
            )
        },
    }


def _shadow_json(shadow: Shadow) -> dict[str, Any]:
    return {
        "level": shadow.level,
        "share": shadow.share,
        "skipped": list(_checks_json(shadow.skipped)),
        "added": list(_checks_json(shadow.added)),
        "awaited": [{"condition": name, "called_at": at.isoformat()} for name, at in sorted(shadow.awaited.items())],
        "checks": len(shadow.checks),
    }


def _checks_json(checks: Iterable[ShadowCheck]) -> Iterator[dict[str, Any]]:
    for each in checks:
        yield {
            "check": each.seq,
            "condition": each.condition,
            "measured_at": each.at.isoformat(),
            "verdict": each.verdict.value,
            "stated": each.stated,
            "called_at": each.added_at.isoformat() if each.added_at else None,
        }


def _options(parser: Parser) -> None:
    parser.description = (
        "Goes through the checks on record again and shows for each printer what calling for checks by age and by risk "
        "(careful, normal, lean) would cost a week in charts and hands-on minutes, how many days out of tolerance "
        "nobody would know of, which checks risk would have skipped or had sooner and what those found, and how what "
        "was said held. Nothing is recorded. Exit codes: 0 shown, 2 settings or printer refused."
    )
    parser.add_argument("--printer", metavar="P", help="one printer alone, by its name or an alias")
    span = parser.add_mutually_exclusive_group()
    span.add_argument("--weeks", type=int, metavar="N", help=f"by the last N weeks (default: {DEFAULT_WEEKS})")
    span.add_argument(
        "--since",
        metavar="DATE",
        help="by the checks from this date on (ISO 8601, read in the site's zone where it names none)",
    )
    parser.add_argument("--detail", action="store_true", help="each printing condition, and the checks one by one")
    parser.add_argument("--json", action="store_true", help="one JSON object, with all of that")
    parser.set_defaults(handler=_plan)


def _plan(options: argparse.Namespace, room: Composition) -> Exit:
    now, zone = room.clock.now(), room.settings.site.zone
    found = house_ways(room.house, room.records, room.foretold, options.printer, _begins(options, now, zone), now)
    print(json.dumps(plan_json(found, now), indent=2) if options.json else plan_text(found, zone, options.detail))
    return Exit.FINE


MOST_WEEKS = 520


def _begins(options: argparse.Namespace, now: datetime, zone: ZoneInfo) -> datetime | None:
    if options.weeks is not None:
        if not 1 <= options.weeks <= MOST_WEEKS:
            raise AdminError(f"expected --weeks from 1 to {MOST_WEEKS}, got {options.weeks}")
        weeks: int = options.weeks
        return now - weeks * WEEK_DAYS * DAY
    since = None if options.since is None else moment(options.since, zone)
    if since is not None and since >= now:
        raise AdminError(f"expected --since before now, got {options.since}")
    return since


COMMANDS: Commands = {"plan": _options}
