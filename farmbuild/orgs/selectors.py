"""Reads of organisations and their people."""

from farmbuild.orgs.models import Organisation, User


def organisation_of(*, user: User) -> Organisation | None:
    """The user's organisation, or None when there is none yet."""
    return Organisation.objects.filter(memberships__user=user).first()
