"""Why a printing condition stands where it stands: every rule with its setting, its inputs, its answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sentinel.core.conditions.calendar import EVERY_DAY
from sentinel.core.conditions.due import DAY, RULES, DueContext, DueRules, in_utc
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.forecasts import ConditionForecast, Leaving, leaving_words, shift_words
from sentinel.core.conditions.risk import FigureChange, RiskOutlook
from sentinel.core.conditions.state import Situation, StateReport, derive, due_context, reached_by
from sentinel.core.scoring.names import figure_words, unit_of
from sentinel.core.verdict import Verdict

Answer = Literal["holds", "will hold", "does not hold", "off"]


@dataclass(frozen=True, slots=True)
class RuleAnswer:
    """`rule` is the switch's name in [due]; `setting` what it is set to, None for off; `inputs` what it looked at;
    `since` when it began to hold, or will; `change` what would change the answer."""

    rule: str
    setting: Any
    inputs: Mapping[str, Any]
    answer: Answer
    since: datetime | None
    message: str | None
    change: str


@dataclass(frozen=True, slots=True)
class StateExplanation:
    """`answers` is empty where no rule is asked: not-measurable and never-run come before all rules."""

    report: StateReport
    answers: tuple[RuleAnswer, ...]


def explain(situation: Situation, now: datetime) -> StateExplanation:
    """The state at `now` and the answer of every rule."""
    report = derive(situation, now)
    context = None if situation.obstacles else due_context(situation, now)[0]
    if context is None:
        return StateExplanation(report, ())
    return StateExplanation(report, tuple(_answers(context, now)))


def _answers(context: DueContext, now: datetime) -> list[RuleAnswer]:
    answers = []
    for name, rule in RULES.items():
        setting = _SETTINGS[name](context.rules)
        found = list(rule(context))
        change, inputs = _CHANGES[name], _INPUTS[name](context)
        if not found:
            answer: Answer = "off" if setting is None else "does not hold"
            answers.append(RuleAnswer(name, setting, inputs, answer, None, None, change))
        for each in found:
            answer = "holds" if in_utc(each.since) <= reached_by(context, now) else "will hold"
            answers.append(RuleAnswer(name, setting, inputs, answer, each.since, str(each.reason.message), change))
    return answers


def _days(span: Any) -> float | None:
    return None if span is None else span / DAY


def _climate_set(rules: DueRules) -> Any:
    climate = rules.climate
    return None if climate is None else {"celsius": climate.celsius, "percent_humidity": climate.percent_humidity}


_SETTINGS: Mapping[str, Callable[[DueRules], Any]] = {
    "failed": lambda _rules: True,
    "pinned": lambda _rules: True,
    "warned_times": lambda rules: rules.warned_times,
    "max_age_days": lambda rules: _days(rules.max_age),
    "after": lambda rules: sorted(kind.value for kind in rules.after) or None,
    "square_metres": lambda rules: rules.square_metres,
    "standstill_days": lambda rules: _days(rules.standstill),
    "climate": _climate_set,
    "target_changed": lambda rules: rules.target_changed or None,
    "limits_changed": lambda rules: rules.limits_changed or None,
    "forecast": lambda rules: _days(rules.lead),
    "risk": lambda rules: rules.risk,
    "drift": lambda rules: rules.drift or None,
}


_OTHER_KEYS: Mapping[str, tuple[str, ...]] = {
    "failed": (),
    "pinned": (),
    "climate": ("celsius", "percent_humidity"),
    "risk": ("by",),
}
KEYS: Mapping[str, tuple[str, ...]] = {name: _OTHER_KEYS.get(name, (name,)) for name in _SETTINGS}
"""By rule the keys of [due] that switch it on and off; a failed check makes a check due whatever the settings say."""


def _happened(context: DueContext, *kinds: EventKind) -> list[str]:
    return [f"{event.kind.value} {event.at:%Y-%m-%d}" for event in context.later if event.kind in kinds]


_INPUTS: Mapping[str, Callable[[DueContext], Mapping[str, Any]]] = {
    "failed": lambda context: {
        "last verdict": context.last.verdict.value,
        "counts as recovered": context.last.recovered,
    },
    "pinned": lambda context: {"checks that people want": [_wanted(event) for event in context.wanted]},
    "warned_times": lambda context: {"warnings in a row": _warnings(context)},
    "max_age_days": lambda context: {
        "last measured": context.last.measured_at.isoformat(),
        **_after_a_warning(context),
        "counts": "every day" if context.rules.calendar.working == EVERY_DAY else "working days",
    },
    "after": lambda context: {"events since": _happened(context, *context.rules.after)},
    "square_metres": lambda context: {"printed since": _area(context)},
    "standstill_days": lambda context: {"printing since": _happened(context, EventKind.PRINTED_AREA)[-3:]},
    "climate": lambda context: {"reports since": len(_happened(context, EventKind.CLIMATE))},
    "target_changed": lambda context: {"scored against": _short(context.last.target_hash), "now": _targets(context)},
    "limits_changed": lambda context: {"scored with": context.last.limits_mark, "now": _marks(context)},
    "forecast": lambda context: _forecast(context.foretold),
    "risk": lambda context: _risk(context.risk),
    "drift": lambda context: _charts(context.foretold),
}

_CHANGES: Mapping[str, str] = {
    "failed": "a check within every limit, or within `recover` where that is set",
    "pinned": "a check on that day or later; taking the event back by `sentinel event undo`",
    "warned_times": "a check without a warning",
    "max_age_days": "any check",
    "after": "any check after the event",
    "square_metres": "any check",
    "standstill_days": "any check after the standstill",
    "climate": "any check after the report",
    "target_changed": "a check scored against the target there is now",
    "limits_changed": "a check scored with the limits that hold now",
    "forecast": "more readings that show a slower change or none, or an event after which readings begin anew",
    "risk": "any check; a check of another stock on the printer may bring it nearer or farther, never make it current",
    "drift": "a check back within the limits of the drift charts; one that shows the same confirms it, and none is due",
}


def _wanted(event: Event) -> str:
    when = event.facts.get("on") or f"every {event.facts['every']}"
    return f"event {event.seq}: {when}, told by {event.told_by} on {event.at:%Y-%m-%d}: {event.facts['why']}"


def _after_a_warning(context: DueContext) -> Mapping[str, Any]:
    share = context.rules.warned_share
    return {"after a warning": f"{share:g} of it"} if share and context.last.verdict is Verdict.WARN else {}


def _risk(outlook: RiskOutlook | None) -> Mapping[str, Any]:
    if outlook is None:
        return {"printer's wear": "not known yet"}
    weeks = {f"in {days} days": round(outlook.outside[days], 3) for days in (7, 14, 28)}
    return {
        "worked out from records up to": outlook.at.isoformat(),
        "readings of the printer": outlook.readings,
        "probability of being out of tolerance then": round(outlook.outside[0], 3),
        **weeks,
        **({} if outlook.leading is None else _change(outlook.leading)),
    }


def _change(leading: FigureChange) -> Mapping[str, Any]:
    figure, unit = str(figure_words(leading.group, leading.metric)), unit_of(leading.metric)
    return {
        "most likely to be": figure,
        "changes a week": f"{7 * leading.a_day:+.2g} {unit}, standard error {7 * leading.error:.2g}",
    }


def _warnings(context: DueContext) -> int:
    row = 0
    for check in reversed(context.past):
        if check.verdict is not Verdict.WARN:
            break
        row += 1
    return row


def _area(context: DueContext) -> str:
    total = sum(float(e.facts["square_metres"]) for e in context.later if e.kind is EventKind.PRINTED_AREA)
    return f"{total:g} square metres"


def _short(sha256: str | None) -> str | None:
    return None if sha256 is None else sha256[:12]


def _targets(context: DueContext) -> list[str]:
    return sorted(target[:12] for target in context.scoring.targets)


def _marks(context: DueContext) -> list[str]:
    return sorted(mark for _, mark in context.scoring.marks)


NOTHING_FORETOLD = {"outlook": "none: nothing is expected from the last check yet, or readings begin anew"}


def _forecast(forecast: ConditionForecast | None) -> Mapping[str, Any]:
    if forecast is None:
        return NOTHING_FORETOLD
    return {
        "readings that count": forecast.readings,
        "since": f"{forecast.since:%Y-%m-%d}",
        "figures with a sure trend": forecast.trends,
        "without one": forecast.no_trends,
        "without a forecast": forecast.no_forecasts,
        "that may reach a limit": [_leaving(each) for each in forecast.leaving],
    }


def _leaving(leaving: Leaving) -> str:
    """The sentence of a forecast, with where a reading on the day of the next check is to be expected."""
    if leaving.reading is None:
        return str(leaving_words(leaving))
    low, high = leaving.reading
    unit = unit_of(leaving.metric)
    when = f"{leaving.check_by:%Y-%m-%d}"
    expected = f"a reading of {low:+.3g} {unit} to {high:+.3g} {unit} is expected on {when}, with 90 % confidence"
    return f"{leaving_words(leaving)}; {expected}"


def _charts(forecast: ConditionForecast | None) -> Mapping[str, Any]:
    if forecast is None:
        return NOTHING_FORETOLD
    return {
        "beyond a drift chart's limit": [
            f"{shift_words(each)}, {'seen once' if each.fresh else 'confirmed'}" for each in forecast.shifts
        ],
        "Western Electric rules met": list(forecast.signs),
    }
