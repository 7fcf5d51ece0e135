"""The manual pages, in the language of man(7), from the parser.

One page a command, which `man sentinel check` finds as well as `man sentinel-check`. Commands below a command stand on
its page: they are looked for together.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterable

from sentinel import __version__
from sentinel.cli.command import Exit
from sentinel.cli.outline import Outline, takes_value

ENDINGS = {
    Exit.FINE: "Fine; of checks: pass or warn.",
    Exit.FAILED: "A check failed, a notice was not taken, files were left, something is not well or damaged.",
    Exit.REFUSED: "Usage or settings refused, or no such file.",
    Exit.UNSCORED: "Something could not be scored, read, compared or foretold.",
    Exit.SECOND_INSTANCE: "Another sentinel works on this store.",
    Exit.STORE: "The store cannot be opened.",
    Exit.INTERRUPTED: "Broken off at the keyboard.",
}
VARIABLES = {"SENTINEL_CONFIG": "The settings, where `--config` names none."}
PLACES = {
    "/etc/sentinel/sentinel.toml": "The settings, where neither `--config` nor `SENTINEL_CONFIG` names others.",
    "/etc/sentinel/credentials/": "One file a recipient, with its URL; for root alone.",
    "/var/lib/sentinel/": "The store, its backups and the archive.",
    "/srv/print-room/drop/": "Where measurement files are dropped.",
    "/srv/print-room/put-aside/": "Files that could not be scored, each with its reason.",
}


def pages(of: Outline) -> dict[str, str]:
    """The text of each page by the name of its file."""
    return {
        f"{_title(each)}.1": "\n".join(lines) + "\n" for each, lines in [(of, _whole(of)), *map(_command, of.below)]
    }


def _whole(of: Outline) -> list[str]:
    return [
        *_head(of),
        ".SH DESCRIPTION",
        _filled(of.parser.description or ""),
        ".SH COMMANDS",
        *_terms((_reference(each), _sentence(each.help)) for each in of.below),
        ".SH OPTIONS",
        *_options(of, of.options),
        ".SH EXIT STATUS",
        *_terms((str(int(code)), text) for code, text in ENDINGS.items()),
        ".SH ENVIRONMENT",
        *_terms((_bold(name), text) for name, text in VARIABLES.items()),
        ".SH FILES",
        *_terms((_escaped(place), text) for place, text in PLACES.items()),
        ".SH SEE ALSO",
        ", ".join(map(_reference, of.below)),
    ]


def _command(of: Outline) -> tuple[Outline, list[str]]:
    below = [line for each in of.below for line in (f".SS {' '.join(each.words)}", _usage(each), *_body(each))]
    return of, [
        *_head(of),
        ".SH DESCRIPTION",
        *_body(of),
        *([".SH COMMANDS", *below] if below else []),
        ".SH SEE ALSO",
        rf"{_bold('sentinel')}(1), which tells of settings, exit codes and files",
    ]


def _head(of: Outline) -> list[str]:
    return [
        f'.TH "{_escaped(_title(of).upper())}" 1 "" "sentinel {_escaped(__version__)}" "Print-room sentinel"',
        ".nh",
        ".ad l",
        ".SH NAME",
        rf"{_escaped(_title(of))} \- {_escaped(of.help)}",
        ".SH SYNOPSIS",
        _usage(of),
    ]


def _title(of: Outline) -> str:
    return "-".join(of.words)


def _reference(of: Outline) -> str:
    return f"{_bold(_title(of))}(1)"


def _usage(of: Outline) -> str:
    """As argparse has it, what is typed as it stands in bold."""
    usage = " ".join(of.parser.format_usage().split()).removeprefix("usage: ")
    typed = " ".join(of.words)
    rest = re.split(r"((?<![\w-])--?[a-z][a-z-]*)", usage.removeprefix(typed))
    return _bold(typed) + "".join(_bold(part) if place % 2 else _escaped(part) for place, part in enumerate(rest))


def _body(of: Outline) -> list[str]:
    """What it does, its operands and options, and the end of its help."""
    lines = [".PP", _filled(of.parser.description or _sentence(of.help))]
    lines += _terms((_italic(_metavar(each)), _help(of, each)) for each in of.operands)
    for group in of.parser._action_groups:
        if group.description:
            lines += [".PP", _filled(f"{group.title}: {group.description}")]
        lines += _options(of, [each for each in group._group_actions if each.option_strings])
    return lines + ([".PP", _filled(of.parser.epilog)] if of.parser.epilog else [])


def _options(of: Outline, actions: Iterable[argparse.Action]) -> list[str]:
    """`--config` of every command is that of the program, and stands there."""
    return _terms((_named(each), _help(of, each)) for each in actions if each.help != argparse.SUPPRESS)


def _terms(rows: Iterable[tuple[str, str]]) -> list[str]:
    """Each term, and below it, set in, what is said of it."""
    return [line for term, said in rows for line in (".TP", term, _filled(said))]


def _named(action: argparse.Action) -> str:
    value = f" {_italic(_metavar(action))}" if takes_value(action) else ""
    return ", ".join(f"{_bold(name)}{value}" for name in action.option_strings)


def _metavar(action: argparse.Action) -> str:
    if isinstance(action.metavar, str):
        return action.metavar
    return "|".join(map(str, action.choices)) if action.choices else action.dest.upper()


def _help(of: Outline, action: argparse.Action) -> str:
    """With what argparse puts into it."""
    return of.parser._get_formatter()._expand_help(action) if action.help else ""


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _filled(text: str) -> str:
    """A paragraph, what stands in backquotes in bold."""
    parts = " ".join(text.split()).split("`")
    return "".join(_bold(part) if place % 2 else _escaped(part) for place, part in enumerate(parts)) or r"\&"


def _bold(text: str) -> str:
    return rf"\fB{_escaped(text)}\fR"


def _italic(text: str) -> str:
    return rf"\fI{_escaped(text)}\fR"


_ESCAPES = str.maketrans({"\\": r"\e", "-": r"\-", "'": r"\(aq", "`": r"\(ga", "^": r"\(ha", "~": r"\(ti"})


def _escaped(text: str) -> str:
    """As it stands: no mark of the language, and no other sign in its place."""
    return (r"\&" if text.startswith(".") else "") + text.translate(_ESCAPES)
