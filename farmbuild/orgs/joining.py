"""New organisations and the people in them."""

from typing import Any

from django.db import transaction

from farmbuild.orgs.models import Membership, Organisation, User


@transaction.atomic
def create_organisation(**fields: Any) -> Organisation:
    """``fields`` are fields of Organisation. Raises ValidationError by field."""
    organisation = Organisation(**fields)
    organisation.full_clean()
    organisation.save()
    return organisation


@transaction.atomic
def add_person(*, organisation: Organisation, username: str, password: str, **fields: Any) -> User:
    """A new sign-in that belongs to the organisation. Raises ValidationError by field."""
    user = User(username=username, **fields)
    user.set_password(password)
    user.full_clean()
    user.save()
    Membership.objects.create(organisation=organisation, user=user)
    return user
