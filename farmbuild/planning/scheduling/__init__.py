"""Schedules of work over crews, benders and houses, with proven bounds."""

from farmbuild.planning.scheduling.plan import WorkError, plan_work

__all__ = ["WorkError", "plan_work"]
