"""A round planned up to a point, and what may come next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from sentinel.core.planning.jobs import Jobs, PrinterLine


class Move(NamedTuple):
    """The next work that is fixed: a chart is measured, or printed after a roll change of `change` minutes, maybe 0."""

    start: int
    job: int
    measures: bool
    change: int
    end: int
    """When it is measured, or printed."""


@dataclass(slots=True)
class Partial:
    """Where everything stands once the moves so far are done. Times in minutes, sets of jobs as bits."""

    printed: int
    measured: int
    free: tuple[int, ...]
    """When each printer is."""
    loaded: tuple[int, ...]
    """The stock on each printer."""
    person: int
    """When the person is free."""
    dry_at: tuple[tuple[int, int], ...]
    """Each chart that waits to be measured, and when it is dry."""
    changing: int = 0
    """Minutes of roll changes so far."""
    bound: tuple[int, int] = (0, 0)
    """No plan that begins like this has a total, or the same total and roll changes, below this."""
    before: Partial | None = None
    move: Move | None = None

    def moves_so_far(self) -> list[Move]:
        """In the order in which they were fixed."""
        moves = []
        at: Partial | None = self
        while at is not None and at.move is not None:
            moves.append(at.move)
            at = at.before
        return moves[::-1]


def beginning(jobs: Jobs) -> Partial:
    """Nothing is done yet."""
    lines = len(jobs.lines)
    return Partial(0, 0, (0,) * lines, (0,) * lines, 0, ())


def after(jobs: Jobs, at: Partial, move: Move) -> Partial:
    """Once `move` is done too; its bound is still to be set."""
    bit = 1 << move.job
    if move.measures:
        waiting = tuple(item for item in at.dry_at if item[0] != move.job)
        measured = at.measured | bit
        return Partial(at.printed, measured, at.free, at.loaded, move.end, waiting, at.changing, before=at, move=move)
    job = jobs.each[move.job]
    return Partial(
        at.printed | bit,
        at.measured,
        _with(at.free, job.printer, move.end),
        _with(at.loaded, job.printer, job.stock),
        move.start + move.change if move.change else at.person,
        (*at.dry_at, (move.job, move.end + job.dry)),
        at.changing + move.change,
        before=at,
        move=move,
    )


def _with(values: tuple[int, ...], place: int, value: int) -> tuple[int, ...]:
    return (*values[:place], value, *values[place + 1 :])


def next_moves(jobs: Jobs, at: Partial) -> list[Move]:
    """Moves of which at least one is the next of a best plan; none where every chart is measured.

    A move that could begin only when another one can be done is not the next: that other fits in before it (active
    schedules, Giffler and Thompson 1960). The other must do no harm by coming first. A measurement never does, nor a
    chart of the stock that is loaded. Of the charts that need a roll change any may be the one that should come first,
    and then it does no harm; so what must fit in is the longest change.

    Once no roll change is left, the person only measures, and does best in the order in which charts are dry; then only
    printing is left to decide.
    """
    printing = [_printing(line, number, at) for number, line in enumerate(jobs.lines)]
    if not any(move.change for moves in printing for move in moves):
        return _without_changes(jobs, at, printing)
    measuring = _measuring(jobs, at)
    harmless = [*measuring, *(move for moves in printing for move in moves if not move.change)]
    changed = [_changed(moves) for moves in printing if moves and all(move.change for move in moves)]
    limit = min([*changed, *(move.end for move in harmless)])
    early = [move for moves in (measuring, *printing) for move in moves if move.start < limit]
    first = next((move for move in harmless if move.end == limit), None)
    return early if first is None else _apart(jobs, first, early) or early


def _changed(moves: list[Move]) -> int:
    """When the person can be done with the roll change of whichever chart is next on a printer."""
    return max(move.start + move.change for move in moves)


def _apart(jobs: Jobs, first: Move, early: list[Move]) -> list[Move]:
    """Only the moves that want the same as `first`, where no roll change ties person and printer together."""
    if first.measures:
        return [] if any(move.change for move in early) else [move for move in early if move.measures]
    printer = jobs.each[first.job].printer
    there = [move for move in early if not move.measures and jobs.each[move.job].printer == printer]
    return [] if any(move.change for move in there) else there


def _printing(line: PrinterLine, number: int, at: Partial) -> list[Move]:
    """What this printer can print next."""
    left = line.all & ~at.printed
    if not left:
        return []
    minutes, free = line.changeover.minutes[at.loaded[number]], at.free[number]
    moves = []
    for job, chart in line.next_of(left):
        change = minutes[chart.stock]
        start = max(free, at.person) if change else free
        moves.append(Move(start, job, False, change, start + change + chart.print))
    return moves


def _measuring(jobs: Jobs, at: Partial) -> list[Move]:
    """What the person can measure next; of charts that take as long the one that is dry first."""
    first_dry: dict[int, tuple[int, int]] = {}
    for job, dry in at.dry_at:
        minutes = jobs.each[job].measure
        if minutes not in first_dry or (dry, job) < first_dry[minutes]:
            first_dry[minutes] = dry, job
    return [_measure(at, job, dry, minutes) for minutes, (dry, job) in first_dry.items()]


def _measure(at: Partial, job: int, dry: int, minutes: int) -> Move:
    start = max(at.person, dry)
    return Move(start, job, True, 0, start + minutes)


def _without_changes(jobs: Jobs, at: Partial, printing: list[list[Move]]) -> list[Move]:
    """Measure what is dry before anything still to print can be; else what one printer can print next."""
    dry, job = min(((dry, job) for job, dry in at.dry_at), default=(0, -1))
    still = [move.end + jobs.each[move.job].dry for moves in printing for move in moves]
    if job >= 0 and dry <= min(still, default=dry):
        return [_measure(at, job, dry, jobs.each[job].measure)]
    return next((moves for moves in printing if moves), [])
