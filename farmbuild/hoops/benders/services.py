"""Writes of benders: one transaction a user action, checked before anything is stored."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.common.slugs import free_slug
from farmbuild.hoops.benders.bridge import bender_problems
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.worked_out import work_out
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User

#: Last parts of addresses that pages of benders use.
RESERVED = frozenset({"new"})
FIELDS = (
    *("name", "way", "rated_radius", "rated_span", "label_sticks", "label_stick_length", "label_insertion"),
    *("bent_span", "bent_rise", "owner", "kept_at", "note"),
    *("service_pulls", "service_months", "earlier_pulls", "drift_limit"),
)


def _store(bender: Bender, data: Mapping[str, Any]) -> None:
    for name in FIELDS:
        if name in data:
            setattr(bender, name, data[name])
    if "way" not in data and "rated_radius" in data:
        bender.way = Bender.Way.RADIUS
    work_out(bender)
    bender.clean_fields()
    if problems := bender_problems(bender):
        raise ValidationError(problems)
    tubes = data.get("tubes")
    if tubes is not None and any(
        tube.organisation_id != bender.organisation_id or tube.kind != tube.Kind.TUBE for tube in tubes
    ):
        raise ValidationError({"tubes": gettext("Choose from the tubes on the list.")})
    bender.full_clean()
    bender.save()
    if tubes is not None:
        bender.tubes.set(tubes)


@needs(Act.BENDERS)
@transaction.atomic
def create_bender(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> Bender:
    """``data`` holds fields of Bender, ``tubes`` among them; ``slug`` may name the address.

    The ``way`` says of which of them the radius is worked out; without one it is the radius itself.

    Raises ValidationError by field.
    """
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    slug = free_slug(
        data.get("slug") or data["name"],
        taken_in=Bender.objects.of(organisation),
        fallback="bender",
        reserved=RESERVED,
    )
    bender = Bender(organisation=organisation, slug=slug)
    _store(bender, data)
    return bender


@needs(Act.BENDERS)
@transaction.atomic
def save_bender(*, organisation: Organisation, user: User, bender: Bender, data: Mapping[str, Any]) -> Bender:
    """The address stays. Recipes keep their radius: they are worked for it until someone changes them.

    Raises ValidationError by field; nothing is stored then.
    """
    current = Bender.objects.of(organisation).select_for_update().get(pk=bender.pk)
    _store(current, data)
    return current


@needs(Act.BENDERS)
@transaction.atomic
def archive_bender(*, organisation: Organisation, user: User, bender: Bender) -> None:
    """Recipes and batches that use it keep it; new ones are not offered it."""
    Bender.objects.of(organisation).filter(pk=bender.pk, archived_at=None).update(archived_at=timezone.now())


@needs(Act.BENDERS)
@transaction.atomic
def bring_back_bender(*, organisation: Organisation, user: User, bender: Bender) -> None:
    Bender.objects.of(organisation).filter(pk=bender.pk).update(archived_at=None)
