"""`sentinel cause`: a person tells what a check really had."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

from sentinel.application.causes import CauseKept, CauseWanted, tell_cause, tellable
from sentinel.cli.command import Commands, Exit, Parser, positive
from sentinel.core.conditions.told_causes import INDEPENDENT, SEEN_BY_WORDS

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


CAUSE_SCHEMA = "sentinel.cause/1"


def kept_text(kept: CauseKept) -> str:
    """What was told, in place of what, and whether it counts."""
    lines = [f"check {kept.told.check}, {kept.check.condition}: {kept.told.line}"]
    if kept.before is not None:
        lines.append(f"in place of: {kept.before.line}")
    counts = "it counts in what is expected here" if kept.told.independent else NOT_COUNTED
    return "\n".join([*lines, f"event {kept.told.event}: {counts}"])


NOT_COUNTED = "it is kept, and counts nowhere: there is no evidence beside the diagnosis"


def kept_json(kept: CauseKept) -> dict[str, Any]:
    """The same, whole; `before` is what had been told of the check until then, or null."""
    return {
        "schema": CAUSE_SCHEMA,
        "check": kept.told.check,
        "condition": kept.check.condition,
        **kept.told.as_json(),
        "before": kept.before.as_json() if kept.before else None,
    }


def _options(parser: Parser) -> None:
    seen = "; ".join(f"{code} ({words})" for code, words in SEEN_BY_WORDS.items())
    counted = ", ".join(code.value for code in SEEN_BY_WORDS if code in INDEPENDENT)
    parser.usage = "sentinel cause [-h] CHECK CAUSE [--ink INK] --by WHO --seen-by HOW [--why TEXT] [--json]"
    parser.description = (
        "Tells what a recorded check really had. What was told last of a check holds; what was told before stays on "
        "record, and `sentinel event undo` takes a word back. What is expected of the checks to come follows what was "
        f"told with evidence of its own ({counted}). Exit codes: 0 recorded, 2 refused."
    )
    parser.epilog = f"Causes: {', '.join(tellable())}. How it was seen: {seen}."
    parser.add_argument("check", metavar="CHECK", type=positive, help="its number, as `sentinel checks` shows it")
    parser.add_argument("cause", metavar="CAUSE", help="what it really had, see below")
    parser.add_argument("--ink", metavar="INK", help="the ink it is about, as the chart calls it")
    parser.add_argument("--by", metavar="WHO", required=True, help="who tells it")
    parser.add_argument("--seen-by", metavar="HOW", required=True, help="by what it was seen, see below")
    parser.add_argument("--why", metavar="TEXT", help="words for people")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_cause)


def _cause(options: argparse.Namespace, room: Composition) -> Exit:
    wanted = CauseWanted(options.check, options.cause, options.ink, options.seen_by, options.by, options.why)
    kept = tell_cause(room.reading, room.writing, wanted, room.clock.now())
    print(json.dumps(kept_json(kept)) if options.json else kept_text(kept))
    return Exit.FINE


COMMANDS: Commands = {"cause": _options}
