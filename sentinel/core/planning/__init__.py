"""The morning's round: in which order charts are printed and measured, so that the last is measured soonest.

The model. A printer prints one chart after another. A chart of another stock than the one loaded needs a roll change
first, which takes the person and the printer. A printed chart dries beside the printer: nobody is busy, and any number
dry at once. A dry chart is measured by the person with the one instrument, whichever printer it came from. What is
begun is finished.

The aim, in this order: the moment the last chart is measured; the time the person is busy; the names of printers and
conditions, which decide between equals so that the same room always gives the same plan.

What is exact. The search is over all printers together, with the person and the instrument they share. It goes on
until the proof is complete or the effort is spent, which is a count of partial plans; then the best plan found is
taken, and told with the least time below which no plan can be (`Plan.proved`, `Plan.least_minutes`). Charts, stocks and
cores that differ in name alone are planned in one order only (`twins`), so that a dozen stocks whose charts take the
same times are proved at once. What may stay unproved is a dozen stocks on one printer that take all different times,
where roll changes and measurements want the person at the same moments. The bounds for more than twelve charts on one
printer are weaker, so that the gap told there is wider.

What the model leaves out: walking, cutting and sending a job take no time of their own (put them into the times handed
in), the person is there all the time and does nothing else, all times are as told, a roll never ends within the round
(a roll that is too short is a warning), and a stock that two printers need is there twice.
"""
