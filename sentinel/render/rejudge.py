"""Recorded history under edited settings, for people: what it stands on, counts, what it cannot tell, details."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.core.incidents import DUE_CODES, NoticeKind
from sentinel.core.reasons import Code
from sentinel.core.rejudging import AlarmChange, Both, JudgedCheck, Judgement, OneSided, Rejudged, ToldAlarm
from sentinel.core.scoring.words import figure_words
from sentinel.core.state import State, StateReport
from sentinel.render.counting import counted
from sentinel.render.rejudge_json import ALARMS, VERDICTS

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
