"""What the history keeps of these tables."""

from farmbuild.common.long_work import LongWork
from farmbuild.history.keeping import keep
from farmbuild.plans.models import Plan, PlanFromYard, PlanHouse, PlanSavings

#: How the working out goes is nobody's change.
_WORK = [field.name for field in LongWork._meta.fields]
_ASKED = ["tried", "inputs", "inputs_digest"]
_RESULT = ["result", "result_digest", "order_count", "order_total", "first_order_by"]

keep(
    Plan,
    "plan",
    leave_out=[*_WORK, *_ASKED, *_RESULT, "number", "houses", "created_at", "created_by", "accepted_by"],
    deeds={"accepted_at": ("accepted", "took back"), "released_at": ("released", "took again")},
    leads_to=("plans:plan", "number"),
)
keep(PlanHouse, of="plan", title="house", name=lambda row: str(row.house), with_rows=["house"])
keep(PlanSavings, of="plan", leave_out=[*_WORK, "organisation", "created_at", "created_by", "found"])
keep(
    PlanFromYard,
    of="plan",
    leave_out=[*_WORK, "organisation", "created_at", "created_by", "starts_at", "asked", "found"],
)
