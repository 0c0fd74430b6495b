"""A campaign invented from a plan, with the truth kept beside it."""

from motelake.rehearsal.invention import Report, rehearse
from motelake.rehearsal.plan import Faults, Plan

__all__ = ["Faults", "Plan", "Report", "rehearse"]
