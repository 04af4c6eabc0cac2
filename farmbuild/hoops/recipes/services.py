"""Writes of recipes: one transaction a user action, checked before anything is stored."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext, ngettext

from farmbuild.common.fields import usual_lengths
from farmbuild.common.slugs import free_slug
from farmbuild.hoops.recipes.bridge import recipe_problems
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User

#: Last parts of addresses that pages of this app use.
RESERVED = frozenset({"new", "benders", "batches", "fits"})
FIELDS = (
    "name",
    "tube",
    "stick_length",
    "sticks",
    "joint",
    "insertion",
    "sleeve_material",
    "sleeve_length",
    "sleeve_screws",
    "bender",
    "radius",
    "first_mark",
    "pitch",
    "stop_gap",
    "lever_length",
)


#: What the hoops of a batch were bent by; the rest of a recipe may change later.
BENT_BY = (
    "tube",
    "stick_length",
    "sticks",
    "joint",
    "insertion",
    "sleeve_material",
    "sleeve_length",
    "radius",
    "first_mark",
    "pitch",
)


def _store(recipe: Recipe) -> None:
    recipe.clean_fields()
    if recipe.tube.organisation_id != recipe.organisation_id:
        raise ValidationError({"tube": gettext("Choose one from the list.")})
    if recipe.sleeve_material and recipe.sleeve_material.organisation_id != recipe.organisation_id:
        raise ValidationError({"sleeve_material": gettext("Choose one from the list.")})
    if recipe.bender and recipe.bender.organisation_id != recipe.organisation_id:
        raise ValidationError({"bender": gettext("Choose one from the list.")})
    if problems := recipe_problems(recipe):
        raise ValidationError(problems)
    recipe.full_clean()
    recipe.save()


@needs(Act.HOUSES)
@transaction.atomic
def create_recipe(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> Recipe:
    """``data`` holds fields of Recipe, and ``slug`` where the address has a name; marks, stop gap and lever that it
    does not say are the usual ones. Raises ValidationError by field."""
    organisation = Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    slug = free_slug(
        data.get("slug") or data["name"],
        taken_in=Recipe.objects.of(organisation),
        fallback="hoop",
        reserved=RESERVED,
    )
    given = usual_lengths(Recipe, organisation.unit_system) | {name: data[name] for name in FIELDS if name in data}
    recipe = Recipe(organisation=organisation, slug=slug, **given)
    _store(recipe)
    return recipe


@needs(Act.HOUSES)
@transaction.atomic
def save_recipe(*, organisation: Organisation, user: User, recipe: Recipe, data: Mapping[str, Any]) -> Recipe:
    """The address stays. Raises ValidationError by field; nothing is stored then."""
    current = Recipe.objects.of(organisation).select_for_update().get(pk=recipe.pk)
    changed = [name for name in FIELDS if name in data and getattr(current, name) != data[name]]
    fixed = [name for name in changed if name in BENT_BY]
    if fixed and (batch := current.batches.first()):
        raise ValidationError(
            dict.fromkeys(
                fixed,
                gettext("%(batch)s is bent by this recipe, so this stays. Add a new recipe for other hoops.")
                % {"batch": batch},
            )
        )
    for name in changed:
        setattr(current, name, data[name])
    _store(current)
    return current


@needs(Act.HOUSES)
@transaction.atomic
def archive_recipe(*, organisation: Organisation, user: User, recipe: Recipe) -> None:
    """Houses that use it keep it; new houses are not offered it."""
    Recipe.objects.of(organisation).filter(pk=recipe.pk, archived_at=None).update(archived_at=timezone.now())


@needs(Act.HOUSES)
@transaction.atomic
def bring_back_recipe(*, organisation: Organisation, user: User, recipe: Recipe) -> None:
    Recipe.objects.of(organisation).filter(pk=recipe.pk).update(archived_at=None)


@needs(Act.HOUSES)
@transaction.atomic
def delete_recipe(*, organisation: Organisation, user: User, recipe: Recipe) -> None:
    """Only while no house and no batch uses it; raises ValidationError otherwise."""
    current = Recipe.objects.of(organisation).select_for_update().get(pk=recipe.pk)
    if count := current.houses.count():
        raise ValidationError(
            ngettext(
                "%(recipe)s is used by %(count)s house, archived ones included. Archive the recipe instead.",
                "%(recipe)s is used by %(count)s houses, archived ones included. Archive the recipe instead.",
                count,
            )
            % {"recipe": current.name, "count": count}
        )
    if batch := current.batches.first():
        raise ValidationError(
            gettext("%(batch)s was bent by %(current_name)s, which is kept for that. Leave it archived.")
            % {"batch": batch, "current_name": current.name}
        )
    current.delete()
