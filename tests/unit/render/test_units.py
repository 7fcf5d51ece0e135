"""A unit stands behind every number that people read."""

from __future__ import annotations

import re
from typing import get_args

import pytest

from sentinel.adapters.catalogues import localizer
from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.records import Notice
from sentinel.core.cases.standing import Turn
from sentinel.core.message import Language
from sentinel.core.scoring.names import METRIC_WORDS, in_its_unit, unit_of
from sentinel.render.figures import figure_lines, ink_lines
from sentinel.render.notices import Letters, every_sample
from sentinel.render.notices.samples import KEY
from tests.support.units import without_unit

LANGUAGES: tuple[Language, ...] = get_args(Language)


@pytest.mark.parametrize("reader", [None, Turn.OPERATOR, Turn.COLOUR_LEAD])
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("kind", NoticeKind)
def test_every_number_of_a_notice_has_its_unit(kind: NoticeKind, language: Language, reader: Turn | None) -> None:
    letters = Letters(localizer=localizer(language, "metric"), reader=reader)
    for what, facts in every_sample()[kind.value].items():
        found = letters.letter(Notice(KEY, kind, "", 0, facts)).message()
        assert without_unit(f"{found.title}\n{found.body}") == [], what


def test_a_number_without_one_is_found() -> None:
    assert without_unit("got 7.25 against 5.00 ΔE00") == ["7.25 against"]
    assert without_unit("3 in a row, 4 checks, 0.7 to 1.2 ΔE00, row 8 to 72, 2026-07-06 09:30 WEST, case 18") == [
        "3 in"
    ]


@pytest.mark.parametrize("metric", METRIC_WORDS)
def test_every_metric_has_a_unit(metric: str) -> None:
    assert unit_of(metric)
    assert re.search(r"ΔE|ΔC|Δ[Lab]|%|^D$", unit_of(metric))


def test_a_share_is_told_in_per_cent() -> None:
    assert (in_its_unit("de00_share", 0.05), unit_of("de00_share")) == (5.0, "%")


def test_figures_of_commands_have_their_units() -> None:
    metrics = {
        "all": {"de00_mean": 1.2, "de00_p95": 2.0, "de00_max": 3.0},
        "solid_C": {"density_mean": 0.02},
        "tones_C": {"tv_mean": -1.5},
    }
    lines = [*figure_lines(metrics), *ink_lines(metrics, "E")]
    assert len(lines) == 3
    assert [without_unit(re.sub("95th percentile|status E", "", line)) for line in lines] == [[], [], []]


def test_a_limit_of_a_share_is_told_in_per_cent() -> None:
    from sentinel.core.scoring.judging import judge
    from sentinel.core.scoring.policy import Limit

    _, [reason] = judge({"all": {"de00_share": 0.12}}, {"all": {"de00_share": Limit(0.02, 0.05)}})
    assert str(reason.message).endswith("expected at most the action limit 5.00 %, got 12.00 %")
