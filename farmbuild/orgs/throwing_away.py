"""An invented season goes for good, with its people; what is real cannot."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.db.models import ForeignKey, Model
from django.utils.translation import gettext

from farmbuild.common.guards import guards_down
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Membership, Organisation, User

_AT_A_TIME = 500
Keys = dict[type[Model], set[int]]


def may_throw_away(*, organisation: Organisation, user: User) -> bool:
    owners = Membership.objects.filter(user=user, role=Membership.Role.OWNER, organisation__invented=True)
    return owners.filter(organisation=organisation.pk).exists()


@needs(Act.OWN)
@transaction.atomic
def throw_away(*, organisation: Organisation, user: User) -> int:
    """How many rows went. Raises ValidationError where the organisation is real or the user no owner of it."""
    if not may_throw_away(organisation=organisation, user=user):
        raise ValidationError(gettext("Only an invented season can be thrown away, by its owner."))
    # Locked, so that what somebody else enters meanwhile is either seen here or refused for want of it; and before
    # anything that asks for the people of it, who are gone where somebody else was first.
    if not Organisation.objects.select_for_update().filter(pk=organisation.pk).first():
        raise ValidationError(gettext("It is thrown away already."))
    if organisation.cooperatives.exists():
        raise ValidationError(
            gettext("A cooperative keeps that this is or was its member. Throw the cooperative away first.")
        )
    with guards_down([model._meta.db_table for model in _models()]):
        rows = _rows_of(organisation)
        _check_own(rows, organisation)
        for model, keys in rows.items():
            _delete(model, keys)
    return sum(map(len, rows.values()))


def _models() -> list[type[Model]]:
    return [model for model in apps.get_models(include_auto_created=True) if model._meta.managed]


def _references(model: type[Model]) -> Iterator[ForeignKey]:
    return (field for field in model._meta.concrete_fields if isinstance(field, ForeignKey))


def _rows_of(organisation: Organisation) -> Keys:
    """All rows that come to the organisation, or to people who are of no other one, by any way of references."""
    found: Keys = defaultdict(set)
    found[Organisation] = {organisation.pk}
    fresh: Keys = {Organisation: {organisation.pk}}
    while fresh:
        coming: Keys = defaultdict(set)
        for model in _models():
            for field in _references(model):
                for some in _parts(fresh.get(field.related_model, ())):
                    rows = model._base_manager.filter(**{f"{field.name}__in": some})
                    coming[model] |= set(rows.values_list("pk", flat=True)) - found[model]
        # People have no organisation of their own: the membership, or the sign-in of a member, says whose they are.
        for model in (*coming,):
            for field in _references(model):
                if field.related_model is User and (field.unique or model is Membership):
                    for some in _parts(coming[model]):
                        people = set(model._base_manager.filter(pk__in=some).values_list(field.attname, flat=True))
                        coming[User] |= people - _people_of_others(people, organisation) - found[User] - {None}
        fresh = {model: keys for model, keys in coming.items() if keys}
        for model, keys in fresh.items():
            found[model] |= keys
    return {model: keys for model, keys in found.items() if keys}


def _people_of_others(people: set[int], organisation: Organisation) -> set[int]:
    """Of these, who belong to another organisation too and stay."""
    # Locked, so that nobody is let into another one meanwhile.
    list(User.objects.select_for_update(of=("self",)).filter(pk__in=people).order_by("pk").values("pk"))
    others = Membership.objects.filter(user__in=people).exclude(organisation=organisation)
    return set(others.values_list("user", flat=True))


def _check_own(rows: Keys, organisation: Organisation) -> None:
    """A row of somebody else that came along would be a fault in here; nothing goes then."""
    for model, keys in rows.items():
        if "organisation" in {field.name for field in model._meta.concrete_fields}:
            for some in _parts(keys):
                if model._base_manager.filter(pk__in=some).exclude(organisation=organisation).exists():
                    raise RuntimeError(f"{model._meta.label} of another organisation refers to {organisation.slug}.")


def _parts(keys: set[int] | tuple[()]) -> Iterator[list[int]]:
    ordered = sorted(keys)
    return (ordered[start : start + _AT_A_TIME] for start in range(0, len(ordered), _AT_A_TIME))


def _delete(model: type[Model], keys: set[int]) -> None:
    table, key = map(connection.ops.quote_name, (model._meta.db_table, model._meta.pk.column))
    with connection.cursor() as cursor:
        for some in _parts(keys):
            cursor.execute(f"DELETE FROM {table} WHERE {key} IN ({', '.join(['%s'] * len(some))})", some)
