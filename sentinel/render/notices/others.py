"""Notices of files, instruments and the sentinel itself."""

from __future__ import annotations

from sentinel.render.advice import certifying, looking_for_files, what_to_do_with_events, what_to_do_with_file
from sentinel.render.notices import english
from sentinel.render.notices.document import Part, bullets, paragraph, steps
from sentinel.render.notices.draft import Draft
from sentinel.render.notices.facts import Facts, local, production, who


def unscored(facts: Facts) -> Draft:
    """A file that could not be scored."""
    file, folder, kept = facts["file_name"], facts["folder"], facts["set_aside_as"]
    said = english.UNSCORED.format(
        file=file,
        where=english.IN_FOLDER.format(folder=folder) if folder else english.AT_TOP,
        time=local(facts["arrived_at"], facts["timezone"]),
    )
    reasons = facts["reasons"]
    return Draft(
        english.TITLES["unscored"].format(file=file),
        [
            who(english.MEASURER),
            production(english.NOT_TOUCHED),
            paragraph(Part.WHAT, said),
            bullets(Part.WHY, english.REASONS, (reason["message"] for reason in reasons)),
            bullets(Part.STEPS, english.STEPS, what_to_do_with_file([reason["code"] for reason in reasons])),
            paragraph(Part.STEPS, english.LEFT if kept is None else english.SET_ASIDE.format(name=kept)),
        ],
    )


def events_refused(facts: Facts) -> Draft:
    """A file of events that was not taken: facts as of a file that could not be scored."""
    said = english.EVENTS_REFUSED.format(
        file=facts["file_name"],
        where=english.IN_FOLDER.format(folder=facts["folder"]) if facts.get("folder") else english.AT_TOP_OF_EVENTS,
        time=local(facts["arrived_at"], facts["timezone"]),
    )
    kept = facts.get("set_aside_as")
    return Draft(
        english.TITLES["events-refused"].format(file=facts["file_name"]),
        [
            who(english.TELLER),
            production(english.NOT_TOUCHED),
            paragraph(Part.WHAT, said),
            bullets(Part.WHY, english.REASONS, (reason["message"] for reason in facts["reasons"])),
            bullets(Part.STEPS, english.STEPS, what_to_do_with_events()),
            paragraph(Part.STEPS, english.SET_ASIDE.format(name=kept) if kept else ""),
        ],
    )


def certificate(facts: Facts) -> Draft:
    """An instrument past its certificate: `instrument` and the last `day` of it."""
    names = {"instrument": facts["instrument"], "day": facts["day"]}
    return Draft(
        english.TITLES["certificate"].format(**names),
        [
            who(english.LEAD),
            production(english.READINGS_DOUBTFUL),
            paragraph(Part.WHAT, english.CERTIFICATE.format(**names)),
            bullets(Part.STEPS, english.STEPS, certifying()),
        ],
    )


def trouble(facts: Facts) -> Draft:
    """Trouble of the sentinel itself: `what` in a sentence, `why` it believes so, the `steps` to take."""
    return Draft(
        english.TITLES["trouble"].format(what=facts.get("title") or facts["what"]),
        [
            who(english.ADMIN),
            production(english.UNWATCHED),
            paragraph(Part.WHAT, facts["what"]),
            paragraph(Part.WHY, facts.get("why") or "", english.WHY),
            steps(Part.STEPS, english.STEPS, facts.get("steps") or ()),
        ],
    )


def over(facts: Facts) -> Draft:
    """The end of what was no failed check: `title` is what it was, `what` says that it is over."""
    return Draft(
        english.TITLES["over"].format(what=facts["title"]),
        [who(english.NOBODY), production(english.GO_ON), paragraph(Part.WHAT, facts["what"])],
    )


def silence(facts: Facts) -> Draft:
    """Nothing arrived for `hours`; `last_at` is when the last file came, if ever."""
    hours, last = f"{facts['hours']:g}", facts.get("last_at")
    said = english.SILENCE.format(hours=hours, time=local(last, facts["timezone"])) if last else (
        english.SILENCE_EVER.format(hours=hours)
    )  # fmt: skip
    return Draft(
        english.TITLES["silence"].format(hours=hours),
        [
            who(english.ADMIN),
            production(english.UNWATCHED),
            paragraph(Part.WHAT, said),
            steps(Part.STEPS, english.STEPS_IN_ORDER, looking_for_files()),
        ],
    )
