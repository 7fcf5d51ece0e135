"""Settings of 3,000 printing conditions. Run: python -m tests.benchmarks.bench_settings [CONDITIONS]

Told are, for `config check` and `status`, the processor seconds of the whole command and their ratio to the bare
interpreter's (`python -c pass`), best of three; then what faults cost: the same settings with a fault in every sixth
condition, and the same again with twice as many conditions.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from sentinel.settings.loading import SettingsError, load
from tests.support import cgats

CONDITIONS = 3_000
ROUNDS = 3
PRINTERS = 30
SHEETS = 300
HEAD = """\
[site]
name = "hall"
[folders]
drop = ["drop"]
archive = "archive"
put_aside = "aside"
[store]
path = "store.sqlite"
[due]
max_age_days = 3.0
[targets.house]
file = "house.txt"
colour_path = "ink-space"
"""


def settings_text(conditions: int, faulty: int = 0) -> str:
    """So many conditions of thirty printers; every `faulty`-th with a misspelt key."""
    stocks = -(-conditions // PRINTERS)
    lines = [HEAD]
    lines += [f"[printers.p{number}]\nlabel = 'Printer {number}'\n" for number in range(PRINTERS)]
    lines += [f"[substrates.s{number}]\nlabel = 'Stock {number}'\ndrying_hours = 1.0\n" for number in range(stocks)]
    for number in range(conditions):
        wrong = "max_age_dyas = 2.0\n" if faulty and number % faulty == 0 else ""
        lines.append(
            f'[conditions."p{number % PRINTERS}/s{number // PRINTERS}"]\ntargets = ["house"]\nmax_age_days = 2.0\n'
            f"limits.all.de00_mean = {{ warn = 1.{number % 10}, act = 3.0 }}\n{wrong}"
        )
    return "".join(lines)


def main(arguments: list[str]) -> None:
    conditions = int(arguments[0]) if arguments else CONDITIONS
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        config = folder / "sentinel.toml"
        (folder / "drop").mkdir()
        (folder / "house.txt").write_text(cgats.text())
        config.write_text(settings_text(conditions))
        for number in range(min(SHEETS, conditions)):
            place = folder / "drop" / f"p{number % PRINTERS}" / f"s{number // PRINTERS}"
            place.mkdir(parents=True)
            (place / "sheet.txt").write_text(cgats.text(cgats.GOOD + number / 1000))
        bare = _command("-c", "pass")
        _say(f"the bare interpreter: {bare:.3f} s")
        _run("-m", "sentinel", "--config", str(config), "run", "--once")
        for words in (("config", "check"), ("status",)):
            spent = _command("-m", "sentinel", "--config", str(config), *words)
            _say(f"{' '.join(words)}, {conditions} conditions: {spent:.2f} s, {spent / bare:.0f} times the bare one")
        for many in (conditions, 2 * conditions):
            config.write_text(settings_text(many, faulty=6))
            _say(f"{many // 6} faults in {many} conditions: {_best(lambda: _refused(config)):.2f} s")


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


def _command(*words: str) -> float:
    """Processor seconds, best of three."""
    return _best(lambda: _run(*words), resource.RUSAGE_CHILDREN)


def _run(*words: str) -> None:
    subprocess.run([sys.executable, *words], check=True, capture_output=True, env=os.environ)


def _best(work: Callable[[], object], who: int = resource.RUSAGE_SELF) -> float:
    spent = []
    for _ in range(ROUNDS):
        before = resource.getrusage(who)
        work()
        after = resource.getrusage(who)
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(spent)


def _refused(config: Path) -> None:
    try:
        load(config)
    except SettingsError:
        return
    raise RuntimeError("expected the settings to be refused")


if __name__ == "__main__":
    main(sys.argv[1:])
