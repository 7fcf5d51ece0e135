"""`sentinel inspect`: what is in a file, and what the reader made of it."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands
    from sentinel.core.cgats.survey import Survey


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "inspect",
        help="show what is in a measurement file",
        description="Shows what was read of a CGATS file, what was assumed and every fault, with their lines; reads on "
        "past faults to show what is there. Needs no settings. Exit codes: 0 it can be read, 2 no such file or no "
        "place for the rewritten one, 3 it cannot be read without guessing.",
    )
    parser.add_argument("file", metavar="FILE", help="a measurement file")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument("--rewrite", type=Path, metavar="OUT", help="write the clean file; it must not exist yet")
    parser.set_defaults(handler=_inspect)


def _inspect(options: argparse.Namespace) -> Exit:
    from sentinel.cli.sources import file_bytes
    from sentinel.core.cgats.survey import survey
    from sentinel.render.inspect import inspected_json, inspected_text
    from sentinel.settings.place import LARGEST_MB

    data = file_bytes(Path(options.file), LARGEST_MB, "a measurement file")
    found = survey(data)
    if options.json:
        print(json.dumps(inspected_json(options.file, found), indent=2))
    else:
        print(inspected_text(options.file, found, data))
    if found.faults:
        if options.rewrite:
            print("sentinel: not rewritten: the file cannot be read without guessing", file=sys.stderr)
        return Exit.UNSCORED
    if options.rewrite:
        _rewrite(options.rewrite, found)
    return Exit.FINE


def _rewrite(out: Path, found: Survey) -> None:
    from sentinel.core.cgats import write

    try:
        with out.open("xb") as file:
            file.write(write(found.document))
    except OSError as fault:
        raise AdminError(f"expected a new file to be written at {out}, got: {fault.strerror}") from None
