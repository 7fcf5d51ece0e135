"""`sentinel rejudge`: recorded history judged again under edited limits and rules."""

from __future__ import annotations

import argparse
import json
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.application.rejudging import history_of, rejudged
from sentinel.application.ways import Calling, default_since
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.cli.plan import estimate_words, place_json
from sentinel.core.cases.kinds import DUE_CODES, NoticeKind
from sentinel.core.conditions.event_input import moment
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.history import AlarmChange, Both, Figure, JudgedCheck, Judgement, OneSided, Rejudged, ToldAlarm
from sentinel.core.scoring.names import figure_words
from sentinel.core.verdict import Code, Verdict
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


WIDTH = 100
MOST = 30
"""Lines of a table; the JSON has them all."""
FEWEST = 3
"""How many of the conditions with the fewest checks are named."""


def rejudged_text(found: Rejudged, files: Both[str], zone: ZoneInfo) -> str:
    """At most WIDTH columns; `files` are those of the two settings."""
    parts = [
        [f"running settings: {files.running}", f"edited settings:  {files.edited}"],
        _history(found, zone),
        [_counts(found), "", _outcome(found)],
        _called(found),
        _notes(found),
        _table("Verdicts that differ", _verdicts(found.verdict_changes, zone), (6, 16, 24, 14, 30)),
        _table("Alarms that differ", _alarms(found.alarm_changes, zone), (22, 12, 16, 16, 6, 17)),
        _table("States and due dates of today that differ", _dues(found, zone), (28, 33, 33)),
    ]
    return "\n\n".join("\n".join(_folded(part)) for part in parts if part)


def _folded(lines: Iterable[str]) -> Iterator[str]:
    for line in lines:
        if "\n" in line or len(line) <= WIDTH:
            yield line
        else:
            indent = "  " if line.startswith("- ") else ""
            yield from textwrap.wrap(line, WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def _history(found: Rejudged, zone: ZoneInfo) -> list[str]:
    times = sorted(time for each in found.conditions.values() for time in each)
    since = f" since {_time(found.since, zone)}" if found.since else ""
    if not times:
        return [f"No check is on record{since} for a printing condition that both settings have: nothing can be tried."]
    days = (times[-1] - times[0]).days
    none = [name for name, each in found.conditions.items() if not each]
    few = sorted((len(each), name) for name, each in found.conditions.items() if each)[:FEWEST]
    lines = [
        f"This stands on {counted(len(times), 'recorded check')}{since}, of "
        f"{counted(len(found.conditions) - len(none), 'printing condition')}, measured from {_time(times[0], zone)} to "
        f"{_time(times[-1], zone)} ({counted(days, 'day')}).",
        "On what did not happen in that time the edited settings were not tried. The checks are taken as they were "
        "made, whatever people would have done after other alarms.",
        "The fewest checks: " + ", ".join(f"{name} {count}" for count, name in few) + ".",
    ]
    return lines + ([f"Nothing is known of {', '.join(none)}: no check."] if none else [])


def _counts(found: Rejudged) -> str:
    verdicts, alarms = found.verdict_counts, found.alarm_counts
    rows = [(f"verdict {each.value}", verdicts.running[each], verdicts.edited[each]) for each in VERDICTS]
    rows += [(f"alarm {each.value}", alarms.running[each], alarms.edited[each]) for each in ALARMS]
    return tabulate(rows, headers=("", "running", "edited"), tablefmt="simple")


def _outcome(found: Rejudged) -> str:
    return (
        f"{counted(len(found.verdict_changes), 'verdict')}, {counted(len(found.alarm_changes), 'alarm')} and "
        f"{counted(len(found.due_changes), 'state or due date', 'states or due dates')} of today differ."
    )


def _called(found: Rejudged) -> list[str]:
    """What calling for checks would come to, printer by printer."""
    lacking = [f"- {name}: {both.edited.lacking}" for name, both in found.called.items() if both.edited.lacking]
    judged = {name: both for name, both in found.called.items() if not both.edited.lacking}
    if not found.called:
        return []
    rows = [
        (name, what, *(estimate_words(getattr(each.ways[0], figure), digits) for each in both))
        for name, both in judged.items()
        for what, figure, digits in CALLED
    ]
    table = tabulate(rows, headers=("printer", "a week", "running", "edited"), tablefmt="simple", disable_numparse=True)
    shown = ["\n".join(line.rstrip() for line in table.splitlines())] if rows else []
    return ["What calling for checks would come to (`sentinel plan` says how that is worked out)", "", *shown, *lacking]


CALLED = (("charts", "charts", 1), ("hands-on minutes", "minutes", 0), ("days out, not known", "unknown", 2))


def _notes(found: Rejudged) -> list[str]:
    notes = [
        f"unknown in {counted(count, 'check')}: {figure_words(*figure)} (not on record then, made in another way, or "
        "the chart does not give it); those verdicts stand on the other figures, and one that could be worse has a '?'"
        for figure, count in found.unknown_counts.most_common()
    ]
    notes += [_one_sided(each) for each in found.one_sided]
    notes += [f"not gone through again: {each}" for each in found.not_replayed]
    if found.recorded_otherwise:
        notes.append(
            f"{counted(found.recorded_otherwise, 'recorded verdict')} would be another under the running settings, "
            "too: other limits held then"
        )
    if found.due_at_once:
        notes.append(
            f"recorded verdicts stay as they are: put into force now, the edited settings turn "
            f"{', '.join(found.due_at_once)} due at once"
        )
    return ["What this cannot tell, and what else to know:", *(f"- {note}" for note in notes)] if notes else []


def _one_sided(each: OneSided) -> str:
    what = f"printing condition {each.condition}" if each.target is None else f"target {each.target}"
    where = "" if each.target is None else f" of {each.condition}"
    who = f"only the {each.has} settings have" if each.has else "neither of the settings has"
    kept = "left out" if each.target is None else "not judged again, and stay as they were recorded"
    return f"{who} the {what}{where}: {counted(each.checks, 'check')} {kept}"


def _table(title: str, rows: Sequence[tuple[str, ...]], widths: tuple[int, ...]) -> list[str]:
    """`rows` begin with the headings."""
    if len(rows) == 1:
        return []
    shown = rows[1 : MOST + 1]
    cut = f" (the first {MOST} of {len(rows) - 1}; all are in --json)" if len(rows) > MOST + 1 else ""
    table = tabulate(shown, headers=rows[0], tablefmt="simple", disable_numparse=True, maxcolwidths=list(widths))
    return [f"{title}{cut}", "", "\n".join(line.rstrip() for line in table.splitlines())]


def _verdicts(changes: Iterable[JudgedCheck], zone: ZoneInfo) -> list[tuple[str, ...]]:
    return [
        ("check", "measured", "printing condition", "verdict", "decided by"),
        *(
            (
                str(each.score.seq),
                _time(each.score.measured_at, zone),
                each.score.condition,
                " -> ".join(_verdict(each, side) for side in each.judged),
                _decided(each),
            )
            for each in changes
        ),
    ]


def _verdict(each: JudgedCheck, side: Judgement) -> str:
    return side.verdict.value + ("" if each.is_certain(side) else "?")


def _decided(each: JudgedCheck) -> str:
    decider = each.decider
    if decider is None:
        return ""
    kind = "action limit" if decider.level == "act" else "warning limit"
    limits = " -> ".join("none" if limit is None else f"{limit:g}" for limit in decider.limit)
    return f"{figure_words(decider.group, decider.metric)} {decider.value:.2f}, {kind} {limits}"


def _alarms(changes: Iterable[AlarmChange], zone: ZoneInfo) -> list[tuple[str, ...]]:
    return [
        ("printing condition", "alarm", "running", "edited", "check", "why"),
        *(
            (
                change.either.condition,
                change.either.alarm.kind.value,
                *(_alarm(told, zone) for told in change),
                str(change.either.alarm.check),
                ", ".join(code.value for code in change.either.alarm.codes if code in _telling(change.either)),
            )
            for change in changes
        ),
    ]


def _telling(told: ToldAlarm) -> frozenset[Code]:
    """Reasons that say more than the kind of the alarm does."""
    return DUE_CODES if told.alarm.kind is NoticeKind.CHECK_DUE else frozenset()


def _alarm(told: ToldAlarm | None, zone: ZoneInfo) -> str:
    return "none" if told is None else " ".join(filter(None, (_time(told.alarm.at, zone), told.urgency)))


def _dues(found: Rejudged, zone: ZoneInfo) -> list[tuple[str, ...]]:
    rows = ((name, *(_state(report, zone) for report in both)) for name, both in found.due_changes.items())
    return [("printing condition", "running", "edited"), *rows]


def _state(report: StateReport, zone: ZoneInfo) -> str:
    if report.due_at is None:
        return report.state.value
    codes = ", ".join(reason.code.value for reason in report.reasons)
    if report.state is State.DUE:
        return f"due since {_time(report.due_at, zone)}: {codes}"
    return f"{report.state.value}, due from {_time(report.due_at, zone)}"


def _time(time: datetime, zone: ZoneInfo) -> str:
    return f"{time.astimezone(zone):%Y-%m-%d %H:%M}"


REJUDGE_SCHEMA = "sentinel.rejudge/1"
SIDES = ("running", "edited")
VERDICTS = (Verdict.PASS, Verdict.WARN, Verdict.FAIL)
ALARMS = (NoticeKind.CHECK_FAILED, NoticeKind.CHECK_DUE, NoticeKind.RECOVERED)


def rejudged_json(found: Rejudged, files: Both[str], now: datetime) -> dict[str, Any]:
    """All that differs, whole; `files` are those of the two settings."""
    verdicts = [{verdict.value: counts[verdict] for verdict in VERDICTS} for counts in found.verdict_counts]
    alarms = [{kind.value: counts[kind] for kind in ALARMS} for counts in found.alarm_counts]
    return {
        "schema": REJUDGE_SCHEMA,
        "generated_at": now.isoformat(),
        "settings": _sides(files),
        "history": _history_json(found),
        "verdicts": {**_sides(verdicts), "changed": [_verdict_json(each) for each in found.verdict_changes]},
        "alarms": {
            **_sides(alarms),
            "changed": [_sides(map(_alarm_json, change)) | _of(change.either) for change in found.alarm_changes],
        },
        "due": {
            "changed": [
                {"condition": name, **_sides(map(_state_json, both))} for name, both in found.due_changes.items()
            ],
            "at_once": list(found.due_at_once),
        },
        "unknown": [{**_figure(figure), "checks": count} for figure, count in found.unknown_counts.most_common()],
        "one_sided": [each._asdict() for each in found.one_sided],
        "not_replayed": list(found.not_replayed),
        "called": [
            {"printer": name, **_sides(place_json(each) for each in both)} for name, both in found.called.items()
        ],
    }


def _sides(both: Iterable[Any]) -> dict[str, Any]:
    return dict(zip(SIDES, both, strict=True))


def _history_json(found: Rejudged) -> Mapping[str, Any]:
    return {
        "since": found.since.isoformat() if found.since else None,
        "checks": sum(map(len, found.conditions.values())),
        "judged_again": len(found.checks),
        "recorded_otherwise": found.recorded_otherwise,
        "conditions": [
            {
                "condition": name,
                "checks": len(times),
                "first_measured_at": times[0].isoformat() if times else None,
                "last_measured_at": times[-1].isoformat() if times else None,
            }
            for name, times in found.conditions.items()
        ],
    }


def _verdict_json(each: JudgedCheck) -> dict[str, Any]:
    score, decider = each.score, each.decider
    return {
        "check": score.seq,
        "condition": score.condition,
        "measured_at": score.measured_at.isoformat(),
        "recorded": score.verdict.value,
        **_sides(_judgement(each, side) for side in each.judged),
        "decided_by": decider
        and {
            **_figure((decider.group, decider.metric)),
            "value": decider.value,
            "level": decider.level,
            "limit": _sides(decider.limit),
        },
        "unknown": [_figure(figure) for figure in sorted(each.open_figures)],
    }


def _judgement(each: JudgedCheck, side: Judgement) -> dict[str, Any]:
    return {"verdict": side.verdict.value, "certain": each.is_certain(side)}


def _figure(figure: Figure) -> dict[str, str]:
    return {"group": figure[0], "metric": figure[1]}


def _of(told: ToldAlarm) -> dict[str, Any]:
    return {"condition": told.condition, "kind": told.alarm.kind.value, "check": told.alarm.check}


def _alarm_json(told: ToldAlarm | None) -> dict[str, Any] | None:
    if told is None:
        return None
    return {
        "at": told.alarm.at.isoformat(),
        "count": told.alarm.count,
        "urgency": told.urgency,
        "codes": [code.value for code in told.alarm.codes],
    }


def _state_json(report: StateReport) -> dict[str, Any]:
    return {
        "state": report.state.value,
        "due_at": report.due_at.isoformat() if report.due_at else None,
        "reasons": [reason.as_json() for reason in report.reasons],
    }


def _options(parser: Parser) -> None:
    parser.description = (
        "Judges the recorded checks again, under the running settings (--config) and under edited ones, "
        "and shows which verdicts, alarms and due dates differ. The checks are those of the running settings' store; "
        "nothing is written, nobody is told. Exit codes: 0 shown, 2 settings refused."
    )
    parser.add_argument("--new", type=Path, required=True, metavar="FILE", help="the edited settings")
    parser.add_argument(
        "--since",
        metavar="DATE",
        help="tell what was measured, and what alarms came, from this date on (ISO 8601, read in the site's zone where "
        "it names none); earlier checks still count for the states",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_rejudge)


def _rejudge(options: argparse.Namespace, room: Composition) -> Exit:
    rooms = Both(room, room.beside(options.new))
    snapshots = Both(*(each.snapshot for each in rooms))
    zone, now = snapshots.running.loaded.settings.site.zone, room.clock.now()
    since = None if options.since is None else moment(options.since, zone)
    houses = Both(*(each.house for each in rooms))
    figures = {figure for snapshot in snapshots for figure in snapshot.limited_figures()}
    history = history_of(houses, figures, room.records, Both(*(each.foretold for each in rooms)))
    callings = Both(
        *(
            Calling(house, room.records, each.foretold, since or default_since(now), now)
            for house, each in zip(houses, rooms, strict=True)
        )
    )
    found = rejudged(houses, history, room.hashes, since, now, callings)
    files = Both(*(str(snapshot.loaded.path) for snapshot in snapshots))
    print(json.dumps(rejudged_json(found, files, now), indent=2) if options.json else rejudged_text(found, files, zone))
    return Exit.FINE


COMMANDS: Commands = {"rejudge": _options}
