"""The notices: what became of them, given up ones tried again, and whether every recipient can be reached."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from sentinel.application.names import known_or_recorded, unknown
from sentinel.core.cases.notice_policy import Recipient
from sentinel.core.cases.records import NoticeRecord
from sentinel.errors import AdminError
from sentinel.ports import Addressee, Notifier, Opening, Reading, ReadSession
from sentinel.render.notices import Letters, RenderedNotice, delivery_test

if TYPE_CHECKING:
    from sentinel.render.localizer import CldrLocalizer
    from sentinel.settings.models import Settings

LocalizerOf = Callable[[str], "CldrLocalizer"]
"""The language and units of a recipient, by its name."""

Reached = Callable[[Mapping[str, Recipient]], tuple[Sequence[Addressee], Notifier]]
"""Recipients with their URLs, and what sends to them; or AdminError where a URL cannot be had."""


@dataclass(frozen=True, slots=True)
class NoticeShown:
    """A notice at one URL, with its text and every try."""

    record: NoticeRecord
    text: RenderedNotice


@dataclass(frozen=True, slots=True)
class Trial:
    """A test at one URL of a recipient, counted from 1; `answer` is None where it was accepted."""

    recipient: str
    url: int
    answer: str | None


def listed_notices(
    settings: Settings, records: ReadSession, statuses: Sequence[str], recipient: str | None, last: int
) -> Sequence[NoticeRecord]:
    """At most `last`, the newest first: those with one of these statuses, or any; of one recipient, or of all.

    Raises AdminError for a recipient that neither the settings nor the records have.
    """
    if recipient is not None:
        recipient = known_or_recorded(
            "a recipient of the settings or the records",
            recipient,
            settings.recipients,
            lambda text: text if text in settings.recipients else None,
            lambda text: bool(records.outbox.listed((), text, 1)),
        )
    return records.outbox.listed(tuple(statuses), recipient, last)


def shown_notice(records: ReadSession, key: str, localizer_of: LocalizerOf) -> Iterator[NoticeShown]:
    """A notice at each URL it is for. Raises AdminError where there is none of this key."""
    found = records.outbox.of_key(key)
    if not found:
        raise AdminError(f"expected the key of a notice, got {key!r}: see `sentinel notify list`")
    for record in found:
        letters = Letters(localizer=localizer_of(record.notice.recipient))
        yield NoticeShown(record, letters.letter(record.notice).message())


def retry_notices(reading: Reading, opening: Opening, keys: Collection[str] | None, now: datetime) -> list[str]:
    """Lets notices that were given up wait again, all of them for None; returns their keys.

    Raises AdminError where there are none.
    """
    reading()  # a store of an earlier schema is the service's to move
    with opening() as store, store.transaction() as session:
        retried = session.outbox.retry(keys, now)
    if not retried:
        raise AdminError("expected notices that were given up, got none: see `sentinel notify list --status given-up`")
    return retried


def tried_recipients(
    settings: Settings, names: Collection[str], reached: Reached, localizer_of: LocalizerOf
) -> Iterator[Trial]:
    """Sends one test to each URL of these recipients, of all where none is named, past the outbox."""
    for name in names:
        if name not in settings.recipients:
            raise unknown("a recipient of the settings", name, settings.recipients)
    addressees, notifier = reached({name: settings.recipients[name].recipient for name in names or settings.recipients})
    for addressee in addressees:
        letter = delivery_test(settings.site.name, localizer_of(addressee.name))
        for url_no in range(addressee.urls):
            yield Trial(addressee.name, url_no + 1, notifier.send(addressee.name, url_no, letter))
