"""A second, naive reckoning of the graph's dates, written from definitions D1 to D14.

It imports nothing of the project and shares no code with it. Input is plain dicts (`reckon` says which), every
bound is relaxed until nothing moves, weather lags are searched day by day, and every copy of the choices is reckoned
anew. It is slow on purpose; the only thing asked of it is that each line can be held against a definition.

Readings where the definitions leave room. Both programs take them: where their answers first differed, one reading was
settled on for both, so that on these points agreement shows the same understanding and not yet that it is right.

* A job done keeps its fact in every date: latest start = earliest start, slack 0.
* A job under way: its own latest start comes from its successors and its deadline, not from its spans.
* Slack is FAR without a latest start; where the earliest start is FAR or the latest NEG, it is NEG.
* A clock started by rain runs from the end of the first day whose rain alone reaches the amount. Backward, rain after
  the record may come at once.
* A maximal lag of degree days ends one minute before the day whose sum exceeds it is over.
* Forward and backward, a strongly connected part is first reckoned without its maximal lags. A job unknown (FAR, NEG)
  already then sends nothing through them (D2), so that these are taken out and the part is split again. A job that only
  *becomes* FAR through them makes a contradiction of its part (D14).
* A part in which a job only becomes NEG through its maximal lags keeps the latest starts without them, unmarked
  (`eased`). The job that misses its deadline or its spans then shows it all the same: were all earliest starts in time,
  they would satisfy every arc, and no latest start could be NEG.
* A branch is begun when a job of it or of a branch nested in it is, done when all its own jobs are and every branch
  nested in it is done or dead. A person's call-off of a branch outranks what was begun in it, also for its siblings.
  Jobs done are facts in every copy, whatever became of their branch.
* A branch is viable if no open job of it, and none that has one of it as predecessor, has its latest start before its
  earliest.
* Critical is the least slack of a season within one copy, over open jobs and those under way; out of order is an arc
  between two reports of work, named at its head. A finish not reported yet can only be too late, not too early.
* "Look by" is the strictest of its copies, and nothing where none has a deadline.
* In the copy of a branch that waits for an outcome, the other branches of the same check are left out.
"""

from tests.jobs.graph.oracle.choices import reckon
from tests.jobs.graph.oracle.lags import Days

__all__ = ["Days", "reckon"]
