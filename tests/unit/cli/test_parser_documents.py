"""Manual pages and completion hold what the parser has, and what reads them finds nothing to say."""

from __future__ import annotations

import os
import pty
import re
import select
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from sentinel.cli.command import Exit
from sentinel.cli.documents import documents, main
from sentinel.cli.manual import ENDINGS, pages
from sentinel.cli.outline import Outline, outline, takes_files, takes_value

PROGRAM = outline()
TEXTS = documents()
COMMANDS = list(PROGRAM.walked())
NAMES = [" ".join(each.words) for each in COMMANDS]
BASH = "bash-completion/completions/sentinel"
ZSH = "zsh/vendor-completions/_sentinel"
PATIENCE = 30.0


def named(tool: str) -> str:
    found = shutil.which(tool)
    if found is None:
        pytest.skip(f"needs the program {tool}")
    return found


def page_of(command: Outline) -> str:
    """What stands on its page, from its own heading on where it has one, without the marks of man(7)."""
    text = TEXTS[f"man/man1/{'-'.join(command.words[:2])}.1"]
    if len(command.words) > 2:
        text = re.split(r"\n\.S[SH] ", text.partition(f"\n.SS {' '.join(command.words)}\n")[2])[0]
    return re.sub(r"\\f[BIR]|\\&", "", text).replace(r"\-", "-")


def test_the_outline_has_commands_and_those_below_them() -> None:
    assert {"sentinel", "sentinel check", "sentinel target add", "sentinel store", "sentinel store verify"} <= set(
        NAMES
    )


@pytest.mark.parametrize("command", COMMANDS, ids=NAMES)
def test_every_option_and_operand_is_on_the_page(command: Outline) -> None:
    page = page_of(command)
    assert page
    shown = [action for action in command.options if action.dest != "config" or len(command.words) == 1]
    missing = [
        name for action in shown for name in action.option_strings if not re.search(rf"(?m)^(.*, )?{name}\b", page)
    ]
    assert missing == []
    assert [each.metavar for each in command.operands if f"\n.TP\n{each.metavar}\n" not in page] == []


def test_the_page_of_the_program_refers_to_that_of_every_command() -> None:
    terms = {line for line in page_of(PROGRAM).splitlines() if line.endswith("(1)")}
    assert terms >= {f"{'-'.join(each.words)}(1)" for each in PROGRAM.below}


def test_every_page_of_a_command_has_those_below_it() -> None:
    headings = {words for text in TEXTS.values() for words in re.findall(r"(?m)^\.SS (.*)$", text)}
    assert headings == {name for name, each in zip(NAMES, COMMANDS, strict=True) if len(each.words) > 2}


def test_the_page_of_the_program_tells_every_exit_code() -> None:
    assert set(ENDINGS) == set(Exit)


def test_what_a_help_text_holds_is_no_mark_of_the_language() -> None:
    command = outline().below[0]
    command.parser.description = ".SH \\fBloud\\fR it's `typed` 50 % ~ ^ \\"
    page = pages(PROGRAM.__class__(("sentinel",), "it", PROGRAM.parser, (command,)))["sentinel-run.1"]
    assert r"\&.SH \efBloud\efR it\(aqs \fBtyped\fR 50 % \(ti \(ha \e" in page


@pytest.mark.parametrize("place", [place for place in TEXTS if place.endswith(".1")])
def test_groff_finds_nothing_to_say_of_a_page(place: str) -> None:
    command = [named("groff"), "-man", "-Kutf8", "-Tutf8", "-P-cbou", "-ww", "-rLL=78n"]  # without overstriking
    done = subprocess.run(command, input=TEXTS[place], capture_output=True, text=True, check=True)
    assert done.stderr == ""
    assert "\nSYNOPSIS\n" in done.stdout


def test_man_shows_the_page_of_a_command_for_its_words_too(tmp_path: Path) -> None:
    """man-db's man(1): "man will try to interpret pairs of manual page names"."""
    main([str(tmp_path)])
    environ = os.environ | {"MANPATH": str(tmp_path / "man"), "LC_ALL": "C.UTF-8", "MANWIDTH": "100"}
    command = [named("man"), "--warnings=w", "sentinel", "check"]
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=environ)
    assert done.stderr == ""
    assert "\nSYNOPSIS\n       sentinel check [-h] [--json]" in done.stdout


ASK = """\
source "$1"; shift
compopt() { printf 'files\\n'; }
COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1))
_sentinel
printf '%s\\n' "${COMPREPLY[@]}"
"""


def offered(folder: Path, *words: str) -> list[str]:
    """What the function for bash offers for the last of these words; `files` where bash is to offer files."""
    script = folder / "sentinel.bash"
    script.write_text(TEXTS[BASH])
    command = [named("bash"), "-c", ASK, "bash", str(script), *words]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stderr == ""
    return done.stdout.split()


@pytest.mark.parametrize("command", COMMANDS, ids=NAMES)
def test_bash_offers_every_command_and_option(command: Outline, tmp_path: Path) -> None:
    options = [name for action in command.options for name in action.option_strings]
    assert offered(tmp_path, *command.words, "-") == options
    below = [each.words[-1] for each in command.below]
    files = ["files"] * any(takes_files(action) for action in command.operands)
    assert sorted(offered(tmp_path, *command.words, "")) == sorted(below + files)
    for action in command.options:
        if takes_value(action):
            kinds = [str(each) for each in action.choices or ()] or ["files"] * takes_files(action)
            assert offered(tmp_path, *command.words, action.option_strings[-1], "") == kinds


def test_bash_takes_the_value_of_an_option_for_no_command(tmp_path: Path) -> None:
    assert offered(tmp_path, "sentinel", "--config", "check", "st") == ["status", "store"]
    assert offered(tmp_path, "sentinel", "--config", "a.toml", "target", "re") == ["retire"]
    assert offered(tmp_path, "sentinel", "check", "target", "--e") == []


@contextmanager
def at_terminal(folder: Path, *command: str) -> Iterator[int]:
    """A shell in the folder at a terminal of its own, by the terminal's other end."""
    ours, theirs = pty.openpty()
    environ = {"PS1": "READY>", "TERM": "dumb", "HOME": str(folder), "PATH": "/usr/bin:/bin"}
    shell = subprocess.Popen(
        command, cwd=folder, stdin=theirs, stdout=theirs, stderr=theirs, env=environ, start_new_session=True
    )
    os.close(theirs)
    try:
        until(ours, "READY>")
        yield ours
    finally:
        os.close(ours)
        shell.kill()
        shell.wait()


def until(terminal: int, text: str) -> str:
    """What the terminal shows until it shows this."""
    shown, deadline = "", time.monotonic() + PATIENCE
    while text not in shown:
        ready, _, _ = select.select([terminal], [], [], max(0.0, deadline - time.monotonic()))
        assert ready, f"expected {text!r} to be shown, got {shown!r}"
        shown += os.read(terminal, 4096).decode()
    return shown


def test_a_bash_at_a_terminal_completes_commands_options_and_files(tmp_path: Path) -> None:
    (tmp_path / "north-satin.txt").touch()
    (tmp_path / "sentinel.bash").write_text(TEXTS[BASH])
    with at_terminal(tmp_path, named("bash"), "--norc", "--noprofile", "-i") as terminal:
        os.write(terminal, b"bind 'set bell-style none'; source ./sentinel.bash; echo LOAD''ED\n")
        until(terminal, "LOADED")
        os.write(terminal, b"sentinel targ\tret\t--b\t")
        until(terminal, "sentinel target retire --by ")
        os.write(terminal, b"\x15sentinel check nor\t--cond\t")
        until(terminal, "sentinel check north-satin.txt --condition ")


def test_zsh_reads_the_completion() -> None:
    done = subprocess.run([named("zsh"), "-fn"], input=TEXTS[ZSH], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_a_zsh_at_a_terminal_completes_commands_and_options(tmp_path: Path) -> None:
    (tmp_path / "_sentinel").write_text(TEXTS[ZSH])
    with at_terminal(tmp_path, named("zsh"), "-f", "-i") as terminal:
        os.write(terminal, b"fpath=($PWD $fpath); autoload -Uz compinit; compinit -u -D; print LOAD''ED\n")
        until(terminal, "LOADED")
        os.write(terminal, b"sentinel targ\tret\t--b\t")
        assert "retire" in until(terminal, "--by  -- who retires it")


def test_the_completions_start_no_program() -> None:
    """No key that is pressed waits for a Python."""
    assert not re.search(r"\bpython|\bsentinel --|\$\(sentinel", TEXTS[BASH] + TEXTS[ZSH])


def test_the_documents_are_written_by_one_command(tmp_path: Path) -> None:
    subprocess.run([sys.executable, "-m", "sentinel.cli.documents", str(tmp_path)], check=True)
    assert {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()} == set(TEXTS)
    with pytest.raises(SystemExit, match="expected one folder, got 0"):
        main([])
