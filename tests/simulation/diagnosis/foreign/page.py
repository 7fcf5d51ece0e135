"""One page that compares the foreign worlds."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from statistics import fmean, median

from sentinel.core.verdict import Verdict
from tests.simulation.diagnosis.foreign.judging import Judged, Share, came_first, reliability, share

MAPPING = (
    "What counts as the true cause: tone tone-shift; solid solid-off-aim; wet possibly-not-dry; paper "
    "substrate-shade; scale measurement-scale; mode measurement-mode; stock wrong-substrate; outlying "
    "outlying-patches; order patch-order; light ink light-ink; distortion unexplained or print-moved. In the world "
    "rgb, whose inks are hidden, tone and solid may be called print-moved too (wet not: what it needs is time). "
    "Nothing else is forgiven: of an even shade and a scale error only the true one is right."
)

Pick = Callable[[Judged], bool]


def page(worlds: Mapping[str, Sequence[Judged]], title: str) -> str:
    """All tables; the worlds in the order in which they are to stand."""
    parts = [title, MAPPING, _table(("", "goal", *worlds), _figures(worlds))]
    parts += ["Single faults in the answer, by what is true:", _table(("true", *worlds), _by_truth(worlds))]
    parts += [
        "Findings by their confidence (mean confidence: share that named a truth, of so many):",
        _table(("confidence", *worlds), _reliability(worlds)),
    ]
    for world, judged in worlds.items():
        table = came_first(judged)
        called = sorted({cause for row in table.values() for cause in row})
        rows = [(true, *(str(row[cause] or "") for cause in called)) for true, row in table.items()]
        parts += [f"{world}: what is true (rows) and what came first:", _table(("", *called), rows)]
    return "\n\n".join(parts) + "\n"


def _figures(worlds: Mapping[str, Sequence[Judged]]) -> list[tuple[str, ...]]:
    rows: list[tuple[str, str, Callable[[Sequence[Judged]], str]]] = [
        ("checks", "", lambda judged: str(len(judged))),
        ("true cause in the answer: full charts, movement to 0.6", "at least 90 %", _told(_goal, _right)),
        (
            "... there, where the oracle was asked",
            "",
            _told(lambda each: _goal(each) and each.oracle is not None, _right),
        ),
        ("... the oracle", "", _told(lambda each: _goal(each) and each.oracle is not None, _oracle_right)),
        ("... all full charts", "", _told(_single_on("full"), _right)),
        ("... about 60 patches", "", _told(_single_on("short"), _right)),
        ("... strips of 24", "", _told(_single_on("strip"), _right)),
        ("... movement beyond 0.6", "", _told(lambda each: each.single and each.movement > 0.6, _right)),
        (
            "... faults of 1.1 to 1.6 warning limits",
            "",
            _told(lambda each: each.single and each.severity < 1.6, _right),
        ),
        ("... wherever the oracle was asked", "", _told(_asked_too, _right)),
        ("... the oracle", "", _told(_asked_too, _oracle_right)),
        (
            "confidently wrong, of all checks",
            "at most 1 %, rgb 2 %",
            _told(lambda _: True, lambda each: each.confidently_wrong),
        ),
        (
            "... of single faults, full charts, movement to 0.6",
            "at most 1 %, rgb 2 %",
            _told(_goal, lambda each: each.confidently_wrong),
        ),
        ("mean length of the answer to a single fault", "at most 1.5", _length),
        ("healthy with a finding: full charts", "at most 1 %", _told(_healthy_on("full"), _spoke)),
        ("... about 60 patches", "at most 1 %", _told(_healthy_on("short"), _spoke)),
        ("... strips of 24", "at most 2 %", _told(_healthy_on("strip"), _spoke)),
        (
            "... the oracle, on any chart",
            "",
            _told(lambda each: each.healthy and each.oracle is not None, _oracle_spoke),
        ),
        ("small movement, passing, with a finding", "", _told(lambda each: bool(each.moved) and not each.off, _spoke)),
        ("misread and not withheld", "", _told(_misread, lambda each: each.asked.verdict is not Verdict.UNSCORED)),
        ("misread and failed", "at most 2 %", _told(_misread, lambda each: each.asked.verdict is Verdict.FAIL)),
        ("withheld though not misread nor another stock", "", _told(_in_place, _withheld)),
        ("two faults: both in the answer", "at least 60 %", _told(_two, _right)),
        ("... at least one", "at least 95 %", _told(_two, lambda each: each.found > 0)),
        ("... confidently wrong", "at most 2 %", _told(_two, lambda each: each.confidently_wrong)),
        (
            "warned or failed without a finding",
            "none",
            _told(lambda each: each.off, lambda each: not each.asked.findings),
        ),
        ("processor seconds: median (95 of 100 below)", "", _seconds),
    ]
    return [(name, goal, *(figure(judged) for judged in worlds.values())) for name, goal, figure in rows]


def _goal(each: Judged) -> bool:
    return each.single and each.full_and_usual


def _right(each: Judged) -> bool:
    return each.right


def _oracle_right(each: Judged) -> bool:
    return each.oracle is not None and bool(each.truths[0] & set(each.oracle))


def _asked_too(each: Judged) -> bool:
    return each.single and each.oracle is not None


def _oracle_spoke(each: Judged) -> bool:
    return bool(each.oracle)


def _spoke(each: Judged) -> bool:
    return bool(each.asked.findings)


def _misread(each: Judged) -> bool:
    return each.misread


def _two(each: Judged) -> bool:
    return len(each.truths) == 2


def _in_place(each: Judged) -> bool:
    return not {"order", "stock"} & set(each.kinds)


def _withheld(each: Judged) -> bool:
    return each.asked.verdict is Verdict.UNSCORED


def _single_on(chart: str) -> Pick:
    return lambda each: each.single and each.chart == chart


def _healthy_on(chart: str) -> Pick:
    return lambda each: each.healthy and each.chart == chart


def _told(of: Pick, hit: Pick) -> Callable[[Sequence[Judged]], str]:
    return lambda judged: told(share(judged, of, hit))


def told(of: Share) -> str:
    """A share with its interval and its number; nothing where there is nothing to share."""
    if not of.checks:
        return ""
    low, high = of.interval
    return f"{100 * of.hits / of.checks:.1f} % ({100 * low:.0f} to {100 * high:.0f}) of {of.checks}"


def _length(judged: Sequence[Judged]) -> str:
    lengths = [len(each.asked.answer) for each in judged if each.single and each.asked.answer]
    return f"{fmean(lengths):.2f}" if lengths else ""


def _seconds(judged: Sequence[Judged]) -> str:
    taken = sorted(each.asked.seconds for each in judged)
    return f"{median(taken):.3f} ({taken[int(0.95 * (len(taken) - 1))]:.3f})"


def _by_truth(worlds: Mapping[str, Sequence[Judged]]) -> list[tuple[str, ...]]:
    names = sorted({each.named for judged in worlds.values() for each in judged if each.single})
    return [(name, *(_told(_named(name), _right)(judged) for judged in worlds.values())) for name in names]


def _named(name: str) -> Pick:
    return lambda each: each.named == name


def _reliability(worlds: Mapping[str, Sequence[Judged]]) -> list[tuple[str, ...]]:
    columns = [{each.low: each for each in reliability(judged)} for judged in worlds.values()]
    highs = {each.low: each.high for column in columns for each in column.values()}
    rows = []
    for low in sorted(highs):
        found = [column.get(low) for column in columns]
        cells = [
            "" if each is None else f"{each.confidence:.2f}: {each.true / each.findings:.2f} of {each.findings}"
            for each in found
        ]
        rows.append((f"{low:g} to {highs[low]:g}", *cells))
    return rows


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)
