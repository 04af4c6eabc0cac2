"""Writes of members that are farms: moved over from their sign-ins, linked by a card, ended by either side."""

from __future__ import annotations

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.access import cards, log
from farmbuild.common.slugs import free_slug
from farmbuild.coop.members.seeing import check_acts_for
from farmbuild.coop.members.selectors import farm_of, members_in
from farmbuild.coop.members.signals import farm_ended
from farmbuild.coop.models import FarmCard, MemberFarm
from farmbuild.coop.models.farms import MemberFarmQuerySet
from farmbuild.crew.bookings.signins import sign_ins_for
from farmbuild.crew.models import Member
from farmbuild.crew.people.services import check_owner, lock_organisation
from farmbuild.orgs.accounts import create_organisation
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import RESERVED, Membership, Organisation, User

#: What a farm begins with as its cooperative has it; its people change it.
_AS_COOPERATIVE = (
    "country",
    "decimal_sign",
    "unit_system",
    "currency",
    "tax_name",
    "tax_percent",
    "prices_include_tax",
    "time_zone",
    "invented",
)
#: Of farms of one name that are made at once each try gets one through.
_TRIES = 20


@dataclass(frozen=True)
class Moved:
    """What became of members that were moved over at once: new farms, and whose is left with the reason."""

    farms: list[MemberFarm]
    left: list[tuple[Member, str]]


@needs(Act.PLAN)
@transaction.atomic
def move_over(*, organisation: Organisation, user: User, member: Member) -> MemberFarm:
    """The member gets an organisation, and whoever signs in for it owns that. Raises ValidationError."""
    check_owner(organisation, {"member": member})
    lock_organisation(organisation)
    return _move_over(member, user)


@transaction.atomic
def move_own_over(*, member: Member, user: User) -> MemberFarm:
    """As ``move_over``, by somebody who signs in for the member."""
    lock_organisation(member.organisation)
    check_acts_for(member=member, user=user)
    return _move_over(member, user)


@needs(Act.PLAN)
@transaction.atomic
def move_all_over(*, organisation: Organisation, user: User) -> Moved:
    """Every member that signs in and has no farm; nobody is moved in part."""
    lock_organisation(organisation)
    moved = Moved([], [])
    for member in members_in(organisation=organisation):
        if member.farm is not None:
            continue
        try:
            moved.farms.append(_move_over(member, user))
        except ValidationError as error:
            moved.left.append((member, " ".join(error.messages)))
    return moved


def _move_over(member: Member, user: User) -> MemberFarm:
    _check_free(member)
    # Whose link is not used yet stays as they are: the cooperative, which hands it over, sets no password of a farm.
    rows = [
        row
        for row in sign_ins_for(member=member).filter(shut_at=None, user__visitor=True)
        if row.user.has_usable_password()
    ]
    if not rows:
        raise ValidationError(
            gettext("Nobody has signed in for %(member)s yet. Make a sign-in, or hand over a card.")
            % {"member": member}
        )
    farm = _new_farm(member)
    for row in rows:
        person = User.objects.select_for_update().get(pk=row.user_id)
        person.visitor = False
        person.save(update_fields=["visitor"])
        Membership.objects.create(organisation=farm, user=person, role=Membership.Role.OWNER)
        row.shut_at = timezone.now()
        row.save(update_fields=["shut_at"])
        log.write(log.What.JOINED, user=person, by=user)
    return _link(member, farm, user)


def _new_farm(member: Member) -> Organisation:
    given = {name: getattr(member.organisation, name) for name in _AS_COOPERATIVE}
    for tried in range(_TRIES):
        slug = free_slug(member.name[:40], taken_in=Organisation.objects.all(), fallback="farm", reserved=RESERVED)
        try:
            with transaction.atomic():
                return create_organisation(name=member.name, slug=slug, contact=member.contact, **given)
        except (IntegrityError, ValidationError) as error:
            # Elsewhere a farm of the same name was quicker.
            if tried == _TRIES - 1 or "slug" not in str(error):
                raise
    raise AssertionError("The last try returns or raises.")


def _check_free(member: Member) -> None:
    if Member.objects.values_list("archived_at", flat=True).get(pk=member.pk):
        raise ValidationError(gettext("%(member)s is archived. Bring it back first.") % {"member": member})
    if farm := farm_of(member=member):
        raise ValidationError(
            gettext("%(member)s has its farm here already: %(farm)s.") % {"member": member, "farm": farm}
        )


def _link(member: Member, farm: Organisation, user: User) -> MemberFarm:
    row = MemberFarm(organisation=member.organisation, member=member, farm=farm, made_by=user)
    row.full_clean()
    row.save()
    return row


@needs(Act.PLAN)
@transaction.atomic
def make_card(*, organisation: Organisation, user: User, member: Member, days: int = cards.DAYS) -> cards.Handed:
    """The way for a farm that is here to become the member; cards of before are void. Raises ValidationError."""
    check_owner(organisation, {"member": member})
    lock_organisation(organisation)
    _check_free(member)
    _withdraw(member)
    row = FarmCard(organisation=organisation, member=member, made_by=user)
    handed = cards.draw(row, days)
    row.save()
    return handed


@needs(Act.PLAN)
@transaction.atomic
def withdraw_card(*, organisation: Organisation, user: User, member: Member) -> None:
    check_owner(organisation, {"member": member})
    lock_organisation(organisation)
    _withdraw(member)


def _withdraw(member: Member) -> None:
    FarmCard.objects.filter(member=member, taken_at=None, withdrawn_at=None).update(withdrawn_at=timezone.now())


@needs(Act.OWN)
@transaction.atomic
def take_card(*, organisation: Organisation, user: User, digest: str) -> MemberFarm:
    """``organisation``: the farm, which becomes the member of the card. Raises ValidationError in words."""
    found = cards.by_key(FarmCard, digest)
    if found:
        lock_organisation(found.organisation)
    card = cards.opened(FarmCard, digest)
    member = card.member
    if organisation.pk == card.organisation_id:
        raise ValidationError(
            gettext("This card is from %(organisation)s itself. A farm that is its member takes it.")
            % {"organisation": organisation}
        )
    _check_free(member)
    if MemberFarm.objects.of(card.organisation).standing().filter(farm=organisation).exists():
        raise ValidationError(
            gettext("%(organisation)s is a member of %(organisation2)s already.")
            % {"organisation": organisation, "organisation2": card.organisation}
        )
    card.taken_at, card.taken_by = timezone.now(), user
    card.save(update_fields=["taken_at", "taken_by"])
    return _link(member, organisation, user)


@needs(Act.PLAN)
@transaction.atomic
def end_farm(*, organisation: Organisation, user: User, member: Member) -> MemberFarm:
    """By the cooperative: the member stays, and the farm sees nothing of it any more. Raises ValidationError."""
    lock_organisation(organisation)
    return _end(MemberFarm.objects.of(organisation).filter(member=member), user)


@needs(Act.OWN)
@transaction.atomic
def leave(*, organisation: Organisation, user: User, member: Member) -> MemberFarm:
    """As ``end_farm``, by ``organisation``, the farm."""
    lock_organisation(member.organisation)
    return _end(MemberFarm.objects.filter(farm=organisation, member=member), user)


def _end(rows: MemberFarmQuerySet, user: User) -> MemberFarm:
    row = rows.standing().select_related("farm", "member__organisation", "organisation").first()
    if row is None:
        raise ValidationError(gettext("This is ended already."))
    row.ended_at, row.ended_by = timezone.now(), user
    row.save(update_fields=["ended_at", "ended_by"])
    farm_ended.send(MemberFarm, member=row.member, farm=row.farm, user=user)
    return row
