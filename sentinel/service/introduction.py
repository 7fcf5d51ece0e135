"""What the service says when it begins under settings: who it is, where it works, and all that is wrong with them."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

import structlog

from sentinel import __version__
from sentinel.application.configuration import SettingsJudgement, Weight
from sentinel.errors import ANY_FAULT

if TYPE_CHECKING:
    from sentinel.settings.resolving import Snapshot

log = structlog.get_logger()


def introduce(snapshot: Snapshot) -> None:
    """One line of what it works with."""
    settings = snapshot.loaded.settings
    log.info(
        "settings in force",
        version=__version__,
        settings=str(snapshot.loaded.path),
        fingerprint=snapshot.loaded.fingerprint[:12],
        drop=[str(folder) for folder in settings.folders.drop],
        archive=str(settings.folders.archive),
        put_aside=str(settings.folders.put_aside),
        store=str(settings.store.path),
        conditions=len(settings.conditions),
        recipients=sorted(settings.recipients),
    )


def tell(found: SettingsJudgement) -> None:
    """Each finding in a line, errors first."""
    for each in found.findings:
        said = {"key": each.key, "line": each.line, "said": each.said} | (
            {"remedy": each.remedy} if each.remedy else {}
        )
        if each.weight is Weight.ERROR:
            log.error("the settings ask for what cannot be done", **said)
        else:
            log.warning("the settings should be looked at", **said)


def judge_beside(judge: Callable[[], SettingsJudgement]) -> threading.Thread:
    """The same from a thread of its own: thousands of targets are looked at, and no file waits for that."""

    def run() -> None:
        try:
            tell(judge())
        except ANY_FAULT as fault:  # the service works all the same
            log.warning("the settings could not be judged", fault=type(fault).__name__)

    thread = threading.Thread(target=run, name="judgement", daemon=True)
    thread.start()
    return thread
