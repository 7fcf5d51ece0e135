"""`sentinel rejudge`: recorded history judged again under edited limits and rules."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit

if TYPE_CHECKING:
    from sentinel.adapters.store.store import StoreView
    from sentinel.cli.parsing import Commands
    from sentinel.core.events import Event
    from sentinel.core.outlook import Outlook
    from sentinel.core.rejudging import Both
    from sentinel.service.rejudging import History
    from sentinel.settings.snapshot import Snapshot


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "rejudge",
        help="try edited limits and rules on the recorded checks",
        description="Judges the recorded checks again, under the running settings (--config) and under edited ones, "
        "and shows which verdicts, alarms and due dates differ. The checks are those of the running settings' store; "
        "nothing is written, nobody is told. Exit codes: 0 shown, 2 settings refused.",
    )
    parser.add_argument(
        "--new", "--config", dest="new", type=Path, required=True, metavar="FILE", help="the edited settings"
    )
    parser.add_argument(
        "--since",
        metavar="DATE",
        help="tell what was measured, and what alarms came, from this date on (ISO 8601, read in the site's zone where "
        "it names none); earlier checks still count for the states",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_rejudge)


def _rejudge(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.target_hashes import TargetHashes
    from sentinel.core.event_texts import moment
    from sentinel.core.rejudging import Both
    from sentinel.render.rejudge import rejudged_text
    from sentinel.render.rejudge_json import rejudged_json
    from sentinel.service.rejudging import rejudged
    from sentinel.settings.loading import load
    from sentinel.settings.snapshot import Snapshot

    snapshots = Both(Snapshot(load(options.config)), Snapshot(load(options.new)))
    zone, now = snapshots.running.loaded.settings.site.zone, datetime.now(UTC)
    since = None if options.since is None else moment(options.since, zone)
    found = rejudged(snapshots, history_of(snapshots), TargetHashes(), since, now)
    files = Both(*(str(snapshot.loaded.path) for snapshot in snapshots))
    print(json.dumps(rejudged_json(found, files, now), indent=2) if options.json else rejudged_text(found, files, zone))
    return Exit.FINE


def history_of(snapshots: Both[Snapshot]) -> History:
    """What the store of the running settings has; read only."""
    from sentinel.adapters.store.store import StoreView
    from sentinel.core.rejudging import Both
    from sentinel.service.rejudging import History
    from sentinel.service.rejudging_side import limited_figures

    settings = snapshots.running.loaded.settings
    view = StoreView(settings.store.path, settings.site.name)
    events = [each.event for each in view.events() if each.undoing is None]
    figures = {figure for snapshot in snapshots for figure in limited_figures(snapshot.loaded.settings)}
    return History(
        scores=view.past_scores(figures),
        events=events,
        standing=view.latest_checks(max(snapshot.recent_checks for snapshot in snapshots)),
        versions=view.target_versions,
        foretold=Both(*(_foretold(snapshot, view, events) for snapshot in snapshots)),
    )


def _foretold(snapshot: Snapshot, view: StoreView, events: Sequence[Event]) -> Mapping[str, Outlook]:
    from sentinel.adapters.targets import TargetShelf
    from sentinel.cli.sources import kept_targets
    from sentinel.service.foretelling import Foretelling

    settings, names = snapshot.loaded.settings, list(snapshot.conditions)
    readings = view.drift_readings([str(name) for name in names], settings.drift.most_readings)
    return Foretelling(snapshot, TargetShelf(kept=kept_targets(settings))).outlooks(names, readings, events)
