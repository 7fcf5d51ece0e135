"""The words of notices in English. Another language is another module with the same names."""

WHO = "Who acts"
PRODUCTION = "Production"
WHY = "How sure"
BEYOND = "Beyond its limit"
FIGURES = "Figures"
REMARKS = "To be noted"
REASONS = "Why"
STEPS = "What to do"
STEPS_IN_ORDER = "What to do, in this order"
PREPARATION = "For printing the chart"
CAUTIONS = "Take care"
TECHNOLOGY = "{technology} printers"

KEY = "Notice {key}"
REST = "Shortened. The rest: sentinel notify show {key}"

TITLES = {
    "confirm": "Please confirm - check failed{again}: {place}",
    "alarm": "Check failed{again}: {place}",
    "urgent": "URGENT - Check failed{again}: {place}",
    "patch-order": "URGENT - read the sheet again: {place}",
    "wrong-stock": "STOP - wrong stock? {place}",
    "warned": "Warning again: {place}",
    "recovered": "Back within action limits: {place}",
    "due": "Check due: {place}",
    "due-several": "{count} checks due",
    "soon": "Check due soon: {place}",
    "soon-several": "{count} checks due soon",
    "never-run": "Never checked: {place}",
    "never-run-several": "{count} printing conditions never checked",
    "unscored": "File not scored: {file}",
    "events-refused": "Events not taken: {file}",
    "summary": "Summary: {count} notices",
    "summary-empty": "Summary: nothing to be done",
    "reminded": "Still open: {title}",
    "escalated": "Nobody has answered: {title}",
    "certificate": "Instrument {instrument}: certificate has expired",
    "trouble": "Sentinel in trouble: {what}",
    "over": "Over: {what}",
    "silence": "No measurement for {hours} hours",
    "trial": "Test from the sentinel of {site}",
}
AGAIN = " again"

# who acts
OPERATOR = "the operator at {printer}"
OPERATORS = "the operators of these printers"
COLOUR_LEAD = "the colour lead, with the operator at {printer}"
TELLER = "whoever saved this file of events"
MEASURER = "whoever measured the sheet"
ANYBODY = "whoever each of these concerns"
ADMIN = "whoever looks after the sentinel"
NOBODY = "nobody; this is good news"
LEAD = "the colour lead"

# may production go on
HOLD = "hold prints on this stock until somebody has looked."
HOLD_MATCHING = "may go on, but hold work that must match until the colour lead has decided."
UNTIL_CONFIRMED = "may go on; hold work that must match until this is confirmed."
UNTIL_READ_AGAIN = "hold work that must match until the sheet has been read again: nothing is known of it."
GO_ON = "may go on."
GO_ON_WITHIN = "may go on; the last sheet was within the action limits."
GO_ON_UNPROVEN = "may go on; work that must match is unproven until a check has passed."
SEE_EACH = "each notice says whether it may go on; the most pressing come first."
NOT_TOUCHED = "is not touched by this: no state was changed."
UNWATCHED = "may go on, but nobody watches it until this is mended."
READINGS_DOUBTFUL = "may go on; checks by this instrument carry a remark until it is certified again."

# what happened
FAILED_FIRST = "{place}: a sheet was beyond an action limit. Please confirm it before anything is changed."
FAILED_AGAIN = "{place}: the check failed again, {count} in a row by now."
WRONG_STOCK = "{place}: the sheet fits the target of another stock better. Stop and look at the loaded stock."
PATCH_ORDER = "{place}: the patches of this sheet stand in another order than those of its target. It was not scored."
WARNED = "{place}: {count} checks in a row were beyond a warning limit, within the action limits."
RECOVERED = "{place}: after {failures} the last sheet was within the action limits."
FAILURES = ("{count} failed check", "{count} failed checks")
DUE = "{place}: {reasons}."
SINCE = "Last measured {time}."
SOON = "{place}: a check turns due at {time}."
NEVER_RUN = "{place}: {reasons}."
SEVERAL_DUE = "A check is due on {count} printing conditions"
SEVERAL_SOON = "A check turns due soon on {count} printing conditions"
SEVERAL_NEVER_RUN = "{count} printing conditions have never been checked"
UNSCORED = "{file} came {where} at {time} and was not scored."
EVENTS_REFUSED = "{file} came {where} at {time}, and no event of it was taken."
SUMMARY = "What this is about"
SUMMARY_EMPTY = "Nothing is due, nothing is open, nothing waits."
SUMMARY_LINE = "{title} (sentinel notify show {key})"
REMINDED = "This was told before and is still open. `sentinel ack` says that somebody sees to it."
ESCALATED = "This was told to others, and nobody has acknowledged it. `sentinel ack` says that somebody sees to it."
IN_FOLDER = "in folder {folder}"
AT_TOP_OF_EVENTS = "in the events folder"
AT_TOP = "at the top of the drop folder"
LEFT = "It stays in the drop folder, and a copy is in the archive. No state was changed by it."
SET_ASIDE = "It is kept in the put-aside folder as {name}. No state was changed by it."
CERTIFICATE = "The certificate of instrument {instrument} was valid until {day}."
SILENCE = "Nothing has arrived in the drop folders for {hours} hours of working time; the last file came {time}."
SILENCE_EVER = "Nothing has arrived in the drop folders for {hours} hours of working time."
MEASURED = "Measured {time}, {matched} patches, {m_condition}, target {target}, file {file}."
M_UNKNOWN = "M condition unknown"

# how sure
RIVAL = "the figures speak for another stock - {message}."
MISREAD = "the figures fit another order of the patches far better - {message}."
WAS_WET = (
    "the sheet that failed looked as one that had not dried, and this later reading does not: it was most likely "
    "measured too early. Nothing at the printer was at fault, as far as the readings tell."
)
SEVERAL_AGREE = "several readings agree. The same mistake made twice is still possible."
ONE_READING = "one reading of one sheet. The sheet, the reading or the printer may be at fault."
WARNINGS_AGREE = "several readings agree, each within the action limits. It may be a drift that has begun."

# what the figures say of the cause
ONE_CAUSE = "What the figures point to"
SOME_CAUSES = "What the figures point to: one of these, or several"
CAUSE = "{cause}{ink}, {sure} sure: {sentence}. The {who} acts. Next: {step}"
OF_INK = " ({ink})"
CAUSES = {
    "wrong-substrate": "the wrong stock",
    "patch-order": "patches in another order: rows shifted, a strip backwards, or the sheet turned",
    "possibly-not-dry": "a chart that was not dry",
    "measurement-mode": "another measurement mode (M0, M1, M2)",
    "solid-off-aim": "a solid off its aim",
    "tone-shift": "a tone scale off its aim",
    "substrate-shade": "another shade of the stock",
    "measurement-scale": "the instrument: all patches read lighter or darker alike",
    "outlying-patches": "a few patches that lie apart: a scratch, a nozzle line",
    "unexplained": "nothing the sentinel knows",
}

TWO_APART = "One of these two, and this tells them apart"
SEVERAL_APART = "What tells them apart"

# remedies, and none before the simple causes are excluded
LAST_RESORT = (
    "Only when stock, drying, reading and nozzles are all excluded, the colour lead decides whether to recalibrate. "
    "After that a check must pass."
)
MENDING = (
    "Only when stock, drying, reading and nozzles are all excluded, the colour lead decides on these, one after "
    "another until a check passes"
)
FORETOLD = (
    "Recalibrating is foretold to bring a mean ΔE00 of {mean}, a 95th percentile of {p95} and a maximum of {maximum} "
    "in 90 of 100 cases."
)
BAND = "{expected:.2f} ({low:.2f} to {high:.2f})"
WORN = "A head counts as worn only after a nozzle check without a gap and a second print that shows the same."
WEAK_SOLID = "Do not recalibrate for a weak solid: no curve makes it stronger."
PAPER = (
    "Do not recalibrate for the paper: no ink curve moves it. A new lot is to blame only where a second sheet of it "
    "reads alike and another stock reads right."
)
NOT_WHILE = "Do not recalibrate and do not replace anything while this is possible: {causes}."
NOT_BEFORE = "Do not recalibrate and do not replace anything before the cause is known."
CURVES = "What recalibrating would bring, and what it would not: sentinel curves {check}"
READ_AGAIN = (
    "Read the same sheet again from its first row, the right way round, with the white tile read first.",
    "Save the new file in the drop folder; it is scored like any other.",
    "Where it comes out alike, print the chart again: it may have been another chart.",
)
NO_REMEDY = "Do not recalibrate and do not replace anything on this one reading."

TRIAL = "This is a test. Nothing is wrong and nothing is to be done."
COLUMNS = ("", "mean ΔE00", "95th percentile", "maximum")
