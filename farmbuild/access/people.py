"""Who belongs to an organisation and what each may do: changed by whoever may say so, and never beyond what they may
do themselves."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext

from farmbuild.access import log, signins
from farmbuild.access.models import WeeklySheet
from farmbuild.access.signals import taken_out
from farmbuild.common.speaking import said, said_either, said_list
from farmbuild.measure import join_words
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.acts import READY_SETS, Act, Role, acts_given, acts_of, needs
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.orgs.owners import an_owner_stays
from farmbuild.orgs.password_links import password_path

#: The roles in plain words; an act may be taken from each, and others added.
ROLE_WORDS = {
    Role.OWNER: gettext_noop("does everything here"),
    Role.PLANNER: gettext_noop("plans and orders; settings and people are not theirs"),
    Role.YARD: gettext_noop("counts and moves stock, lends benders, records work; no prices"),
    Role.CREW: gettext_noop("sees their own day, records work, reports problems; nothing else"),
    Role.LOOKS: gettext_noop("reads the pages and changes nothing; no prices"),
}


def acts_in(person: Membership) -> frozenset[Act]:
    return acts_given(role=person.role, without=person.without, also=person.also)


def people_of(*, organisation: Organisation) -> QuerySet[Membership]:
    """Everybody of the organisation, owners first, with their user."""
    rows = Membership.objects.filter(organisation=organisation).select_related("user", "organisation")
    return rows.order_by("user__first_name", "user__username", "pk")


def differences(person: Membership) -> str:
    """What was taken away from the role or added to it, as words; empty where nothing was."""
    ready, now = READY_SETS[Role(person.role)], acts_in(person)
    less = [said(act.words) for act in Act if act in ready - now]
    more = [said(act.words) for act in Act if act in now - ready]
    told = [gettext("may not %(less)s") % {"less": said_either(less)}] * bool(less) + [
        gettext("may also %(more)s") % {"more": said_list(more)}
    ] * bool(more)
    return "; ".join(told)


@needs(Act.PEOPLE)
@transaction.atomic
def set_role(
    *, organisation: Organisation, user: User, person: Membership, role: str, send_limit: Decimal | None = None
) -> Membership:
    """The acts of another role begin anew. ``send_limit``: None for no limit. Raises ValidationError by field."""
    lock_currency(organisation=organisation)
    with an_owner_stays([organisation]):
        current = _current(organisation, person)
        other = current.role != role
        acts = READY_SETS[Role(role)] if other else acts_in(current)
        _check_reach(organisation, user, current, acts)
        if other:
            current.role, current.without, current.also = role, [], []
        current.send_limit = send_limit
        return _store(current)


@needs(Act.PEOPLE)
@transaction.atomic
def set_acts(*, organisation: Organisation, user: User, person: Membership, acts: Collection[str]) -> Membership:
    """All that they may do from now on. Raises ValidationError at ``acts``."""
    with an_owner_stays([organisation]):
        current = _current(organisation, person)
        wanted, ready = frozenset(Act(act) for act in acts), READY_SETS[Role(current.role)]
        _check_reach(organisation, user, current, wanted)
        current.without = [act.value for act in Act if act in ready - wanted]
        current.also = [act.value for act in Act if act in wanted - ready]
        return _store(current)


@needs(Act.PEOPLE)
@transaction.atomic
def take_out(*, organisation: Organisation, user: User, person: Membership) -> None:
    """What they recorded stays, with their name. Sign-ins in use end where no organisation is left to them."""
    with an_owner_stays([organisation]):
        current = _current(organisation, person)
        _check_reach(organisation, user, current, frozenset())
        current.delete()
    WeeklySheet.objects.filter(organisation=organisation, user=current.user).delete()
    taken_out.send(Membership, organisation=organisation, user=current.user)
    log.write(log.What.TAKEN_OUT, user=current.user, by=user)
    if not Membership.objects.filter(user=current.user).exists():
        signins.end_all(user=current.user)


@needs(Act.PEOPLE)
@transaction.atomic
def end_sign_ins(*, organisation: Organisation, user: User, person: Membership) -> int:
    """How many ended."""
    current = _current(organisation, person)
    _check_reach(organisation, user, current, frozenset())
    ended = signins.end_all(user=current.user)
    log.write(log.What.ENDED, user=current.user, by=user)
    return ended


@needs(Act.PEOPLE)
@transaction.atomic
def make_password_link(*, organisation: Organisation, user: User, person: Membership) -> str:
    """The path at which they set a new password, once, within ``password_links.DAYS``. Raises ValidationError where
    the sign-in is not this organisation's alone: its password opens other doors too."""
    current = _current(organisation, person)
    _check_reach(organisation, user, current, frozenset())
    if why := why_no_link(current):
        raise ValidationError(why)
    log.write(log.What.LINK_MADE, user=current.user, by=user)
    return password_path(current.user)


def why_no_link(person: Membership) -> str:
    """Empty where an owner may hand over a link for a new password."""
    if person.user.is_staff or person.user.is_superuser:
        return gettext("This sign-in also keeps the server. Whoever is at the machine changes its password.")
    if Membership.objects.filter(user=person.user).exclude(pk=person.pk).exists():
        return gettext("This sign-in belongs to another organisation too. They change the password themselves.")
    return ""


def _current(organisation: Organisation, person: Membership) -> Membership:
    found = Membership.objects.filter(organisation=organisation, pk=person.pk).select_related("user").first()
    if found is None:
        raise ValidationError(gettext("They do not belong to this organisation any more."))
    return found


def _check_reach(organisation: Organisation, user: User | None, person: Membership, wanted: Collection[Act]) -> None:
    """Nobody takes from, or gives, what they may not do themselves."""
    if user is None:
        return
    own = acts_of(organisation=organisation, user=user)
    if beyond := (acts_in(person) | frozenset(wanted)) - own:
        words = join_words([act.words for act in Act if act in beyond], "or")
        raise ValidationError(gettext("You may not %(words)s yourself. Ask someone who may.") % {"words": words})


def _store(person: Membership) -> Membership:
    person.full_clean(exclude=["organisation", "user"])
    person.save(update_fields=["role", "without", "also", "send_limit"])
    return person
