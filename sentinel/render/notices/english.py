"""The words of notices, as patterns in English; those of other languages are in `sentinel/languages`."""

from __future__ import annotations

from sentinel.core.said import said

WHO = said("Who acts")
PRODUCTION = said("Production")
WHY = said("How sure")
BACKGROUND = said("Background")
BEYOND = said("Beyond its limit")
FIGURES = said("Figures")
REMARKS = said("To be noted")
REASONS = said("Why")
STEPS = said("What to do")
STEPS_IN_ORDER = said("What to do, in this order")
PREPARATION = said("For printing the chart")
CAUTIONS = said("Take care")

TITLES = {
    "confirm": said("Please confirm - check failed: {place}"),
    "confirm-again": said("Please confirm - check failed again: {place}"),
    "alarm": said("Check failed: {place}"),
    "alarm-again": said("Check failed again: {place}"),
    "urgent": said("URGENT - Check failed: {place}"),
    "urgent-again": said("URGENT - Check failed again: {place}"),
    "patch-order": said("URGENT - read the sheet again: {place}"),
    "wrong-stock": said("STOP - wrong stock? {place}"),
    "warned": said("Warning again: {place}"),
    "recovered": said("Back within action limits: {place}"),
    "due": said("Check due: {place}"),
    "due-several": said("{count} checks due"),
    "soon": said("Check due soon: {place}"),
    "soon-several": said("{count} checks due soon"),
    "never-run": said("Never checked: {place}"),
    "never-run-several": said("{count} printing conditions never checked"),
    "unscored": said("File not scored: {file}"),
    "events-refused": said("Events not taken: {file}"),
    "summary": said("Summary: {count} notices"),
    "summary-empty": said("Summary: nothing to be done"),
    "reminded": said("Still open: {title}"),
    "escalated": said("Nobody has answered: {title}"),
    "certificate": said("Instrument {instrument}: certificate has expired"),
    "trouble": said("Sentinel in trouble: {what}"),
    "over": said("Over: {what}"),
    "silence": said("No measurement for {span}"),
    "trial": said("Test from the sentinel of {site}"),
}

# who acts
OPERATOR = said("the operator at {printer}")
OPERATORS = said("the operators of these printers")
COLOUR_LEAD = said("the colour lead, with the operator at {printer}")
TELLER = said("whoever saved this file of events")
MEASURER = said("whoever measured the sheet")
ANYBODY = said("whoever each of these concerns")
ADMIN = said("whoever looks after the sentinel")
NOBODY = said("nobody; this is good news")
LEAD = said("the colour lead")

# may production go on
HOLD = said("hold prints on this stock until somebody has looked.")
HOLD_MATCHING = said("may go on, but hold work that must match until the colour lead has decided.")
UNTIL_CONFIRMED = said("may go on; hold work that must match until this is confirmed.")
UNTIL_READ_AGAIN = said("hold work that must match until the sheet has been read again: nothing is known of it.")
GO_ON = said("may go on.")
GO_ON_WITHIN = said("may go on; the last sheet was within the action limits.")
GO_ON_UNPROVEN = said("may go on; work that must match is unproven until a check has passed.")
SEE_EACH = said("each notice says whether it may go on; the most pressing come first.")
NOT_TOUCHED = said("is not touched by this: no state was changed.")
UNWATCHED = said("may go on, but nobody watches it until this is mended.")
READINGS_DOUBTFUL = said("may go on; checks by this instrument carry a remark until it is certified again.")

# what happened
FAILED_FIRST = said("{place}: a sheet was beyond an action limit. Please confirm it before anything is changed.")
FAILED_AGAIN = said("{place}: the check failed again, {count} in a row by now.")
WRONG_STOCK = said("{place}: the sheet fits the target of another stock better. Stop and look at the loaded stock.")
PATCH_ORDER = said(
    "{place}: the patches of this sheet stand in another order than those of its target. It was not scored."
)
WARNED = said("{place}: {count} checks in a row were beyond a warning limit, within the action limits.")
RECOVERED = said(
    "{place}: after {count} failed check the last sheet was within the action limits.",
    "{place}: after {count} failed checks the last sheet was within the action limits.",
)
DUE = said("{place}: {reasons}.")
DUE_SINCE = said("{place}: {reasons}. Last measured {time}.")
SOON = said("{place}: a check turns due at {time}.")
SEVERAL_DUE = said("A check is due on {count} printing conditions")
SEVERAL_SOON = said("A check turns due soon on {count} printing conditions")
SEVERAL_NEVER_RUN = said("{count} printing conditions have never been checked")
UNSCORED = said("{file} came in folder {folder} at {time} and was not scored.")
UNSCORED_AT_TOP = said("{file} came at the top of the drop folder at {time} and was not scored.")
EVENTS_REFUSED = said("{file} came in folder {folder} at {time}, and no event of it was taken.")
EVENTS_REFUSED_AT_TOP = said("{file} came in the events folder at {time}, and no event of it was taken.")
SUMMARY = said("What this is about")
SUMMARY_EMPTY = said("Nothing is due, nothing is open, nothing waits.")
SUMMARY_LINE = said("{title} (sentinel notify show {key})")
REMINDED = said("This was told before and is still open. `sentinel ack` says that somebody sees to it.")
ESCALATED = said(
    "This was told to others, and nobody has acknowledged it. `sentinel ack` says that somebody sees to it."
)
LEFT = said("It stays in the drop folder, and a copy is in the archive. No state was changed by it.")
SET_ASIDE = said("It is kept in the put-aside folder as {name}. No state was changed by it.")
CERTIFICATE = said("The certificate of instrument {instrument} was valid until {day}.")
SILENCE = said("Nothing has arrived in the drop folders for {span} of working time; the last file came {time}.")
SILENCE_EVER = said("Nothing has arrived in the drop folders for {span} of working time.")
SILENT = said("no measurement files came")
ARRIVING = said("Measurement files arrive again.")
OVER = said("This is over: {what}.")
MEASURED = said("Measured {time}, {matched} patches, {m_condition}, target {target}, file {file}.")
M_UNKNOWN = said("M condition unknown")

# how sure
RIVAL = said("the figures speak for another stock - {message}.")
MISREAD = said("the figures fit another order of the patches far better - {message}.")
WAS_WET = said(
    "the sheet that failed looked as one that had not dried, and this later reading does not: it was most likely "
    "measured too early. Nothing at the printer was at fault, as far as the readings tell."
)
SEVERAL_AGREE = said("several readings agree. The same mistake made twice is still possible.")
ONE_READING = said("one reading of one sheet. The sheet, the reading or the printer may be at fault.")
WARNINGS_AGREE = said("several readings agree, each within the action limits. It may be a drift that has begun.")

# what the figures say of the cause
ONE_CAUSE = said("What the figures point to")
SOME_CAUSES = said("What the figures point to: one of these, or several")
CAUSE = said("{cause}, {sure:.0%} sure: {sentence}. {acts} Next: {step}")
CAUSE_OF_INK = said("{cause} ({ink}), {sure:.0%} sure: {sentence}. {acts} Next: {step}")
ACTS = {
    "operator": said("The operator acts."),
    "colour lead": said("The colour lead acts."),
    "instrument's keeper": said("The instrument's keeper acts."),
}
CAUSES = {
    "wrong-substrate": said("the wrong stock"),
    "patch-order": said("patches in another order: rows shifted, a strip backwards, or the sheet turned"),
    "possibly-not-dry": said("a chart that was not dry"),
    "measurement-mode": said("another measurement mode (M0, M1, M2)"),
    "solid-off-aim": said("a solid off its aim"),
    "tone-shift": said("a tone scale off its aim"),
    "substrate-shade": said("another shade of the stock"),
    "measurement-scale": said("the instrument: all patches read lighter or darker alike"),
    "outlying-patches": said("a few patches that lie apart: a scratch, a nozzle line"),
    "unexplained": said("nothing the sentinel knows"),
}

TWO_APART = said("One of these two, and this tells them apart")
SEVERAL_APART = said("What tells them apart")

# remedies, and none before the simple causes are excluded
LAST_RESORT = said(
    "Only when stock, drying, reading and nozzles are all excluded, the colour lead decides whether to recalibrate. "
    "After that a check must pass."
)
MENDING = said(
    "Only when stock, drying, reading and nozzles are all excluded, the colour lead decides on these, one after "
    "another until a check passes"
)
FORETOLD = said(
    "Recalibrating is foretold to bring a mean ΔE00 of {mean}, a 95th percentile of {p95} and a maximum of {maximum} "
    "in 90 of 100 cases."
)
BAND = said("{expected:.2f} ({low:.2f} to {high:.2f})")
WORN = said("A head counts as worn only after a nozzle check without a gap and a second print that shows the same.")
WEAK_SOLID = said("Do not recalibrate for a weak solid: no curve makes it stronger.")
PAPER = said(
    "Do not recalibrate for the paper: no ink curve moves it. A new lot is to blame only where a second sheet of it "
    "reads alike and another stock reads right."
)
NOT_WHILE = said("Do not recalibrate and do not replace anything while this is possible: {causes}.")
NOT_BEFORE = said("Do not recalibrate and do not replace anything before the cause is known.")
CURVES = said("What recalibrating would bring, and what it would not: sentinel curves {check}")
READ_AGAIN = (
    said("Read the same sheet again from its first row, the right way round, with the white tile read first."),
    said("Save the new file in the drop folder; it is scored like any other."),
    said("Where it comes out alike, print the chart again: it may have been another chart."),
)
NO_REMEDY = said("Do not recalibrate and do not replace anything on this one reading.")

TRIAL = said("This is a test. Nothing is wrong and nothing is to be done.")
FIGURE = said("{figure:.2f}")
COLUMNS = ("", said("mean ΔE00"), said("95th percentile"), said("maximum"))
