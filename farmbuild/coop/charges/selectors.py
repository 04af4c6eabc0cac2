"""Reads of charges and damage."""

from __future__ import annotations

from django.db.models import QuerySet

from farmbuild.coop.models import BookingCharge, Damage, MemberEntry
from farmbuild.crew.models import BenderBooking, Member
from farmbuild.orgs.models import Organisation

Kind = MemberEntry.Kind
#: What members pay for benders.
OF_BENDERS = (Kind.DAYS, Kind.PULLS, Kind.LATE, Kind.DAMAGE)


def charges_of(*, organisation: Organisation) -> QuerySet[MemberEntry]:
    """Of benders, the latest first, with what was taken back and what took it back."""
    rows = MemberEntry.objects.of(organisation).filter(kind__in=OF_BENDERS)
    return rows.select_related("member", "reverses", "reversed_by").order_by("-day", "-pk")


def damages_of(*, organisation: Organisation) -> QuerySet[Damage]:
    """The latest first."""
    rows = Damage.objects.of(organisation)
    return rows.select_related(
        "booking__bender", "booking__member", "entry", "made_by", "disputed_by", "answered_by"
    ).order_by("-pk")


def damages_of_member(*, member: Member) -> QuerySet[Damage]:
    return damages_of(organisation=member.organisation).filter(booking__member=member)


def damages_of_booking(*, booking: BenderBooking) -> QuerySet[Damage]:
    return damages_of(organisation=booking.organisation).filter(booking=booking)


def entries_of_booking(*, booking: BenderBooking) -> QuerySet[MemberEntry]:
    """What stands of days, pulls and a late return."""
    rows = MemberEntry.objects.of(booking.organisation).net().filter(charge__booking=booking)
    return rows.select_related("member").order_by("pk")


def entries_to_show(*, organisation: Organisation) -> QuerySet[MemberEntry]:
    """Of any kind, with all that its page tells."""
    rows = MemberEntry.objects.of(organisation)
    return rows.select_related("organisation", "member", "by", "reverses", "reversed_by", "damage")


def charge_of(*, entry: MemberEntry) -> BookingCharge | None:
    """How an entry came about; of one that takes another back, how that did."""
    return BookingCharge.objects.filter(entry=entry.reverses_id or entry.pk).select_related("booking__bender").first()


def bookings_to_charge(*, organisation: Organisation) -> QuerySet[BenderBooking]:
    """Of members, back, the latest first: what may be asked for damage."""
    rows = BenderBooking.objects.of(organisation).filter(
        state=BenderBooking.State.BACK, member__isnull=False, out_at__isnull=False, back_at__isnull=False
    )
    return rows.select_related("organisation", "bender", "member").order_by("-back_at", "-pk")
