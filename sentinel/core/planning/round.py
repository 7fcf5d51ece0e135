"""The plan of a round, from the room as it stands."""

from __future__ import annotations

from collections.abc import Iterator

from sentinel.core.planning.jobs import Jobs, Line
from sentinel.core.planning.partial import Move
from sentinel.core.planning.plan import ChartTimes, Plan, PrinterPlan, Step, Work
from sentinel.core.planning.rolls import remarks_on, roll_needs
from sentinel.core.planning.room import Room
from sentinel.core.planning.search import EFFORT, Found, search


def plan_round(room: Room, effort: int = EFFORT) -> Plan:
    """The round that is done soonest, then with the least work; what is exact is told in the package.

    `effort` bounds the search, see there: a count, so that no clock decides. The same room gives the same plan, in
    whatever order its parts are handed in.
    """
    jobs = Jobs(room)
    found = search(jobs, effort) if jobs.each else Found((0, 0), (), (0, 0))
    total, changing = found.value
    steps = _steps(jobs, found.moves)
    return Plan(
        steps=steps,
        charts=_charts(room, steps),
        printers=tuple(_of_printer(line, steps) for line in jobs.lines),
        rolls=roll_needs(room),
        remarks=remarks_on(room),
        total_minutes=total,
        person_minutes=changing + jobs.measuring(jobs.all),
        least_minutes=found.least[0],
        proved=found.proved,
    )


def _steps(jobs: Jobs, moves: tuple[Move, ...]) -> tuple[Step, ...]:
    steps = [step for move in moves for step in _steps_of(jobs, move)]
    return tuple(sorted(steps, key=lambda step: (step.start, step.end, step.printer, step.condition or "")))


def _steps_of(jobs: Jobs, move: Move) -> Iterator[Step]:
    job = jobs.each[move.job]
    line = jobs.lines[job.printer]
    stock = str(line.stocks[job.stock])
    if move.measures:
        yield Step(Work.MEASURE, line.name, stock, job.condition, move.start, move.end)
        return
    begun = move.start + move.change
    if move.change:
        yield Step(Work.CHANGE, line.name, stock, None, move.start, begun)
    yield Step(Work.PRINT, line.name, stock, job.condition, begun, move.end)
    if job.dry:
        yield Step(Work.DRY, line.name, stock, job.condition, move.end, move.end + job.dry)


def _charts(room: Room, steps: tuple[Step, ...]) -> tuple[ChartTimes, ...]:
    charts = {chart.condition: chart for chart in room.charts}
    printed_at = {step.condition: step.end for step in steps if step.work is Work.PRINT}
    return tuple(
        ChartTimes(
            condition=chart.condition,
            printer=step.printer,
            stock=chart.stock,
            why=chart.why,
            printed_at=printed_at[chart.condition],
            dry_at=printed_at[chart.condition] + chart.drying_minutes,
            drying_assumed=chart.drying_assumed,
            measured_from=step.start,
            measured_at=step.end,
        )
        for step in steps
        if step.work is Work.MEASURE and (chart := charts[step.condition or ""])
    )


def _of_printer(line: Line, steps: tuple[Step, ...]) -> PrinterPlan:
    own = [step for step in steps if step.printer == line.name]
    printed = [step for step in own if step.work is Work.PRINT]
    changes = [step for step in own if step.work is Work.CHANGE]
    return PrinterPlan(
        printer=line.name,
        order=tuple(step.condition for step in printed if step.condition is not None),
        changes=len(changes),
        change_minutes=sum(step.end - step.start for step in changes),
        printed_at=max(step.end for step in printed),
        measured_at=max(step.end for step in own),
    )
