"""Notices of files, instruments and the sentinel itself."""

from __future__ import annotations

from datetime import date

from sentinel.core.message import Message, Quantity, UnitOfMeasure
from sentinel.render.notices import english
from sentinel.render.notices.document import Draft, SectionRole, bullets, paragraph, steps
from sentinel.render.notices.facts import Facts, local, production, who
from sentinel.render.remedies import certifying, looking_for_files, what_to_do_with_events, what_to_do_with_file
from sentinel.render.troubles import words


def unscored(facts: Facts) -> Draft:
    """A file that could not be scored."""
    file, folder, kept = facts["file_name"], facts["folder"], facts["set_aside_as"]
    came = english.UNSCORED if folder else english.UNSCORED_AT_TOP
    reasons = facts["reasons"]
    return Draft(
        english.TITLES["unscored"].format(file=file),
        [
            who(english.MEASURER),
            production(english.NOT_TOUCHED),
            paragraph(SectionRole.WHAT, _came(came, facts)),
            bullets(SectionRole.WHY, english.REASONS, (reason["message"] for reason in reasons)),
            bullets(SectionRole.STEPS, english.STEPS, what_to_do_with_file([reason["code"] for reason in reasons])),
            paragraph(SectionRole.STEPS, english.LEFT if kept is None else english.SET_ASIDE.format(name=kept)),
        ],
    )


def events_refused(facts: Facts) -> Draft:
    """A file of events that was not taken: facts as of a file that could not be scored."""
    came = english.EVENTS_REFUSED if facts.get("folder") else english.EVENTS_REFUSED_AT_TOP
    kept = facts.get("set_aside_as")
    return Draft(
        english.TITLES["events-refused"].format(file=facts["file_name"]),
        [
            who(english.TELLER),
            production(english.NOT_TOUCHED),
            paragraph(SectionRole.WHAT, _came(came, facts)),
            bullets(SectionRole.WHY, english.REASONS, (reason["message"] for reason in facts["reasons"])),
            bullets(SectionRole.STEPS, english.STEPS, what_to_do_with_events()),
            paragraph(SectionRole.STEPS, english.SET_ASIDE.format(name=kept) if kept else ""),
        ],
    )


def _came(came: Message, facts: Facts) -> Message:
    where = {"folder": facts["folder"]} if facts.get("folder") else {}
    return came.format(file=facts["file_name"], **where, time=local(facts["arrived_at"], facts["timezone"]))


def certificate(facts: Facts) -> Draft:
    """An instrument past its certificate: `instrument` and the last `day` of it."""
    until = date.fromisoformat(facts["day"])
    return Draft(
        english.TITLES["certificate"].format(instrument=facts["instrument"]),
        [
            who(english.LEAD),
            production(english.READINGS_DOUBTFUL),
            paragraph(SectionRole.WHAT, english.CERTIFICATE.format(instrument=facts["instrument"], day=until)),
            bullets(SectionRole.STEPS, english.STEPS, certifying()),
        ],
    )


def trouble(facts: Facts) -> Draft:
    """Trouble of the sentinel itself."""
    said = words(facts)
    return Draft(
        english.TITLES["trouble"].format(what=said.title),
        [
            who(english.ADMIN),
            production(english.UNWATCHED),
            paragraph(SectionRole.WHAT, said.what),
            paragraph(SectionRole.WHY, said.why, english.BACKGROUND),
            steps(SectionRole.STEPS, english.STEPS, said.steps),
        ],
    )


def over(facts: Facts) -> Draft:
    """The end of what was no failed check: of trouble, or of silence where files are `arriving`."""
    if facts.get("arriving"):
        title, what = english.SILENT, english.ARRIVING
    else:
        title = words(facts).title
        what = english.OVER.format(what=title)
    return Draft(
        english.TITLES["over"].format(what=title),
        [who(english.NOBODY), production(english.GO_ON), paragraph(SectionRole.WHAT, what)],
    )


def silence(facts: Facts) -> Draft:
    """Nothing arrived for `hours`; `last_at` is when the last file came, if ever."""
    span, last = Quantity(facts["hours"], UnitOfMeasure.HOUR), facts.get("last_at")
    times = {"time": local(last, facts["timezone"])} if last else {}
    return Draft(
        english.TITLES["silence"].format(span=span),
        [
            who(english.ADMIN),
            production(english.UNWATCHED),
            paragraph(SectionRole.WHAT, (english.SILENCE if last else english.SILENCE_EVER).format(span=span, **times)),
            steps(SectionRole.STEPS, english.STEPS_IN_ORDER, looking_for_files()),
        ],
    )
