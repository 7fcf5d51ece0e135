"""The words of notices, as patterns in English; those of other languages are in `sentinel/languages`."""

from __future__ import annotations

from sentinel.core.message import msg

WHO = msg("Who acts")
PRODUCTION = msg("Production")
WHY = msg("How sure")
BACKGROUND = msg("Background")
BEYOND = msg("Beyond its limit")
FIGURES = msg("Figures")
REMARKS = msg("To be noted")
REASONS = msg("Why")
STEPS = msg("What to do")
STEPS_IN_ORDER = msg("What to do, in this order")
PREPARATION = msg("For printing the chart")
CAUTIONS = msg("Take care")

TITLES = {
    "confirm": msg("Please confirm - check failed: {place}"),
    "confirm-again": msg("Please confirm - check failed again: {place}"),
    "alarm": msg("Check failed: {place}"),
    "alarm-again": msg("Check failed again: {place}"),
    "urgent": msg("URGENT - Check failed: {place}"),
    "urgent-again": msg("URGENT - Check failed again: {place}"),
    "patch-order": msg("URGENT - read the sheet again: {place}"),
    "wrong-stock": msg("STOP - wrong stock? {place}"),
    "warned": msg("Warning again: {place}"),
    "recovered": msg("Back within action limits: {place}"),
    "due": msg("Check due: {place}"),
    "due-several": msg("{count} checks due"),
    "soon": msg("Check due soon: {place}"),
    "soon-several": msg("{count} checks due soon"),
    "never-run": msg("Never checked: {place}"),
    "never-run-several": msg("{count} printing conditions never checked"),
    "unscored": msg("File not scored: {file}"),
    "events-refused": msg("Events not taken: {file}"),
    "summary": msg("Summary: {count} notices"),
    "summary-empty": msg("Summary: nothing to be done"),
    "reminded": msg("Still open: {title}"),
    "escalated": msg("Nobody has answered: {title}"),
    "certificate": msg("Instrument {instrument}: certificate has expired"),
    "trouble": msg("Sentinel in trouble: {what}"),
    "over": msg("Over: {what}"),
    "silence": msg("No measurement for {span}"),
    "trial": msg("Test from the sentinel of {site}"),
}

# who acts
OPERATOR = msg("the operator at {printer}")
OPERATORS = msg("the operators of these printers")
COLOUR_LEAD = msg("the colour lead, with the operator at {printer}")
TELLER = msg("whoever saved this file of events")
MEASURER = msg("whoever measured the sheet")
ANYBODY = msg("whoever each of these concerns")
ADMIN = msg("whoever looks after the sentinel")
NOBODY = msg("nobody; this is good news")
LEAD = msg("the colour lead")

# may production go on
HOLD = msg("hold prints on this stock until somebody has looked.")
HOLD_MATCHING = msg("may go on, but hold work that must match until the colour lead has decided.")
UNTIL_CONFIRMED = msg("may go on; hold work that must match until this is confirmed.")
UNTIL_READ_AGAIN = msg("hold work that must match until the sheet has been read again: nothing is known of it.")
GO_ON = msg("may go on.")
GO_ON_WITHIN = msg("may go on; the last sheet was within the action limits.")
GO_ON_UNPROVEN = msg("may go on; work that must match is unproven until a check has passed.")
SEE_EACH = msg("each notice says whether it may go on; the most pressing come first.")
NOT_TOUCHED = msg("is not touched by this: no state was changed.")
UNWATCHED = msg("may go on, but nobody watches it until this is mended.")
READINGS_DOUBTFUL = msg("may go on; checks by this instrument carry a remark until it is certified again.")

# what happened
FAILED_FIRST = msg("{place}: a sheet was beyond an action limit. Please confirm it before anything is changed.")
FAILED_AGAIN = msg("{place}: the check failed again, {count} in a row by now.")
WRONG_STOCK = msg("{place}: the sheet fits the target of another stock better. Stop and look at the loaded stock.")
PATCH_ORDER = msg(
    "{place}: the patches of this sheet stand in another order than those of its target. It was not scored."
)
WARNED = msg("{place}: {count} checks in a row were beyond a warning limit, within the action limits.")
RECOVERED = msg(
    "{place}: after {count} failed check the last sheet was within the action limits.",
    "{place}: after {count} failed checks the last sheet was within the action limits.",
)
DUE = msg("{place}: {reasons}.")
DUE_SINCE = msg("{place}: {reasons}. Last measured {time}.")
SOON = msg("{place}: a check turns due at {time}.")
SEVERAL_DUE = msg("A check is due on {count} printing conditions")
SEVERAL_SOON = msg("A check turns due soon on {count} printing conditions")
SEVERAL_NEVER_RUN = msg("{count} printing conditions have never been checked")
UNSCORED = msg("{file} came in folder {folder} at {time} and was not scored.")
UNSCORED_AT_TOP = msg("{file} came at the top of the drop folder at {time} and was not scored.")
EVENTS_REFUSED = msg("{file} came in folder {folder} at {time}, and no event of it was taken.")
EVENTS_REFUSED_AT_TOP = msg("{file} came in the events folder at {time}, and no event of it was taken.")
SUMMARY = msg("What this is about")
SUMMARY_EMPTY = msg("Nothing is due, nothing is open, nothing waits.")
SUMMARY_LINE = msg("{title} (sentinel notify show {key})")
REMINDED = msg("This was told before and is still open. `sentinel ack` says that somebody sees to it.")
ESCALATED = msg(
    "This was told to others, and nobody has acknowledged it. `sentinel ack` says that somebody sees to it."
)
LEFT = msg("It stays in the drop folder, and a copy is in the archive. No state was changed by it.")
SET_ASIDE = msg("It is kept in the put-aside folder as {name}. No state was changed by it.")
CERTIFICATE = msg("The certificate of instrument {instrument} was valid until {day}.")
SILENCE = msg("Nothing has arrived in the drop folders for {span} of working time; the last file came {time}.")
SILENCE_EVER = msg("Nothing has arrived in the drop folders for {span} of working time.")
SILENT = msg("no measurement files came")
ARRIVING = msg("Measurement files arrive again.")
OVER = msg("This is over: {what}.")
MEASURED = msg("Measured {time}, {matched} patches, {m_condition}, target {target}, file {file}.")
M_UNKNOWN = msg("M condition unknown")

# how sure
RIVAL = msg("the figures speak for another stock - {message}.")
MISREAD = msg("the figures fit another order of the patches far better - {message}.")
WAS_WET = msg(
    "the sheet that failed looked as one that had not dried, and this later reading does not: it was most likely "
    "measured too early. Nothing at the printer was at fault, as far as the readings tell."
)
SEVERAL_AGREE = msg("several readings agree. The same mistake made twice is still possible.")
ONE_READING = msg("one reading of one sheet. The sheet, the reading or the printer may be at fault.")
WARNINGS_AGREE = msg("several readings agree, each within the action limits. It may be a drift that has begun.")

# what the figures say of the cause
ONE_CAUSE = msg("What the figures point to")
SOME_CAUSES = msg("What the figures point to: one of these, or several")
CAUSE = msg("{cause}, {sure:.0%} sure: {sentence}. {acts} Next: {step}")
CAUSE_OF_INK = msg("{cause} ({ink}), {sure:.0%} sure: {sentence}. {acts} Next: {step}")
ACTS = {
    "operator": msg("The operator acts."),
    "colour lead": msg("The colour lead acts."),
    "instrument's keeper": msg("The instrument's keeper acts."),
}
CAUSES = {
    "wrong-substrate": msg("the wrong stock"),
    "patch-order": msg("patches in another order: rows shifted, a strip backwards, or the sheet turned"),
    "possibly-not-dry": msg("a chart that was not dry"),
    "measurement-mode": msg("another measurement mode (M0, M1, M2)"),
    "solid-off-aim": msg("a solid off its aim"),
    "tone-shift": msg("a tone scale off its aim"),
    "substrate-shade": msg("another shade of the stock"),
    "measurement-scale": msg("the instrument: all patches read lighter or darker alike"),
    "outlying-patches": msg("a few patches that lie apart: a scratch, a nozzle line"),
    "unexplained": msg("nothing the sentinel knows"),
}

TWO_APART = msg("One of these two, and this tells them apart")
SEVERAL_APART = msg("What tells them apart")

# remedies, and none before the simple causes are excluded
LAST_RESORT = msg(
    "Only when stock, drying, reading and nozzles are all excluded, the colour lead decides whether to recalibrate. "
    "After that a check must pass."
)
MENDING = msg(
    "Only when stock, drying, reading and nozzles are all excluded, the colour lead decides on these, one after "
    "another until a check passes"
)
FORETOLD = msg(
    "Recalibrating is foretold to bring a mean ΔE00 of {mean}, a 95th percentile of {p95} and a maximum of {maximum} "
    "in 90 of 100 cases."
)
BAND = msg("{expected:.2f} ({low:.2f} to {high:.2f})")
WORN = msg("A head counts as worn only after a nozzle check without a gap and a second print that shows the same.")
WEAK_SOLID = msg("Do not recalibrate for a weak solid: no curve makes it stronger.")
PAPER = msg(
    "Do not recalibrate for the paper: no ink curve moves it. A new lot is to blame only where a second sheet of it "
    "reads alike and another stock reads right."
)
NOT_WHILE = msg("Do not recalibrate and do not replace anything while this is possible: {causes}.")
NOT_BEFORE = msg("Do not recalibrate and do not replace anything before the cause is known.")
CURVES = msg("What recalibrating would bring, and what it would not: sentinel curves {check}")
READ_AGAIN = (
    msg("Read the same sheet again from its first row, the right way round, with the white tile read first."),
    msg("Save the new file in the drop folder; it is scored like any other."),
    msg("Where it comes out alike, print the chart again: it may have been another chart."),
)
NO_REMEDY = msg("Do not recalibrate and do not replace anything on this one reading.")

TRIAL = msg("This is a test. Nothing is wrong and nothing is to be done.")
FIGURE = msg("{figure:.2f}")
COLUMNS = ("", msg("mean ΔE00"), msg("95th percentile"), msg("maximum"))
