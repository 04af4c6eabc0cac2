"""Reads of organisations and their people."""

from farmbuild.orgs.models import Organisation, User


def organisation_of(*, user: User) -> Organisation | None:
    """The user's organisation, or None when there is none yet."""
    return Organisation.objects.filter(memberships__user=user).first()


def other_units(organisation: Organisation) -> Organisation.Units:
    """The unit system that it does not use."""
    return next(units for units in Organisation.Units if units != organisation.unit_system)
