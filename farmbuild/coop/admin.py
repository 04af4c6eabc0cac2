"""The work of cooperatives for whoever runs the server, to look at: it changes on the pages."""

from __future__ import annotations

from django.contrib import admin

from farmbuild.common.admin import OwnedAdmin, ReadOnlyAdmin
from farmbuild.coop.models import (
    BookingCharge,
    ChargeRate,
    CommonOffer,
    CommonWish,
    Damage,
    FarmCard,
    FreeDays,
    Handout,
    JointMember,
    JointNeed,
    JointOrder,
    JointPurchase,
    MemberEntry,
    MemberFarm,
    MemberPayment,
    PipeLoan,
    PipeReturn,
    SentStatement,
    TakenOver,
)


@admin.register(MemberEntry)
class MemberEntryAdmin(OwnedAdmin):
    columns = ("day", "member", "kind", "what", "amount", "reverses_id")
    joins = ("member",)


@admin.register(ChargeRate)
class ChargeRateAdmin(OwnedAdmin):
    columns = ("kind", "bender", "since", "each")
    joins = ("bender",)


@admin.register(FreeDays)
class FreeDaysAdmin(OwnedAdmin):
    columns = ("since", "days")


@admin.register(BookingCharge)
class BookingChargeAdmin(OwnedAdmin):
    columns = ("entry", "booking_id")
    joins = ("entry",)
    raw_id_fields = ("booking",)


@admin.register(Damage)
class DamageAdmin(OwnedAdmin):
    columns = ("what", "amount", "state", "made_at")


@admin.register(MemberPayment)
class MemberPaymentAdmin(OwnedAdmin):
    columns = ("member", "amount", "how", "paid_out")
    joins = ("member",)


@admin.register(SentStatement)
class SentStatementAdmin(OwnedAdmin):
    """Its files and what it shows stay on its page."""

    columns = ("reference", "member", "first", "last", "closing")
    joins = ("member",)
    fields = ("number", "member", "first", "last", "currency", "opening", "closing", "sent_at", "sent_by", "sha256")


@admin.register(MemberFarm)
class MemberFarmAdmin(OwnedAdmin):
    columns = ("member", "farm", "made_at", "ended_at")
    joins = ("member", "farm")


@admin.register(FarmCard)
class FarmCardAdmin(OwnedAdmin):
    """The secret of a card is kept by its hash, and not shown at all."""

    columns = ("member",)
    joins = ("member",)
    fields = ("member",)


@admin.register(JointOrder)
class JointOrderAdmin(OwnedAdmin):
    columns = ("number", "title", "closes_on", "closed_at", "ended_at")
    exclude = ("market",)


@admin.register(JointMember)
class JointMemberAdmin(ReadOnlyAdmin):
    list_display = ("joint", "member", "position", "foreseen", "alone")
    list_select_related = ("joint", "member")


@admin.register(JointNeed)
class JointNeedAdmin(ReadOnlyAdmin):
    list_display = ("joint", "member", "material", "quantity")
    list_select_related = ("joint", "member", "material")


@admin.register(JointPurchase)
class JointPurchaseAdmin(ReadOnlyAdmin):
    list_display = ("joint", "order")
    list_select_related = ("joint", "order")


@admin.register(Handout)
class HandoutAdmin(OwnedAdmin):
    columns = ("day", "joint", "member", "material", "quantity", "reverses_id")
    joins = ("joint", "member", "material")


@admin.register(TakenOver)
class TakenOverAdmin(ReadOnlyAdmin):
    list_display = ("handout_id", "lot", "amount", "at")
    list_select_related = ("lot",)


@admin.register(PipeLoan)
class PipeLoanAdmin(OwnedAdmin):
    columns = ("day", "kind", "lender", "borrower", "material", "quantity", "agreed_at", "back_at")
    joins = ("lender", "borrower", "material")


@admin.register(PipeReturn)
class PipeReturnAdmin(OwnedAdmin):
    columns = ("day", "loan_id", "quantity", "in_money", "agreed_at", "back_at")


@admin.register(CommonOffer)
class CommonOfferAdmin(OwnedAdmin):
    columns = ("lot", "quantity", "price", "wished", "given", "ended_at")
    joins = ("lot",)


@admin.register(CommonWish)
class CommonWishAdmin(OwnedAdmin):
    columns = ("member", "quantity", "price", "state")
    joins = ("member",)
