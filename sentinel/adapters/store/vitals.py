"""Signs of life in the store: when each part last did its work, and which recipients take nothing."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import Connection, delete, func, insert, select

from sentinel.adapters.store.schema import check, delivery, moment, outbox, settings_in_force, unscored_file


def note_moments(connection: Connection, site: str, moments: Mapping[str, datetime]) -> None:
    """When each part of the service last did its work."""
    for part, at in moments.items():
        connection.execute(delete(moment).where(moment.c.site == site, moment.c.part == part))
        connection.execute(insert(moment).values(site=site, part=part, at=at))


def moments(connection: Connection, site: str) -> dict[str, datetime]:
    """When each part of the service last did its work."""
    rows = connection.execute(select(moment.c.part, moment.c.at).where(moment.c.site == site))
    return {row.part: row.at for row in rows}


def failing_since(connection: Connection, site: str, since: datetime) -> dict[tuple[str, int], datetime]:
    """By recipient and number of its URL: the first failed try after the last that arrived, looked for from `since`."""
    rows = connection.execute(
        select(outbox.c.recipient, outbox.c.url_no, delivery.c.arrived, delivery.c.at)
        .join(outbox, (outbox.c.site == delivery.c.site) & (outbox.c.seq == delivery.c.outbox_seq))
        .where(delivery.c.site == site, delivery.c.at >= since)
        .order_by(delivery.c.seq)
    )
    failing: dict[tuple[str, int], datetime] = {}
    for row in rows:
        place = (row.recipient, row.url_no)
        if row.arrived:
            failing.pop(place, None)
        else:
            failing.setdefault(place, row.at)
    return failing


def last_arrival(connection: Connection, site: str) -> datetime | None:
    """When a measurement file last came; when the service first worked with this store, where none ever has."""
    told = (
        select(func.max(check.c.arrived_at)).where(check.c.site == site),
        select(func.max(unscored_file.c.arrived_at)).where(unscored_file.c.site == site),
    )
    times: list[datetime | None] = [connection.execute(each).scalar_one() for each in told]
    if found := [at for at in times if at is not None]:
        return max(found)
    first: datetime | None = connection.execute(
        select(func.min(settings_in_force.c.since)).where(settings_in_force.c.site == site)
    ).scalar_one()
    return first
