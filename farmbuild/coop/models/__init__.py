"""Tables of all rooms of a cooperative."""

from farmbuild.coop.models.charges import BookingCharge, ChargeRate, Damage, FreeDays
from farmbuild.coop.models.entries import MemberEntry
from farmbuild.coop.models.farms import FarmCard, MemberFarm
from farmbuild.coop.models.joint import Handout, JointMember, JointNeed, JointOrder, JointPurchase, TakenOver
from farmbuild.coop.models.statements import MemberPayment, SentStatement

__all__ = [
    "BookingCharge",
    "ChargeRate",
    "Damage",
    "FarmCard",
    "FreeDays",
    "Handout",
    "JointMember",
    "JointNeed",
    "JointOrder",
    "JointPurchase",
    "MemberEntry",
    "MemberFarm",
    "MemberPayment",
    "SentStatement",
    "TakenOver",
]
