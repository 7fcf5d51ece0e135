"""The notice that figures are made by other rules: which limits bite from now on, which checks are not taken any
more."""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.payloads import BitingLimit, ConditionBitten, RulesCase
from sentinel.core.message import Message, joined, msg
from sentinel.core.scoring.names import figure_words, in_its_unit, unit_of
from sentinel.render.notices.document import Draft, SectionRole, bullets, paragraph, steps
from sentinel.render.notices.writer import (
    GO_ON,
    LEAD,
    STEPS_IN_ORDER,
    WHY,
    Facts,
    NoticeContext,
    NoticeWriter,
    production,
    who,
)

BITES: Mapping[tuple[str, bool], Message] = {
    ("act", True): msg("{figure} {value:.2f} {unit}, was {before:.2f} {unit}; action limit {limit:.2f} {unit}"),
    ("act", False): msg("{figure} {value:.2f} {unit}, was not counted; action limit {limit:.2f} {unit}"),
    ("warn", True): msg("{figure} {value:.2f} {unit}, was {before:.2f} {unit}; warning limit {limit:.2f} {unit}"),
    ("warn", False): msg("{figure} {value:.2f} {unit}, was not counted; warning limit {limit:.2f} {unit}"),
}
"""By the limit, and whether there was such a figure before."""


class RulesChanged(NoticeWriter[RulesCase]):
    """Limits that bite from now on, and checks that cannot be scored again."""

    kind = NoticeKind.RULES_CHANGED
    name = msg("Rules changed")

    TITLE = msg("Other rules: limits bite at {count} condition", "Other rules: limits bite at {count} conditions")
    WHAT = msg(
        "The sentinel was updated and makes some figures in another way (rules {rules}). The last check of each "
        "printing condition was scored again from the archive. Verdicts on record are kept, and nothing is due or "
        "failed by this; the next chart is judged in the new way."
    )
    REFUSED_TITLE = msg(
        "Other rules: the last check of {count} condition is not taken any more",
        "Other rules: the last checks of {count} conditions are not taken any more",
    )
    REFUSED = msg("Last checks that cannot be scored again; each keeps its verdict on record")
    REFUSED_LINE = msg("{place}, check {check} of {time}")
    MEASURE = msg(
        "Why a check is not taken any more: sentinel rescore --check {check}. The next reading is judged in the new "
        "way."
    )
    HEADING = msg("Limits that the last check would not meet")
    LINE = msg("{place}, check {check} of {time}: {figures}")
    SURE = msg(
        "certain of the figures: the same readings, aim and limits as on record. Nothing was measured anew, so whether "
        "the print is still like that only the next chart can tell."
    )
    STEPS = (
        msg("See the figures of a check before and after: sentinel rescore --check {check}"),
        msg("Decide whether these limits are meant for what is counted now; if not, change them in the settings."),
    )

    def write(self, told: RulesCase, context: NoticeContext) -> Draft:
        bitten, refused = told.conditions, told.refused or ()
        title = self.TITLE.format(count=len(bitten)) if bitten else self.REFUSED_TITLE.format(count=len(refused))
        to_do = [self.STEPS[0].format(check=bitten[0].check), *self.STEPS[1:]] if bitten else []
        if refused:
            to_do.append(self.MEASURE.format(check=refused[0].check))
        lines = [self._line(each, context) for each in bitten]
        left = [
            self.REFUSED_LINE.format(place=each.place, check=each.check, time=context.local(each.measured_at))
            for each in refused
        ]
        return Draft(
            title,
            [
                who(LEAD),
                production(GO_ON),
                paragraph(SectionRole.WHAT, self.WHAT.format(rules=told.rules_version)),
                bullets(SectionRole.WHAT, self.HEADING, lines) if lines else None,
                bullets(SectionRole.WHAT, self.REFUSED, left) if left else None,
                paragraph(SectionRole.WHY, self.SURE, WHY) if lines else None,
                steps(SectionRole.STEPS, STEPS_IN_ORDER, to_do),
            ],
        )

    def _line(self, told: ConditionBitten, context: NoticeContext) -> Message:
        figures = joined("; ", map(_bite, told.limits))
        return self.LINE.format(
            place=told.place, check=told.check, time=context.local(told.measured_at), figures=figures
        )

    def samples(self) -> Mapping[str, Facts]:
        from sentinel.render.notices.samples import BARE, CONDITION, ZONE

        greys = {"group": "greys", "metric": "de00_mean", "level": "act", "limit": 3.5, "value": 4.25, "before": 1.5}
        paper = {"group": "paper", "metric": "de00_mean", "level": "warn", "limit": 1.5, "value": 2.125, "before": None}
        places = [
            {name: each[name] for name in ("condition", "printer", "substrate", "mode")} for each in (CONDITION, BARE)
        ]
        conditions = [
            {**places[0], "check": 118, "measured_at": "2026-07-06T08:30:00+00:00", "limits": [greys, paper]},
            {**places[1], "check": 92, "measured_at": "2026-06-29T08:30:00+00:00", "limits": [paper]},
        ]
        refused = [{**conditions[1], "limits": []}]
        return {
            "two conditions": {"rules_version": 2, "conditions": conditions, **ZONE},
            "one condition": {"rules_version": 2, "conditions": conditions[:1], **ZONE},
            "a check not taken": {"rules_version": 2, "conditions": [], "refused": refused, **ZONE},
            "limits and a check": {"rules_version": 2, "conditions": conditions[:1], "refused": refused, **ZONE},
        }


def _bite(told: BitingLimit) -> Message:
    figure = figure_words(told.group, told.metric)
    words = BITES[told.level, told.before is not None]
    was = {} if told.before is None else {"before": in_its_unit(told.metric, told.before)}
    value, limit = (in_its_unit(told.metric, each) for each in (told.value, told.limit))
    return words.format(figure=figure, value=value, limit=limit, unit=unit_of(told.metric), **was)
