"""A person is erased: name, e-mail and sign-in go for good, and what they did stays with “former member”.

What is named as kept: words that somebody typed into a text, what the history says of a record that changed
(``Entry.changes``), quotes, bills and orders as they were sent, backups, and exports that were downloaded before.
"""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model, Q
from django.utils.translation import gettext

from farmbuild.access import log, people, signins
from farmbuild.access.models import Entry as SignInEntry
from farmbuild.access.models import Invitation, PaperCode, SecondStep, SentSheet, WeeklySheet
from farmbuild.access.signals import taken_out
from farmbuild.common.guards import guards_down
from farmbuild.common.models import Press
from farmbuild.crew.models import CalendarFeed, MemberSignIn, Person, Schedule, SentWarning
from farmbuild.history.act import not_told
from farmbuild.history.models import Entry
from farmbuild.moving.models import Export
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.orgs.owners import an_owner_stays, organisations_of

FORMER = "Former member"
#: What would be told by the name that goes.
_QUIET = (Membership, Person, CalendarFeed, Invitation, Schedule, User)


def is_elsewhere(person: Membership) -> bool:
    """They belong to another organisation, or book at a cooperative, by the same sign-in."""
    others = Membership.objects.filter(user=person.user).exclude(pk=person.pk)
    return others.exists() or MemberSignIn.objects.filter(user=person.user).exists()


def why_not(user: User) -> str:
    """Empty where the sign-in can be erased on a page."""
    if user.is_staff or user.is_superuser:
        return gettext(
            "This sign-in also keeps the server. Whoever is at the machine erases it: manage.py erase_person."
        )
    if user.visitor:
        return gettext("The cooperative ends this sign-in.")
    return ""


@needs(Act.PEOPLE)
@transaction.atomic
def erase_person(*, organisation: Organisation, user: User, person: Membership) -> bool:
    """Whether all of them is erased; where they belong elsewhere too they leave this organisation alone, and erase
    themselves. Raises ValidationError for the last owner, and for whoever keeps the server."""
    if person.organisation_id != organisation.pk:
        raise ValidationError(gettext("They do not belong to this organisation."))
    whole = not is_elsewhere(person)
    if whole and (why := why_not(person.user)):
        raise ValidationError(why)
    with not_told(*_QUIET) if whole else not_told():
        known = _of_crews(person.user)
        people.take_out(organisation=organisation, user=user, person=person)
        if whole:
            _erase(person.user, known, [person.pk])
    return whole


@transaction.atomic
def erase_self(*, user: User, by_keeper: bool = False) -> None:
    """Out of every organisation. Raises ValidationError where one of them would have no owner."""
    if not by_keeper and (why := why_not(user)):
        raise ValidationError(why)
    organisations = organisations_of(user)
    with an_owner_stays(organisations), not_told(*_QUIET):
        known = _of_crews(user)
        rows = Membership.objects.filter(user=user)
        keys = [*rows.values_list("pk", flat=True)]
        rows.delete()
        for organisation in organisations:
            taken_out.send(Membership, organisation=organisation, user=user)
        _erase(user, known, keys)


def _of_crews(user: User) -> list[int]:
    """Rows of crews that are this person, before they are untied."""
    return [*Person.objects.filter(user=user).values_list("pk", flat=True)]


def _erase(user: User, persons: list[int], memberships: list[int]) -> None:
    organisations = {*Person.objects.filter(pk__in=persons).values_list("organisation", flat=True)}
    organisations |= {*Entry.objects.filter(user=user).values_list("organisation", flat=True).distinct()}
    names = {name for name in (user.get_full_name(), user.email, user.username) if name}
    names |= {*Person.objects.filter(pk__in=persons).values_list("name", flat=True)}
    signins.end_all(user=user)
    for model in (WeeklySheet, SentSheet, SentWarning, SecondStep, PaperCode, Press):
        model._base_manager.filter(user=user).delete()
    CalendarFeed.objects.filter(person__in=persons).delete()
    apps.get_model("api.Answered")._base_manager.filter(token__user=user).delete()
    apps.get_model("api.Token")._base_manager.filter(user=user).delete()
    SignInEntry.objects.filter(user=user).delete()
    Invitation.objects.filter(Q(taken_by=user) | Q(email__in=[user.email] if user.email else [])).delete()
    Export.objects.filter(organisation__in=organisations).delete()
    _of_other_apps(user)
    for key in persons:
        Person.objects.filter(pk=key).update(name=FORMER, slug=f"former-member-{key}")
    _schedules(persons, organisations)
    _history(user, persons, memberships, names)
    _named(organisations, names)
    User.objects.filter(pk=user.pk).update(
        username=f"former-member-{user.pk}",
        first_name=FORMER,
        last_name="",
        email="",
        language="",
        units="",
        large_letters=False,
        password="!",
        last_login=None,
        is_active=False,
        is_staff=False,
        is_superuser=False,
    )
    log.write(log.What.TAKEN_OUT, user=User.objects.get(pk=user.pk))


def _of_other_apps(user: User) -> None:
    """Tries to sign in, by name, and lines of the administration."""
    for label in ("axes.AccessAttempt", "axes.AccessLog", "axes.AccessFailureLog"):
        apps.get_model(label)._base_manager.filter(username__iexact=user.username).delete()
    named = {"content_type__app_label": "orgs", "content_type__model": "user", "object_id": str(user.pk)}
    apps.get_model("admin.LogEntry")._base_manager.filter(**named).update(object_repr=FORMER, change_message="")


def _schedules(persons: list[int], organisations: set[int]) -> None:
    """What they were worked out from names people; the digest beside it stays as it was."""
    keys = {str(key) for key in persons}
    for row in Schedule.objects.filter(organisation__in=organisations).only("pk", "seen").iterator(chunk_size=1):
        world: dict[str, Any] = (row.seen or {}).get("world", {})
        found = keys & world.get("people", {}).keys()
        for key in found:
            world["people"][key][0] = FORMER
        for day in world.get("days_off", {}).values():
            if str(day[0]) in keys:
                day[1] = FORMER
        if found:
            Schedule.objects.filter(pk=row.pk).update(seen=row.seen)


def _history(user: User, persons: list[int], memberships: list[int], names: set[str]) -> None:
    """Who did something is a former member; so is the record that was themselves. Entries are never edited but here."""
    own: list[tuple[type[Model], list[int]]] = [(User, [user.pk]), (Person, persons), (Membership, memberships)]
    kinds = {User: "sign-in", Person: "person", Membership: "role"}
    with guards_down([Entry._meta.db_table]):
        Entry.objects.filter(user=user).update(who=FORMER)
        for model, keys in own:
            rows = Entry.objects.filter(kind=kinds[model], record__in=keys)
            rows.update(name=FORMER)
            for row in rows.only("pk", "address_key", "changes").iterator(chunk_size=100):
                key = f"former-member-{row.record}" if model is Person else row.address_key
                changes = [change for change in row.changes if not names & {*map(str, _said(change))}]
                Entry.objects.filter(pk=row.pk).update(address_key=key, changes=changes)


def _said(change: dict[str, Any]) -> list[Any]:
    return [value for side in ("a", "b") for value in (change.get(side) or {}).values()]


def _named(organisations: set[int], names: set[str]) -> None:
    """Other records that are called by the name, such as a calendar of theirs; of one word alone none can be told."""
    rows = Entry.objects.filter(organisation__in=organisations)
    with guards_down([Entry._meta.db_table]):
        for name in sorted(names, key=len, reverse=True):
            found = rows.filter(name__contains=name) if " " in name or "@" in name else rows.filter(name=name)
            for row in found.only("pk", "name").iterator(chunk_size=100):
                Entry.objects.filter(pk=row.pk).update(name=row.name.replace(name, FORMER)[:200])
