"""What the history keeps of these tables."""

from farmbuild.coop.models import ChargeRate, CommonOffer, FreeDays, JointMember, JointNeed, JointOrder, MemberFarm
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
keep(
    JointOrder,
    "joint-order",
    title="joint order",
    leave_out=["made_at", "made_by", "closed_by", "market", "ended_by"],
    deeds={"closed_at": ("closed", "opened again"), "ended_at": ("called off", "took up again")},
    name=lambda row: str(row.number),
)
keep(JointMember, of="joint", title="member", money=["alone", "foreseen"], name=str, with_rows=["member"])
keep(
    JointNeed,
    of="joint",
    title="pieces for",
    leave_out=["put_in_at", "put_in_by"],
    name=lambda row: f"{row.member}, {row.material}",
    with_rows=["member", "material"],
)
keep(
    CommonOffer,
    "common-offer",
    title="common stock open to members",
    leave_out=["made_at", "made_by", "ended_by", "wished", "given"],
    money=["price"],
    deeds={"ended_at": ("ended", "opened again")},
    name=lambda row: str(row.lot),
    with_rows=["lot"],
)
