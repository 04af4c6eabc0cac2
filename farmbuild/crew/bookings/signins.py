"""Members sign in: staff make the sign-in, hand over its link, and shut it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.crew.models import Member, MemberSignIn
from farmbuild.crew.people.services import check_owner, lock_organisation
from farmbuild.orgs.accounts import add_visitor, deactivate_visitor, reactivate_visitor
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.orgs.password_links import password_path


def sign_ins_of(*, organisation: Organisation) -> QuerySet[MemberSignIn]:
    return MemberSignIn.objects.of(organisation).select_related("member", "user").order_by("pk")


def sign_ins_for(*, member: Member) -> QuerySet[MemberSignIn]:
    return sign_ins_of(organisation=member.organisation).filter(member=member)


def sign_in_of(*, user: User) -> MemberSignIn | None:
    """Of a visitor who may come in now, with the member and its organisation loaded."""
    if not user.visitor:
        return None
    rows = MemberSignIn.objects.filter(user=user, shut_at=None, member__archived_at=None)
    return rows.select_related("member__organisation", "user").first()


def link_of(sign_in: MemberSignIn) -> str:
    """The path that sets the password; empty once it is set, and while the sign-in is shut."""
    return "" if sign_in.shut_at or sign_in.user.has_usable_password() else password_path(sign_in.user)


@needs(Act.BENDERS)
@transaction.atomic
def invite_member(*, organisation: Organisation, user: User, member: Member, data: Mapping[str, Any]) -> MemberSignIn:
    """``data``: ``name`` of the person and the ``username`` that they sign in with. Raises ValidationError by field."""
    check_owner(organisation, {"member": member})
    lock_organisation(organisation)
    _check_member(member)
    row = MemberSignIn(organisation=organisation, member=member, user=add_visitor(**data), made_by=user)
    row.full_clean()
    row.save()
    return row


@needs(Act.BENDERS)
@transaction.atomic
def reopen_sign_in(*, organisation: Organisation, user: User, sign_in: MemberSignIn) -> None:
    """A shut one opens; the password and earlier links are void, and a new link can be handed over."""
    lock_organisation(organisation)
    current = sign_ins_of(organisation=organisation).get(pk=sign_in.pk)
    _check_visitor(current)
    _check_member(current.member)
    reactivate_visitor(user=current.user)
    current.shut_at = None
    current.save(update_fields=["shut_at"])


@needs(Act.BENDERS)
@transaction.atomic
def close_sign_in(*, organisation: Organisation, user: User, sign_in: MemberSignIn) -> None:
    """Nobody signs in with it from now on; whoever is signed in with it is signed out."""
    current = sign_ins_of(organisation=organisation).get(pk=sign_in.pk)
    _check_visitor(current)
    deactivate_visitor(user=current.user)
    if current.shut_at is None:
        current.shut_at = timezone.now()
        current.save(update_fields=["shut_at"])


def close_sign_ins(*, organisation: Organisation, user: User, member: Member) -> None:
    """Within the transaction that archives the member."""
    for row in sign_ins_for(member=member).filter(shut_at=None):
        close_sign_in(organisation=organisation, user=user, sign_in=row)


def _check_visitor(sign_in: MemberSignIn) -> None:
    if not sign_in.user.visitor:
        raise ValidationError(
            gettext("%(display_name)s is of the farm itself now, which says who signs in.")
            % {"display_name": sign_in.user.display_name}
        )


def _check_member(member: Member) -> None:
    if Member.objects.values_list("archived_at", flat=True).get(pk=member.pk):
        raise ValidationError(gettext("%(member)s is archived. Bring it back first.") % {"member": member})
