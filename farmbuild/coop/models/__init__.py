"""Tables of all rooms of a cooperative."""

from farmbuild.coop.models.charges import BookingCharge, ChargeRate, Damage, FreeDays
from farmbuild.coop.models.common import CommonOffer, CommonWish
from farmbuild.coop.models.entries import MemberEntry
from farmbuild.coop.models.farms import FarmCard, MemberFarm
from farmbuild.coop.models.joint import Handout, JointMember, JointNeed, JointOrder, JointPurchase, TakenOver
from farmbuild.coop.models.pipe import PipeLoan, PipeReturn
from farmbuild.coop.models.statements import MemberPayment, SentStatement

__all__ = [
    "BookingCharge",
    "ChargeRate",
    "CommonOffer",
    "CommonWish",
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
    "PipeLoan",
    "PipeReturn",
    "SentStatement",
    "TakenOver",
]
