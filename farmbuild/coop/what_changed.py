"""What the history keeps of these tables."""

from farmbuild.coop.models import ChargeRate, FreeDays, MemberFarm
from farmbuild.history.keeping import keep

keep(ChargeRate, "charge-rate", title="price for members of", money=["each"], with_rows=["bender"])
keep(FreeDays, "free-days", title="free days")
keep(
    MemberFarm,
    "member-farm",
    title="farm of a member",
    leave_out=["made_at", "made_by", "ended_by"],
    added="linked",
    deeds={"ended_at": ("ended", "linked")},
    with_rows=["member", "farm"],
)
