"""Writes of organisations."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from farmbuild.orgs.models import Organisation, User

#: Not the currency: it is set when the organisation is made, since every price and order since is in it.
FIELDS = (
    "name",
    "address",
    "contact",
    "country",
    "time_zone",
    "decimal_sign",
    "unit_system",
    "kerf",
    "keep_from",
    "tax_name",
    "tax_percent",
)


@transaction.atomic
def save_organisation(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> Organisation:
    """``data`` holds any of FIELDS. Raises ValidationError by field; nothing is stored then."""
    current = Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    before = current.unit_system
    for name in FIELDS:
        if name in data:
            setattr(current, name, data[name])
    current.follow_units(before)
    current.full_clean()
    current.save()
    return current
