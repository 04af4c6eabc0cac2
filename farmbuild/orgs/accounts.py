"""New organisations, the people in them, and visitors."""

from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils.translation import gettext

from farmbuild.common.fields import usual_lengths
from farmbuild.orgs.models import Membership, Organisation, User


@transaction.atomic
def create_organisation(**fields: Any) -> Organisation:
    """``fields`` are fields of Organisation. Raises ValidationError by field."""
    organisation = Organisation(**usual_lengths(Organisation, fields.get("unit_system", "")) | fields)
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


@transaction.atomic
def add_visitor(*, username: str, name: str) -> User:
    """A new sign-in of nobody's organisation, for the pages of visitors. It has no password until ``links`` gives the
    way to set one. Raises ValidationError by field."""
    user = User(username=username.strip(), first_name=name.strip(), visitor=True)
    user.set_unusable_password()
    user.full_clean(validate_unique=False)
    taken = ValidationError(
        {"username": gettext("Someone signs in as %(username)s already. Type another.") % {"username": user.username}}
    )
    if User.objects.filter(username__iexact=user.username).exists():
        raise taken
    try:
        with transaction.atomic():
            user.save()
    except IntegrityError as error:
        # Someone else was quicker.
        raise taken from error
    return user


def reactivate_visitor(*, user: User) -> None:
    """The password is void, links made before are too, and whoever is signed in with it is signed out."""
    _void_password(user, is_active=True)


def deactivate_visitor(*, user: User) -> None:
    """As ``reactivate_visitor``, and nobody signs in with it until then."""
    _void_password(user, is_active=False)


@transaction.atomic
def _void_password(user: User, *, is_active: bool) -> None:
    current = User.objects.select_for_update().get(pk=user.pk, visitor=True)
    current.set_unusable_password()
    current.is_active = is_active
    current.save(update_fields=["password", "is_active"])
