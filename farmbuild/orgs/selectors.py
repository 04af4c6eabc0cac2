"""Reads of organisations and their people."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Exists, OuterRef, QuerySet

from farmbuild.common.compiled import compiled_once
from farmbuild.orgs.models import Membership, Organisation, User


def memberships_of(*, user: User) -> list[Membership]:
    """With their organisations, by name, and whether each is ``in_cooperative``. One query."""
    return _memberships_of(user.pk)


@compiled_once
def _memberships_of(user: int) -> QuerySet[Membership]:
    linked = Organisation._meta.get_field("cooperatives").related_model
    standing = linked._default_manager.filter(farm=OuterRef("organisation"), ended_at=None, member__archived_at=None)
    rows = (
        Membership.objects.filter(user_id=user).select_related("organisation").annotate(in_cooperative=Exists(standing))
    )
    return rows.order_by("organisation__name", "pk")


def last_used(memberships: Sequence[Membership]) -> Membership | None:
    """The only one, or the one to which its person came last; None where there is none, or none was ever used."""
    if len(memberships) == 1:
        return memberships[0]
    return max((row for row in memberships if row.used_at), key=lambda row: row.used_at, default=None)


def other_units(organisation: Organisation) -> Organisation.Units:
    """The unit system that it does not use."""
    return next(units for units in Organisation.Units if units != organisation.unit_system)
