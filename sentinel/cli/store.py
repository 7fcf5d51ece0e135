"""`sentinel store`: where the records are and in which shape; restored, begun anew, looked through."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sentinel.application.service_health import store_facts
from sentinel.cli.command import CommandParser, Commands, Exit, Parser
from sentinel.errors import SecondInstanceError, StoreError
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.application.verifying import Verified
    from sentinel.bootstrap import Composition, PutTogether

LOST_FOR_GOOD = (
    "what people told by commands since then (events, targets, acknowledgements, checks taken back) is not in the "
    "archive: tell it again"
)


def _options(parser: Parser) -> None:
    parser.description = (
        "Shows the store's path, SQLite's version, the journal mode, the version of the schema and the backups. "
        "With a further word: looks through it, restores it, begins a new one."
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_store)
    more = parser.add_subparsers(metavar="WHAT", parser_class=CommandParser)

    verify = more.add_parser("verify", help="look through store and archive, byte by byte; heal what can be")
    verify.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="one JSON object")
    verify.set_defaults(handler=_verify)

    restore = more.add_parser("restore", help="put a backup in the place of the store; the service must not run")
    restore.add_argument("--list", action="store_true", help="only list the backups")
    restore.add_argument("--from", dest="source", type=Path, metavar="BACKUP", help="not the newest good one but this")
    restore.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="JSON; of --list a line each")
    restore.set_defaults(handler=_restore)

    begin = more.add_parser("begin", help="begin with an empty store, on purpose; the service must not run")
    begin.add_argument("--read-again", action="store_true", help="and read every file again that the archive notes")
    begin.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="one JSON object")
    begin.set_defaults(handler=_begin)


def _store(options: argparse.Namespace, room: Composition) -> Exit:
    facts = store_facts(room.records)
    shown: dict[str, Any] = {
        "path": str(facts.path),
        "sqlite": facts.sqlite,
        "journal_mode": facts.journal_mode,
        "schema_version": facts.schema_version,
        "newest_backup": next((str(each.path) for each in room.backups.listed()), "none yet"),
    }
    told = {"schema": "sentinel.store/1", **shown}
    print(json.dumps(told, indent=2) if options.json else "\n".join(f"{name}: {text}" for name, text in shown.items()))
    return Exit.FINE


def verified_json(found: Verified) -> dict[str, Any]:
    """All of it. Times are UTC."""
    return {
        "schema": "sentinel.verify/1",
        "sound": found.sound,
        "damage": found.damage,
        "backup_at": None if found.backup_at is None else found.backup_at.isoformat(),
        "files": found.files,
        "damaged": {name: list(records) for name, records in found.damaged.items()},
        "missing": {name: list(records) for name, records in found.missing.items()},
        "temporaries": found.temporaries,
        "let_go": found.let_go,
        "healed": dict(found.healed),
    }


def verified_text(found: Verified) -> str:
    """The same for people."""
    backup = "none yet" if found.backup_at is None else f"{found.backup_at:%Y-%m-%d %H:%M} UTC"
    lines = [
        f"store: {'sound' if found.damage is None else f'DAMAGED: {found.damage}'}",
        f"newest backup: {backup}",
        f"archive: {counted(found.files, 'file')}, {len(found.damaged)} damaged, {len(found.missing)} missing, "
        f"{found.temporaries} left of writing that was broken off",
    ]
    lines += [f"let go for their age: {counted(found.let_go, 'file')}"] if found.let_go else []
    lines += [f"whole again: {name}, from {where}" for name, where in found.healed.items()]
    for what, files in (("damaged", found.damaged), ("missing", found.missing)):
        lines += [f"{what}: {name}: {', '.join(records) or 'no record'}" for name, records in files.items()]
    return "\n".join(lines)


def _verify(options: argparse.Namespace, room: Composition) -> Exit:
    found = room.verified()
    print(json.dumps(verified_json(found), indent=2) if options.json else verified_text(found))
    return Exit.FINE if found.sound else Exit.FAILED


def put_together_json(done: PutTogether, store: Path) -> dict[str, Any]:
    """All of it. Times are UTC."""
    return {
        "schema": "sentinel.store-made/1",
        "store": str(store),
        "from": None if done.source is None else str(done.source),
        "as_of": None if done.source_at is None else done.source_at.isoformat(),
        "former": None if done.former is None else str(done.former),
        "read_again": done.files.read,
        "not_read_again": dict(done.files.unread),
        "told_together": done.told_together,
    }


def put_together_text(done: PutTogether, store: Path) -> str:
    """What was done, what is missing, and how to get it back."""
    if done.source is None:
        lines = [f"begun: an empty store at {store}"]
    else:
        lines = [f"restored: {store} from {done.source}, as it was at {done.source_at:%Y-%m-%d %H:%M} UTC"]
    if done.former is not None:
        lines.append(f"kept: the former store as {done.former}")
    lines.append(f"read again from the archive: {counted(done.files.read, 'file')} that came since")
    lines += [f"not read again: {name}: {why}" for name, why in done.files.unread]
    if done.told_together:
        lines.append(f"notices: {done.told_together} that waited or came up are told in one, marked as such")
    if done.source is not None:
        lines.append(f"not to be had: {LOST_FOR_GOOD}")
    return "\n".join([*lines, "start the service again"])


def _restore(options: argparse.Namespace, room: Composition) -> Exit:
    if options.list:
        for each in room.backups.listed():
            told = {"schema": "sentinel.backup/1", "at": each.at.isoformat(), "path": str(each.path)}
            print(json.dumps(told) if options.json else f"{each.at:%Y-%m-%d %H:%M} UTC  {each.path}")
        return Exit.FINE
    return _put_together(options, room, lambda: room.put_together(options.source))


def _begin(options: argparse.Namespace, room: Composition) -> Exit:
    path = room.settings.store.path
    if (why := room.usable()) is not None:
        raise StoreError(f"expected no store that can be used, got one of this site at {path}: {why}")
    return _put_together(options, room, lambda: room.put_together(anew=True, reads=options.read_again))


def _put_together(options: argparse.Namespace, room: Composition, work: Callable[[], PutTogether]) -> Exit:
    try:
        done = work()
    except SecondInstanceError as fault:
        print(f"sentinel: {fault}: stop the service first", file=sys.stderr)
        return Exit.SECOND_INSTANCE
    except OSError as fault:
        print(f"sentinel: {fault.strerror}: {fault.filename}", file=sys.stderr)
        return Exit.STORE
    store = room.settings.store.path
    print(json.dumps(put_together_json(done, store)) if options.json else put_together_text(done, store))
    return Exit.FINE


COMMANDS: Commands = {"store": _options}
