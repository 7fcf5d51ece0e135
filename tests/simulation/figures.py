"""Prints the measured figures of sentinel/core/drift/README.md.

SENTINEL_TESTS=long python -m tests.simulation.figures
"""

from __future__ import annotations

import sys
from dataclasses import replace

from tests.simulation.benefit import SLOW_WEAR, WEAR, Moving, benefit_of_the_rules, benefits
from tests.simulation.coverage import coverages, crossing_coverages
from tests.simulation.false_alarms import WATCH, false_alarms


def main() -> None:
    _say("kind | with a forecast | in the 50 % interval | in the 90 % interval | trend declared")
    for name, of in coverages().items():
        _say(f"{name} | {of.forecast:.1%} | {of.half:.1%} | {of.ninety:.1%} | {of.trend:.1%}")
    for wander in (0.0, 0.3, 0.6):
        for readings, (half, ninety) in crossing_coverages(wander).items():
            _say(f"crossing, wander {wander}, {readings} readings | {half:.1%} | {ninety:.1%}")
    for watched in (WATCH, replace(WATCH, sigma_known=False), replace(WATCH, autocorrelation=0.0)):
        for between in (0.0, 0.5, 0.9):
            _say(f"{watched}, between series {between}: {false_alarms(watched, between)}")
    moving = {
        "wear": Moving(WEAR),
        "slow wear": Moving(SLOW_WEAR),
        "steps, none recorded": Moving(steps=True),
        "steps, 80 % recorded": Moving(steps=True, recorded=0.8),
        "wear and steps, none recorded": Moving(WEAR, steps=True),
        "wear and steps, 80 % recorded": Moving(WEAR, steps=True, recorded=0.8),
        "wear and steps, all recorded": Moving(WEAR, steps=True, recorded=1.0),
    }
    for name, got in zip(moving, benefits(list(moving.values())), strict=True):
        _say(f"{name} | {got.by_forecast} | {got.interval:.2f} | {got.fixed} | {got.ratio:.2f}")
    for name, wear in (("wear", WEAR), ("slow wear", SLOW_WEAR)):
        got = benefit_of_the_rules(wear)
        _say(f"by the due rules, {name} | {got.by_forecast} | {got.interval:.2f} | {got.fixed} | {got.ratio:.2f}")


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
