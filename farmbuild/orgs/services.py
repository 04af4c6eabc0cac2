"""Writes of organisations."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.measure import CURRENCIES
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import check_currency, why_fixed
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.orgs.signals import currency_changed, units_changed

FIELDS = (
    "name",
    "address",
    "contact",
    "country",
    "time_zone",
    "language",
    "decimal_sign",
    "unit_system",
    "currency",
    "kerf",
    "keep_from",
    "tax_name",
    "tax_percent",
    "prices_include_tax",
    "recovers_tax",
    "two_people_above",
)


@needs(Act.OWN)
@transaction.atomic
def save_organisation(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> Organisation:
    """``data`` holds any of FIELDS. Raises ValidationError by field; nothing is stored then."""
    current = Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    if data.get("two_people_above") is not None and "currency" not in data:
        check_currency(organisation=organisation)
    before, currency = current.unit_system, current.currency
    for name in FIELDS:
        if name in data:
            setattr(current, name, data[name])
    current.follow_units(before)
    current.full_clean()
    if current.currency != currency:
        _check_currency(current, currency)
    current.save()
    if current.unit_system != before:
        units_changed.send(Organisation, organisation=current, before=before)
    if current.currency != currency:
        currency_changed.send(Organisation, organisation=current)
    return current


def note_use(*, membership: Membership) -> None:
    """Its person came to it from another of theirs: addresses that name none lead to it from now on."""
    Membership.objects.filter(pk=membership.pk).update(used_at=timezone.now())


def _check_currency(organisation: Organisation, before: str) -> None:
    """``organisation`` is locked: whoever stores a price meanwhile waits, and is told of the change."""
    if organisation.currency not in CURRENCIES:
        raise ValidationError(
            {
                "currency": gettext("%(currency)s is no currency of the list. Choose one from it.")
                % {"currency": organisation.currency}
            }
        )
    wanted, organisation.currency = organisation.currency, before
    if words := why_fixed(organisation, lock=True):
        raise ValidationError({"currency": words})
    organisation.currency = wanted
