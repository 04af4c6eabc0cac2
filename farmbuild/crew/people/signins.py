"""People of crews sign in: a link or a card is handed over, and whoever takes it is that person."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.access.cards import Handed
from farmbuild.access.invitations import invite
from farmbuild.access.models import Invitation
from farmbuild.crew.models import Person
from farmbuild.orgs.acts import Act, Role, needs
from farmbuild.orgs.models import Organisation, User


@needs(Act.PEOPLE)
@transaction.atomic
def invite_person(*, organisation: Organisation, user: User, person: Person) -> Handed:
    """An invitation in the name of the person, to the role of crews. Raises ValidationError."""
    current = Person.objects.of(organisation).get(pk=person.pk)
    if current.archived_at:
        raise ValidationError(gettext("%(current)s is archived. Bring %(current)s back first.") % {"current": current})
    if current.user_id:
        raise ValidationError(gettext("%(current)s signs in already.") % {"current": current})
    return invite(organisation=organisation, user=user, name=current.name, role=Role.CREW)


def tie_person(sender: Any, *, organisation: Organisation, user: User, invitation: Invitation, **more: Any) -> None:
    """Whoever joins a crew by the name of one of its people is that person: no two in use have one name."""
    if invitation.role == Role.CREW:
        named = Person.objects.of(organisation).filter(archived_at=None, user=None, name__iexact=invitation.name)
        if not Person.objects.of(organisation).filter(user=user).exists():
            named.update(user=user)


def untie_person(sender: Any, *, organisation: Organisation, user: User, **more: Any) -> None:
    """What they did stays with the person; another sign-in may be theirs later."""
    Person.objects.of(organisation).filter(user=user).update(user=None)
