"""A study as Markdown, for the documents."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from tests.simulation.diagnosis.figures import Figures, by_case, confusion, figures, reliability
from tests.simulation.diagnosis.judging import Judged

_HEAD = (
    "",
    "checks",
    "right cause",
    "at least one",
    "confidently wrong",
    "answer",
    "ink right",
    "sign right",
    "healthy",
)


def page(study: Mapping[str, Sequence[Judged]]) -> str:
    """All tables of a study; its sets by name, in the order in which they are to stand."""
    parts = [_table(_HEAD, [_row(name, figures(judged)) for name, judged in study.items()])]
    for name, judged in study.items():
        parts += [f"### {name}", _table(_HEAD, [_row(case, figures(each)) for case, each in by_case(judged).items()])]
        if any(len(each.labels) < 2 for each in judged):
            parts += ["True cause (rows) and the cause that came first:", _confusion(judged)]
        parts += ["Findings by their confidence:", _reliability(judged)]
    return "\n\n".join(parts) + "\n"


def _row(name: str, of: Figures) -> tuple[str, ...]:
    shares = (of.right, of.any_right, of.confidently_wrong)
    length = "" if of.length is None else f"{of.length:.2f}"
    of_causes = (of.ink_right, of.sign_right, of.called_healthy)
    return name, str(of.checks), *map(_percent, shares), length, *map(_percent, of_causes)


def _confusion(judged: Iterable[Judged]) -> str:
    table = confusion(judged)
    called = sorted({cause for row in table.values() for cause in row})
    return _table(("", *called), [(true, *(str(row[cause] or "") for cause in called)) for true, row in table.items()])


def _reliability(judged: Iterable[Judged]) -> str:
    rows = [
        (f"{each.low:g} to {each.high:g}", str(each.findings), f"{each.confidence:.3f}", f"{each.right:.3f}")
        for each in reliability(judged)
    ]
    return _table(("confidence", "findings", "mean confidence", "share right"), rows)


def _percent(share: float | None) -> str:
    return "" if share is None else f"{100 * share:.1f} %"


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)
