"""Hoops measured while a bender is lent, written down at its booking."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext

from farmbuild.common.templatetags.farm import day
from farmbuild.crew.bookings.rules import lock_booking
from farmbuild.crew.models import BenderBooking
from farmbuild.hoops.batches.measured.models import MeasuredHoop
from farmbuild.hoops.batches.measured.services import store_hoop
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation, User

#: Of a bender that is gone or came back.
MEASURES = (BenderBooking.State.OUT, BenderBooking.State.BACK)


@needs(Act.BENDERS)
@transaction.atomic
def record_hoop_of(
    *, organisation: Organisation, user: User, booking: BenderBooking, data: Mapping[str, Any]
) -> MeasuredHoop:
    """What whoever has the bender measured. Raises ValidationError by field."""
    current = lock_booking(organisation, booking)
    check_measured(current, data)
    return store_hoop(organisation=organisation, user=user, bender=current.bender, data=data, booking=current)


def check_measured(booking: BenderBooking, data: Mapping[str, Any]) -> None:
    if booking.state not in MEASURES or booking.out_at is None:
        raise ValidationError(gettext("The bender has not left on this booking, so no hoop was bent in its days."))
    zone = zone_of(organisation=booking.organisation)
    out = booking.out_at.astimezone(zone).date()
    if data["day"] < out:
        raise ValidationError(
            {"day": gettext("The bender left on %(out)s. Type that day or a later one.") % {"out": day(out)}}
        )
    if booking.back_at and data["day"] > (back := booking.back_at.astimezone(zone).date()):
        raise ValidationError(
            {"day": gettext("The bender came back on %(back)s. Type that day or an earlier one.") % {"back": day(back)}}
        )


def hoops_of(*, booking: BenderBooking) -> QuerySet[MeasuredHoop]:
    """That stand, the latest first."""
    rows = MeasuredHoop.objects.of(booking.organisation_id).standing().filter(booking=booking)
    return rows.select_related("tube", "bender", "organisation").order_by("-day", "-pk")
