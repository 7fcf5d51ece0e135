"""Completion for bash and zsh from the parser: text that the shell reads by itself, so that no key starts a Python."""

from __future__ import annotations

import argparse
import re
import shlex
from collections.abc import Iterable, Iterator

from sentinel.cli.outline import Outline, takes_files, takes_value

_BASH = r"""# Completion of sentinel for bash, written from its parser; it starts no program.

# Sets what may follow the command $1.
_sentinel_of() {
    commands='' options='' files='' values='' operands=''
    case $1 in
%(cases)s
    esac
}

# Sets what the option $2 of the command $1 may be.
_sentinel_choices() {
    choices=''
    case "$1 $2" in
%(choices)s
    esac
}

_sentinel() {
    local commands options files values operands choices path=sentinel place word
    local current=${COMP_WORDS[COMP_CWORD]} previous=${COMP_WORDS[COMP_CWORD - 1]}
    COMPREPLY=()
    _sentinel_of "$path"
    for ((place = 1; place < COMP_CWORD; place++)); do
        word=${COMP_WORDS[place]}
        if [[ " $files $values " == *" $word "* ]]; then
            ((place++)) # what follows is its value, not a command
        elif [[ " $commands " == *" $word "* ]]; then
            path+=" $word"
            _sentinel_of "$path"
        fi
    done
    _sentinel_choices "$path" "$previous"
    if [[ $choices ]]; then
        COMPREPLY=($(compgen -W "$choices" -- "$current"))
    elif [[ " $files " == *" $previous "* ]]; then
        compopt -o default
    elif [[ " $values " == *" $previous "* ]]; then
        : # words of a person's own
    elif [[ $current == -* ]]; then
        COMPREPLY=($(compgen -W "$options" -- "$current"))
    else
        COMPREPLY=($(compgen -W "$commands" -- "$current"))
        if [[ $operands ]]; then compopt -o default; fi
    fi
}
complete -F _sentinel sentinel
"""


def bash(of: Outline) -> str:
    """For bash 4.4 and newer, with or without the package bash-completion."""
    every = list(of.walked())
    cases = [f"        {_list(each.words)}) {_sets(each)} ;;" for each in every]
    chosen = [
        f"        {_list((*each.words, name))}) choices={_list(map(str, action.choices))} ;;"
        for each in every
        for action in each.options
        if action.choices
        for name in action.option_strings
    ]
    return _BASH % {"cases": "\n".join(cases), "choices": "\n".join(chosen)}


def _sets(of: Outline) -> str:
    valued = [action for action in of.options if takes_value(action)]
    lists = {
        "commands": [each.words[-1] for each in of.below],
        "options": _names(of.options),
        "files": _names(action for action in valued if takes_files(action)),
        "values": _names(action for action in valued if not takes_files(action)),
        "operands": ["files"] if any(takes_files(action) for action in of.operands) else [],
    }
    return " ".join(f"{name}={_list(words)}" for name, words in lists.items() if words)


def _names(actions: Iterable[argparse.Action]) -> list[str]:
    return [name for action in actions for name in action.option_strings]


def _list(words: Iterable[str]) -> str:
    return shlex.quote(" ".join(words))


def zsh(of: Outline) -> str:
    """For zsh's own completion system."""
    return "\n".join(
        [
            "#compdef sentinel",
            "# Completion of sentinel for zsh, written from its parser.",
            "",
            *_function(of),
            '_sentinel "$@"',
            "",
        ]
    )


def _function(of: Outline) -> Iterator[str]:
    """The functions of what is below it, and its own."""
    for each in of.below:
        yield from _function(each)
    name = _called(of)
    specs = [*map(_option, of.options), *map(_operand, of.operands)]
    yield f"{name}() {{"
    if of.below:
        yield "    local state line curcontext=$curcontext"
        specs += ["1:command:->command", "*::words:->words"]
    yield " \\\n        ".join(["    _arguments -C", *map(shlex.quote, specs)])
    if of.below:
        listed = " ".join(shlex.quote(f"{each.words[-1]}:{each.help}") for each in of.below)
        yield f"    local -a below=({listed})"
        yield "    case $state in"
        yield "        command) _describe command below ;;"
        yield "        words) case $line[1] in"
        yield from (f"            {each.words[-1]}) {_called(each)} ;;" for each in of.below)
        yield "        esac ;;"
        yield "    esac"
    yield "}"
    yield ""


def _called(of: Outline) -> str:
    return "_" + "_".join(of.words)


def _option(action: argparse.Action) -> str:
    """Of its names the longest: the others are its short forms."""
    many = "*" if isinstance(action, argparse._AppendAction) else ""
    name = max(action.option_strings, key=len)
    said = "" if action.help == argparse.SUPPRESS else f"[{_plain(action.help)}]"
    return f"{many}{name}{said}" + (_value(action) if takes_value(action) else "")


def _operand(action: argparse.Action) -> str:
    place = {"?": ":", "*": "*", "+": "*"}.get(str(action.nargs), "")
    return f"{place}{_value(action)}"


def _value(action: argparse.Action) -> str:
    called = _plain(str(action.metavar or action.dest))
    if action.choices:
        return f":{called}:({' '.join(map(str, action.choices))})"
    return f":{called}:{'_files' if takes_files(action) else ' '}"


def _plain(text: str | None) -> str:
    """As a description within brackets may be."""
    return re.sub(r"([][:\\])", r"\\\1", " ".join((text or "").replace("%%", "%").split()))
