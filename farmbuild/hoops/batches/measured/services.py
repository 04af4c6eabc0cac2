"""Writes of services and of hoops measured elsewhere: written down once, and taken back with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.common.templatetags.farm import day as day_text
from farmbuild.hoops.batches.measured.bridge import arc_radius, hoop_problems
from farmbuild.hoops.batches.measured.models import MeasuredHoop, OfBender, ServiceRecord
from farmbuild.hoops.batches.measured.pulls import made_on, pulls_by
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.acts import Act, check_may, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User

_Row = TypeVar("_Row", bound=OfBender)


@needs(Act.BENDERS)
@transaction.atomic
def record_service(*, organisation: Organisation, user: User, bender: Bender, data: Mapping[str, Any]) -> ServiceRecord:
    """``data``: day, done, who; parts and cost if any. What was found since the last service counts no more.

    Raises ValidationError by field.
    """
    if data.get("cost") is not None:
        check_may(organisation=organisation, user=user, act=Act.COSTS)
        lock_currency(organisation=organisation)
    bender = _locked(organisation, bender)
    _check_day(organisation, data["day"])
    texts = {name: (data.get(name) or "").strip() for name in ("done", "who", "parts")}
    same = ServiceRecord.objects.of(organisation).standing().filter(bender=bender, day=data["day"], done=texts["done"])
    if same.exists():
        raise ValidationError(
            {"done": gettext("That is written down for %(data)s already.") % {"data": day_text(data["day"])}}
        )
    made = made_on(organisation=organisation, benders=[bender.pk])
    row = ServiceRecord(
        organisation=organisation,
        bender=bender,
        day=data["day"],
        cost=data.get("cost"),
        pulls=max(0, (bender.earlier_pulls or 0) + pulls_by(made, data["day"])),
        by=user,
        **texts,
    )
    row.full_clean()
    row.save()
    return row


@needs(Act.BENDERS)
def take_back_service(*, organisation: Organisation, user: User, row: ServiceRecord, reason: str) -> ServiceRecord:
    """It counts no more: what was due before it is due again."""
    return _take_back(organisation, user, ServiceRecord, row.pk, reason)


@needs(Act.BENDERS)
def record_hoop(
    *, organisation: Organisation, user: User, bender: Bender, data: Mapping[str, Any], booking: Any = None
) -> MeasuredHoop:
    """``data``: day, tube, free_span, rise, pipe in mm. ``booking``: of whose days it is. ValidationError by field."""
    return store_hoop(organisation=organisation, user=user, bender=bender, data=data, booking=booking)


@transaction.atomic
def store_hoop(
    *, organisation: Organisation, user: User, bender: Bender, data: Mapping[str, Any], booking: Any = None
) -> MeasuredHoop:
    """As ``record_hoop``, for whoever its caller has asked."""
    bender = _locked(organisation, bender)
    _check_day(organisation, data["day"])
    tube = data["tube"]
    if tube.organisation_id != organisation.pk or tube.kind != tube.Kind.TUBE:
        raise ValidationError({"tube": gettext("Choose from the tubes on the list.")})
    sizes = {name: data[name] for name in ("free_span", "rise", "pipe")}
    if problems := hoop_problems(sizes["free_span"], sizes["rise"], sizes["pipe"], organisation.unit_system):
        raise ValidationError(problems)
    about = {"bender": bender, "booking": booking, "tube": tube, "day": data["day"], **sizes}
    if MeasuredHoop.objects.of(organisation).standing().filter(**about).exists():
        raise ValidationError({"free_span": gettext("This hoop is written down already, with the same day and sizes.")})
    row = MeasuredHoop(
        organisation=organisation,
        member=booking.member if booking else None,
        radius=arc_radius(sizes["free_span"], sizes["rise"]),
        by=user,
        **about,
    )
    row.full_clean()
    row.save()
    return row


@needs(Act.BENDERS)
def take_back_hoop(*, organisation: Organisation, user: User, row: MeasuredHoop, reason: str) -> MeasuredHoop:
    """It was typed wrongly: it tells nothing of the bender any more."""
    return withdraw_hoop(organisation=organisation, user=user, row=row, reason=reason)


def withdraw_hoop(*, organisation: Organisation, user: User, row: MeasuredHoop, reason: str) -> MeasuredHoop:
    """As ``take_back_hoop``, for whoever its caller has asked."""
    return _take_back(organisation, user, MeasuredHoop, row.pk, reason)


@transaction.atomic
def _take_back(organisation: Organisation, user: User, rows: type[_Row], key: int, reason: str) -> _Row:
    row = rows.objects.of(organisation).select_for_update(of=("self",), no_key=True).get(pk=key)
    if row.removed_at:
        raise ValidationError(gettext("It is taken back already."))
    if not (reason := reason.strip()):
        raise ValidationError({"reason": gettext("Say why in a few words, for example: the span was misread.")})
    row.removed_at, row.removed_by, row.removed_reason = timezone.now(), user, reason
    row.full_clean()
    row.save(update_fields=["removed_at", "removed_by", "removed_reason"])
    return row


def _locked(organisation: Organisation, bender: Bender) -> Bender:
    """Two who write down the same thing at once follow one another."""
    return Bender.objects.of(organisation).select_for_update(no_key=True).get(pk=bender.pk)


def _check_day(organisation: Organisation, day: date) -> None:
    if day > today_of(organisation=organisation):
        raise ValidationError({"day": gettext("That day is still to come. Type the day on which it was.")})
