"""Somebody stays in each organisation who can sign in and may change its settings and people."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.orgs.acts import Act, acts_given
from farmbuild.orgs.models import Membership, Organisation, User


@contextmanager
def an_owner_stays(organisations: Iterable[Organisation]) -> Iterator[None]:
    """Whatever takes somebody's place, role, acts or sign-in stands inside: two at once are done one after the other.

    Raises ValidationError at its end where nobody would be left of those that there were; nothing is stored then.
    """
    keys = sorted({organisation.pk for organisation in organisations})
    with transaction.atomic():
        locked = list(Organisation.objects.select_for_update(no_key=True).filter(pk__in=keys).order_by("pk"))
        owned = [organisation for organisation in locked if _is_owned(organisation)]
        yield
        if not all(map(_is_owned, owned)):
            raise ValidationError(
                gettext("Nobody could change settings and people then. Make someone else an owner first.")
            )


def organisations_of(user: User) -> list[Organisation]:
    return list(Organisation.objects.filter(memberships__user=user))


def _is_owned(organisation: Organisation) -> bool:
    rows = Membership.objects.filter(organisation=organisation, user__is_active=True, user__visitor=False)
    given = rows.values("role", "without", "also")
    return any({Act.OWN, Act.PEOPLE} <= acts_given(**row) for row in given)
