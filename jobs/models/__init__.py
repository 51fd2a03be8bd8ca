"""The tables of `jobs`: what is to be done, when, by whom, and what was reported."""

from jobs.models.law import Purpose, Sheet
from jobs.models.plan import (
    Branch,
    Job,
    LagUnit,
    LinkRelation,
    Need,
    NeedKind,
    Prerequisite,
    Round,
    Season,
    Sequence,
    SkipEffect,
)
from jobs.models.reckoning import JobState, Reckoning
from jobs.models.reports import Assignment, AssignmentState, Observation, Override, Report, ReportKind

__all__ = [
    "Assignment",
    "AssignmentState",
    "Branch",
    "Job",
    "JobState",
    "LagUnit",
    "LinkRelation",
    "Need",
    "NeedKind",
    "Observation",
    "Override",
    "Prerequisite",
    "Purpose",
    "Reckoning",
    "Report",
    "ReportKind",
    "Round",
    "Season",
    "Sequence",
    "Sheet",
    "SkipEffect",
]
