"""`sentinel round`: the checks that are due, in the order that costs least time at the printers."""

from __future__ import annotations

import argparse
import json
import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from tabulate import tabulate

from sentinel.application.round import Choice, WithinMinutes, planned_round
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.core.cases.standing import Standing
from sentinel.core.planning.plan import ChartTimes, Plan, RollNeed, Work, WorkStep
from sentinel.core.planning.room import LeftOut, Room, RoundStock
from sentinel.errors import AdminError
from sentinel.render.figures import counted
from sentinel.render.standing import standings_text

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


ROUND_SCHEMA = "sentinel.round/1"

WIDTH = 100
"""Characters of the sheet."""
PRINTER_WIDTH, STOCK_WIDTH, WORK_WIDTH = 17, 34, 51
"""Of columns that hold names; longer ones go on in the next line."""


def round_json(
    plan: Plan, room: Room, standings: Mapping[str, Standing], now: datetime, choice: Choice | None = None
) -> dict[str, Any]:
    """The round as `round --json` prints it. Times in minutes from its beginning, lengths in metres."""
    return {
        "schema": ROUND_SCHEMA,
        "generated_at": now.isoformat(),
        "total_minutes": plan.total_minutes,
        "person_minutes": plan.person_minutes,
        "least_minutes": plan.least_minutes,
        "gap_minutes": plan.gap_minutes,
        "proved": plan.proved,
        "choice": None if choice is None else _choice_json(choice, plan),
        "steps": [_step(step) for step in plan.steps],
        "charts": [_with_standing(chart, standings) for chart in plan.charts],
        "printers": [{**asdict(printer), "order": list(printer.order)} for printer in plan.printers],
        "rolls": [{**asdict(need), "too_short": need.too_short} for need in plan.rolls],
        "stocks": [asdict(stock) for stock in _stocks(plan, room)],
        "left_out": [_with_standing(each, standings) for each in room.left_out],
        "warnings": [
            {"code": remark.doubt.value, **{key: getattr(remark, key) for key in ("printer", "stock", "message")}}
            for remark in plan.remarks
        ],
    }


def _choice_json(choice: Choice, plan: Plan) -> dict[str, Any]:
    first, second = _visits(plan)
    return {
        "minutes": choice.minutes,
        "level": choice.level,
        "hands_on": choice.hands_on,
        "riskiest_first": choice.riskiest_first,
        "shift_began": choice.began.isoformat(),
        "chosen_before": choice.chosen_before,
        "lasts": choice.lasts,
        "held": list(choice.held),
        "visits": [first, second],
        "worth": [{"condition": name, **asdict(worth)} for name, worth in choice.worths.items()],
    }


def _visits(plan: Plan) -> tuple[dict[str, int], dict[str, int]]:
    """To print all and to read all: hands-on minutes, from and until which minute of the round."""
    changing = sum(printer.change_minutes for printer in plan.printers)
    printed = max((printer.printed_at for printer in plan.printers), default=0)
    dry = max((chart.dry_at for chart in plan.charts), default=0)
    reading = plan.person_minutes - changing
    return (
        {"hands_on": changing, "begins": 0, "ends": printed},
        {"hands_on": reading, "begins": dry, "ends": dry + reading},
    )


def _with_standing(wanted: ChartTimes | LeftOut, standings: Mapping[str, Standing]) -> dict[str, Any]:
    stand = standings.get(wanted.condition)
    return {**asdict(wanted), "standing": stand.as_json() if stand else None}


def _step(step: WorkStep) -> dict[str, Any]:
    return {**asdict(step), "work": step.work.value, "busy": list(step.work.busy)}


def round_text(plan: Plan, room: Room, begins: datetime | None = None, choice: Choice | None = None) -> str:
    """The sheet, with times of the clock where it is told when the round begins, else from its beginning.

    `begins` is aware, in the zone of the print room.
    """
    if not plan.charts:
        parts = ["No chart is to be printed.", _chosen(choice, plan, begins), _left_out(room)]
    else:
        parts = [_headline(plan), _chosen(choice, plan, begins), _warnings(plan, room), _left_out(room)]
        parts += [_steps(plan, room, begins)]
        parts += [_rolls(plan, room), _notes(plan, room)]
    return "\n\n".join(part for part in parts if part)


def _headline(plan: Plan) -> str:
    charts, printers = counted(len(plan.charts), "chart"), counted(len(plan.printers), "printer")
    total, work = _span(plan.total_minutes), _span(plan.person_minutes)
    lines = [f"The round: {charts} on {printers}, all measured after {total}. {work} of it is your work."]
    if plan.proved:
        lines.append("Proved: no order is done sooner, and none that is as soon is less work.")
    elif plan.gap_minutes:
        lines.append(f"Not proved to be the best order: another may be done up to {_span(plan.gap_minutes)} sooner.")
    else:
        lines.append("Proved: no order is done sooner. Not proved: that none as soon is less work.")
    return "\n".join(line for text in lines for line in textwrap.wrap(text, WIDTH))


def _chosen(choice: Choice | None, plan: Plan, begins: datetime | None) -> str:
    """What the round was made of, and why; nothing where all that is to be checked is in it."""
    if choice is None:
        return ""
    avoided, how = sum(worth.avoids for worth in choice.worths.values()), "the most that fits is avoided"
    if choice.riskiest_first:
        how = "after days off the likeliest to be out of tolerance come first"
    lines = [
        f"Of {choice.minutes} minutes {choice.hands_on} are needed (levelled over the week: {choice.level}). These "
        f"charts avoid {avoided:.1f} days out of tolerance that nobody would know of in the coming week; {how}."
    ]
    if plan.charts:
        first, second = _visits(plan)
        lines.append(
            f"In two visits: print until {_at(first['ends'], begins)} ({first['hands_on']} min of roll changes), "
            f"read from {_at(second['begins'], begins)} on, when all are dry ({second['hands_on']} min)."
        )
    if choice.chosen_before:
        held = f", with what is held since: {', '.join(choice.held)}" if choice.held else ""
        lines.append(f"As it was chosen in this shift{held}. What was read since is left out.")
    elif not choice.lasts:
        lines.append("This could not be noted: asked again in this shift, it may be chosen otherwise.")
    likely = sorted(choice.worths.items(), key=lambda item: (not item[1].owed, -item[1].likely, item[0]))
    rows = [(name, "yes" if worth.owed else "", f"{worth.likely:.0%}", f"{worth.avoids:.2f}") for name, worth in likely]
    headers = ("printing condition", "owed", "likely out now", "days avoided")
    table = tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True) if rows else ""
    return "\n".join([*(line for text in lines for line in textwrap.wrap(text, WIDTH)), "", table]).rstrip()


def _warnings(plan: Plan, room: Room) -> str:
    if not plan.remarks:
        return ""
    titles = _titles(room)
    lines = [_item(f"{titles[remark.printer]}: {remark.message}") for remark in plan.remarks]
    return "\n".join(["Look at these first:", *lines])


def _left_out(room: Room) -> str:
    lines = [_item(f"{each.condition}: {each.why}") for each in room.left_out]
    return "\n".join(["To be checked, but not in this round:", *lines]) if lines else ""


def _steps(plan: Plan, room: Room, begins: datetime | None) -> str:
    titles, charts = _titles(room), {chart.condition: chart for chart in plan.charts}
    rows = [
        (
            "[ ]",
            _at(step.start, begins),
            _at(step.end, begins),
            titles[step.printer],
            _what(step, charts, room, begins),
        )
        for step in plan.steps
        if step.work is not Work.DRY
    ]
    headers = ("done", "from", "to", "printer", "what to do")
    align = ("left", "right", "right", "left", "left")
    return _table(rows, headers, (None, None, None, PRINTER_WIDTH, WORK_WIDTH), align)


def _what(step: WorkStep, charts: dict[str, ChartTimes], room: Room, begins: datetime | None) -> str:
    if step.condition is None:
        return f"change the roll to {room.stock(step.stock).title}"
    chart = charts[step.condition]
    if step.work is Work.MEASURE:
        return f"measure {step.condition}"
    assumed = " (assumed)" if chart.drying_assumed else ""
    return f"print {step.condition} ({chart.why}), dry at {_at(chart.dry_at, begins)}{assumed}"


def _rolls(plan: Plan, room: Room) -> str:
    titles = _titles(room)
    rows = [
        (
            titles[need.printer],
            room.stock(need.stock).title,
            "loaded" if need.loaded else "to load",
            need.charts,
            _metres(need),
            "not known" if need.metres_left is None else f"{need.metres_left:.2f} m",
        )
        for need in plan.rolls
    ]
    headers = ("printer", "roll", "loading", "charts", "needed", "left")
    align = ("left", "left", "left", "right", "right", "right")
    return _table(rows, headers, (PRINTER_WIDTH, STOCK_WIDTH, None, None, None, None), align)


def _metres(need: RollNeed) -> str:
    if need.unknown_lengths == need.charts:
        return "not known"
    return f"{need.metres:.2f} m" + (" or more" if need.unknown_lengths else "")


def _notes(plan: Plan, room: Room) -> str:
    lines = [_item("; ".join(_about(stock, plan, room))) for stock in _stocks(plan, room)]
    return "\n".join(["The stocks:", *lines])


def _about(stock: RoundStock, plan: Plan, room: Room) -> Iterator[str]:
    cores = dict.fromkeys(need.core for need in plan.rolls if need.stock == stock.name)
    yield f"{stock.title}: " + " or ".join("core not known" if core is None else f"{core} core" for core in cores)
    if stock.notes:
        yield stock.notes
    for printer in sorted(room.printers, key=lambda printer: printer.name):
        charts = [chart for chart in printer.charts if chart.stock == stock.name]
        drying = sorted(chart.drying_minutes for chart in charts)
        if drying:
            assumed = " (assumed)" if any(chart.drying_assumed for chart in charts) else ""
            yield f"{_drying(drying[0], drying[-1])}{assumed} on {printer.title}"


def _drying(least: int, most: int) -> str:
    if least == most:
        return f"dries {_span(most)}" if most else "dry at once"
    return f"dries {_span(least)} to {_span(most)}"


def _stocks(plan: Plan, room: Room) -> list[RoundStock]:
    return [room.stock(name) for name in sorted({need.stock for need in plan.rolls})]


def _titles(room: Room) -> dict[str, str]:
    return {printer.name: printer.title for printer in room.printers}


def _table(
    rows: list[tuple[Any, ...]],
    headers: tuple[str, ...],
    widths: tuple[int | None, ...],
    align: tuple[str, ...],
) -> str:
    return tabulate(
        rows, headers=headers, tablefmt="simple", disable_numparse=True, maxcolwidths=list(widths), colalign=align
    )


def _item(text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent="- ", subsequent_indent="  ")


def _at(minute: int, begins: datetime | None) -> str:
    if begins is None:
        return f"{minute // 60}:{minute % 60:02}"
    moment = (begins.astimezone(UTC) + timedelta(minutes=minute)).astimezone(begins.tzinfo)
    return f"{moment:%H:%M}" if moment.date() == begins.date() else f"{moment:%a %H:%M}"


def _span(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    parts = [f"{hours} h"] * bool(hours) + [f"{rest} min"] * bool(rest or not hours)
    return " ".join(parts)


def _options(parser: Parser) -> None:
    parser.description = (
        "Puts the checks that are due, or soon due, in the order in which the last chart is measured "
        "soonest: roll changes, printing, drying and measuring, with what the charts need of each roll. Nothing is "
        "recorded; with --minutes it is noted beside the store which charts the round of this shift is made of. "
        "Exit codes: 0 shown, 2 settings or printer refused."
    )
    parser.add_argument("--printer", metavar="P", help="one printer alone, by its name or an alias")
    parser.add_argument(
        "--minutes",
        type=int,
        metavar="N",
        help="of N minutes of work: the charts that avoid most days out of tolerance that nobody knows of, levelled "
        "over the week, and in this shift the same whenever it is asked",
    )
    parser.add_argument("--prove", action="store_true", help="search until no order can be better, however long")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_round)


MOST_MINUTES = 24 * 60


def _round(options: argparse.Namespace, room: Composition) -> Exit:
    now = room.clock.now()
    if options.minutes is not None and not 1 <= options.minutes <= MOST_MINUTES:
        raise AdminError(f"expected --minutes from 1 to {MOST_MINUTES}, got {options.minutes}")
    within = None if options.minutes is None else WithinMinutes(options.minutes, room.round_note)
    found = planned_round(room.house, room.reading, room.hashes, options.printer, options.prove, now, within)
    if options.json:
        print(json.dumps(round_json(found.plan, found.room, found.standings, now, found.choice), indent=2))
    else:
        zone = room.settings.site.zone
        print(round_text(found.plan, found.room, now.astimezone(zone), found.choice))
        if found.standings:
            print(f"\nWhere they stand:\n{standings_text(found.standings, zone)}")
    return Exit.FINE


COMMANDS: Commands = {"round": _options}
