"""Faults between the rules of who is told and the rest of the settings."""

from __future__ import annotations

from collections.abc import Iterator

from sentinel.settings.doubt import CERTAIN, Doubt
from sentinel.settings.faults import Fault
from sentinel.settings.models import Settings


def tell_faults(settings: Settings, doubt: Doubt = CERTAIN) -> Iterator[Fault]:
    """Names of a rule that nothing in the file has; a daily summary that never comes."""
    has: dict[str, set[str]] = {
        "printers": set(settings.printers),
        "substrates": set(settings.substrates),
        "recipients": set(settings.recipients),
        "roles": {role for each in settings.recipients.values() for role in each.roles},
    }
    for number, tell in enumerate(settings.tell):
        for part, known in has.items():
            if doubt.about("recipients") if part == "roles" else doubt.whole(part):
                continue
            for name in sorted(set(getattr(tell, part)) - known):
                expected = ", ".join(sorted(map(repr, known))) or "none"
                word = "role of a recipient" if part == "roles" else part.removesuffix("s")
                yield Fault(("tell", number, part), f"expected a {word} of this file ({expected}), got {name!r}")
        if tell.daily and settings.notices.daily_at is None and not doubt.about("notices"):
            yield Fault(("tell", number, "daily"), "expected a time in [notices] daily_at, got none")
        if tell.daily and tell.unacknowledged_hours:
            yield Fault(("tell", number, "daily"), "expected one of daily and unacknowledged_hours, got both")
