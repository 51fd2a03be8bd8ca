"""The graph of jobs and the dates its links allow: pure computing on whole minutes since 1970-01-01 UTC.

Nothing in this package knows a database, a clock or a network. Definitions D1 to D14 stand in DEVELOPERS.md.
`schedule` turns a problem into dates; `data` has the words of both.
"""

from jobs.graph.choices import schedule

__all__ = ["schedule"]
