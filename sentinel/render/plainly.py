"""What is said of statistics, said for those who stand at a machine: the same sentence without them.

The words of a reason are chosen where it arises and kept with it; how it is told depends on who reads. This is the one
place for that: a pattern with statistics in it has a plain one here, of the same values or fewer, and both are
translated. So reasons of any age are told plainly, and a new one with statistics fails a test until it stands here.
"""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.conditions.forecasts import CHARTS, LEAVES, MAY_LEAVE, SHIFTED
from sentinel.core.conditions.risk import OUTSIDE_BY_WEAR
from sentinel.core.diagnosis.movement import MOVED, WITHIN
from sentinel.core.message import Message, Text, Value, msg
from sentinel.core.scoring.names import METRIC_WORDS

HIGHER = msg("the {figure} has been higher than usual since {day}")
LOWER = msg("the {figure} has been lower than usual since {day}")

DRIFT_CHART = msg("drift chart")
WITHOUT_WORST = msg("without the worst 5 %")

_WORDS: Mapping[str, Message] = {
    "de00_median": msg("ΔE00 without the worst 50 %"),
    "de00_p95": msg("ΔE00 without the worst 5 %"),
    "de94_median": msg("ΔE94 without the worst 50 %"),
    "de94_p95": msg("ΔE94 without the worst 5 %"),
    "cmc_median": msg("ΔE CMC(2:1) without the worst 50 %"),
    "cmc_p95": msg("ΔE CMC(2:1) without the worst 5 %"),
    "de76_median": msg("ΔE*ab without the worst 50 %"),
    "de76_p95": msg("ΔE*ab without the worst 5 %"),
    "dch_median": msg("ΔCh without the worst 50 %"),
    "dch_p95": msg("ΔCh without the worst 5 %"),
    "rel_de00_median": msg("ΔE00 relative to bare stock without the worst 50 %"),
    "rel_de00_p95": msg("ΔE00 relative to bare stock without the worst 5 %"),
}

PLAINLY: Mapping[str, Message] = {
    MOVED.pattern: msg("{part}: {direction}"),
    WITHIN.pattern: msg("{part}: {direction}, hardly more than usual"),
    MAY_LEAVE.pattern: msg("the {figure} may reach what the action limit allows from {day} on"),
    LEAVES.pattern: msg("the {figure} drifts, and is expected to reach what the action limit allows {expected}"),
    OUTSIDE_BY_WEAR.pattern: msg(
        "about 1 in {odds} that it is out of tolerance by {day}: the {figure} drifts on all stocks of the printer"
    ),
    SHIFTED["above"].pattern: HIGHER,
    SHIFTED["below"].pattern: LOWER,
    **{METRIC_WORDS[metric].pattern: words for metric, words in _WORDS.items()},
    **dict.fromkeys((words.pattern for words in CHARTS.values()), DRIFT_CHART),
    # as earlier versions kept them
    "the {figure} moves by {slope:+.2g} a day and reaches what the action limit allows {expected} (with 90 % "
    "confidence not before {day} and {latest}); from {readings} readings": msg(
        "the {figure} drifts, and is expected to reach what the action limit allows {expected}"
    ),
    "95th percentile": WITHOUT_WORST,
}
"""By the pattern that has statistics in it."""


def plainly(text: Text) -> Text:
    """The same without statistics, however deep they stand in it."""
    if isinstance(text, str):
        return text
    words = PLAINLY.get(text.pattern, text)
    return Message(words.pattern, words.several, tuple((name, _plain(value)) for name, value in text.values))


def _plain(value: Value) -> Value:
    return plainly(value) if isinstance(value, Message) else value
