"""Lengths of the demo file, and the finished plan as files."""

from collections.abc import Iterator
from decimal import Decimal

from farmbuild.measure import POINT, Unit, parse_length
from farmbuild.plans.bridge import season_of, season_plan_of
from farmbuild.plans.models import Plan
from farmbuild.workbooks.services import PlanFile, plan_files


def read_length(text: str) -> Decimal | None:
    """Feet, unless the text says otherwise, with a point; None for counted things."""
    return parse_length(text, Unit.FOOT, style=POINT) if text else None


def files_of(plan: Plan) -> Iterator[PlanFile]:
    return plan_files(season_of(plan), season_plan_of(plan), number_prefix=str(plan.number))
