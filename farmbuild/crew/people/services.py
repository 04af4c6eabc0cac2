"""Writes of people, crews, skills and the settings of work: one transaction a user action."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import ProtectedError, QuerySet
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.common.slugs import free_slug
from farmbuild.crew.models import Crew, CrewSettings, Person, Skill
from farmbuild.crew.people.selectors import sign_ins_for
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User

#: Last parts of addresses that pages use.
RESERVED = frozenset({"new", "first"})


def lock_organisation(organisation: Organisation) -> None:
    """Two people who make rows at once never get one name or one address for both."""
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)


def check_owner(organisation: Organisation, values: Mapping[str, Any]) -> None:
    """Rows of another organisation never get in, whatever the form let through."""
    for name, value in values.items():
        if getattr(value, "organisation_id", organisation.pk) != organisation.pk:
            raise ValidationError({name: gettext("Choose one from the list.")})


def check_name(rows: QuerySet, name: str, words: str, but: Any = None) -> None:
    """Raises ValidationError at ``name`` where another of ``rows`` has it, in capitals or not. ``words``: a "crew"."""
    taken = {row.casefold() for row in rows.exclude(pk=but and but.pk).values_list("name", flat=True)}
    if name.strip().casefold() in taken:
        said = gettext("There is a %(what)s called %(name)s already. Type another name.")
        raise ValidationError({"name": said % {"what": gettext(words), "name": name.strip()}})


# Settings


@needs(Act.PLAN)
@transaction.atomic
def save_settings(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> CrewSettings:
    """``data``: ``travel_minutes``. Raises ValidationError by field."""
    lock_organisation(organisation)
    current = CrewSettings.objects.filter(organisation=organisation).first() or CrewSettings(organisation=organisation)
    if "travel_minutes" in data:
        current.travel_minutes = data["travel_minutes"]
    current.full_clean()
    current.save()
    return current


# Skills


@needs(Act.PLAN)
@transaction.atomic
def save_skill(*, organisation: Organisation, user: User, name: str, skill: Skill | None = None) -> Skill:
    """Adds one, or renames ``skill``."""
    lock_organisation(organisation)
    rows = Skill.objects.of(organisation)
    current = rows.get(pk=skill.pk) if skill else Skill(organisation=organisation)
    check_name(rows, name, "skill", but=skill)
    current.name = name.strip()
    current.full_clean()
    current.save()
    return current


@needs(Act.PLAN)
@transaction.atomic
def remove_skill(*, organisation: Organisation, user: User, skill: Skill) -> None:
    """People lose it. Raises ValidationError where a step of work asks for it."""
    lock_organisation(organisation)
    try:
        Skill.objects.of(organisation).get(pk=skill.pk).delete()
    except ProtectedError as error:
        raise ValidationError(
            gettext("Steps of work ask for %(skill)s. Take it off those steps first, or give it another name.")
            % {"skill": skill.name}
        ) from error


# Crews


def _store_crew(crew: Crew, data: Mapping[str, Any]) -> None:
    check_owner(crew.organisation, data)
    if not crew.archived_at:
        name = data.get("name", crew.name)
        check_name(Crew.objects.of(crew.organisation).filter(archived_at=None), name, "crew", but=crew)
    for name in ("name", "week"):
        if name in data:
            setattr(crew, name, data[name])
    crew.full_clean()
    crew.save()


@needs(Act.PLAN)
@transaction.atomic
def create_crew(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> Crew:
    """``data``: ``name`` and ``week``. Raises ValidationError by field."""
    lock_organisation(organisation)
    slug = free_slug(data["name"], taken_in=Crew.objects.of(organisation), fallback="crew", reserved=RESERVED)
    crew = Crew(organisation=organisation, slug=slug)
    _store_crew(crew, data)
    return crew


@needs(Act.PLAN)
@transaction.atomic
def save_crew(*, organisation: Organisation, user: User, crew: Crew, data: Mapping[str, Any]) -> Crew:
    """The address stays."""
    lock_organisation(organisation)
    current = Crew.objects.of(organisation).get(pk=crew.pk)
    _store_crew(current, data)
    return current


@needs(Act.PLAN)
@transaction.atomic
def archive_crew(*, organisation: Organisation, user: User, crew: Crew) -> None:
    """No work is planned for it; its people stay in it until they are moved, and its tasks keep it."""
    Crew.objects.of(organisation).filter(pk=crew.pk, archived_at=None).update(archived_at=timezone.now())


@needs(Act.PLAN)
@transaction.atomic
def bring_back_crew(*, organisation: Organisation, user: User, crew: Crew) -> None:
    """Raises ValidationError where another crew took its name meanwhile."""
    lock_organisation(organisation)
    check_name(Crew.objects.of(organisation).filter(archived_at=None), crew.name, "crew", but=crew)
    Crew.objects.of(organisation).filter(pk=crew.pk).update(archived_at=None)


# People


def _store_person(person: Person, data: Mapping[str, Any]) -> None:
    organisation = person.organisation
    check_owner(organisation, data)
    skills = data.get("skills")
    if skills is not None and any(skill.organisation_id != organisation.pk for skill in skills):
        raise ValidationError({"skills": gettext("Choose from the skills on the list.")})
    if not person.archived_at:
        name = data.get("name", person.name)
        check_name(Person.objects.of(organisation).filter(archived_at=None), name, "person", but=person)
    sign_in = data.get("user")
    if sign_in and not sign_ins_for(organisation=organisation, person=person).filter(pk=sign_in.pk).exists():
        raise ValidationError({"user": gettext("Someone else signs in so already. Choose one from the list.")})
    for name in ("name", "crew", "user"):
        if name in data:
            setattr(person, name, data[name])
    person.full_clean()
    person.save()
    if skills is not None:
        person.skills.set(skills)


@needs(Act.PLAN)
@transaction.atomic
def create_person(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> Person:
    """``data``: ``name``, ``crew``, ``skills``, ``user`` (who signs in as them). Raises ValidationError by field."""
    lock_organisation(organisation)
    slug = free_slug(data["name"], taken_in=Person.objects.of(organisation), fallback="person", reserved=RESERVED)
    person = Person(organisation=organisation, slug=slug)
    _store_person(person, data)
    return person


@needs(Act.PLAN)
@transaction.atomic
def save_person(*, organisation: Organisation, user: User, person: Person, data: Mapping[str, Any]) -> Person:
    """The address stays."""
    lock_organisation(organisation)
    current = Person.objects.of(organisation).get(pk=person.pk)
    _store_person(current, data)
    return current


@needs(Act.PLAN)
@transaction.atomic
def archive_person(*, organisation: Organisation, user: User, person: Person) -> None:
    """They count for no crew any more; what they did stays."""
    Person.objects.of(organisation).filter(pk=person.pk, archived_at=None).update(archived_at=timezone.now())


@needs(Act.PLAN)
@transaction.atomic
def bring_back_person(*, organisation: Organisation, user: User, person: Person) -> None:
    """Raises ValidationError where another person in use has the name."""
    lock_organisation(organisation)
    check_name(Person.objects.of(organisation).filter(archived_at=None), person.name, "person", but=person)
    Person.objects.of(organisation).filter(pk=person.pk).update(archived_at=None)
