"""What the form of a new batch starts with, and what it warns of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext

from farmbuild.hoops.batches.bridge import (
    BendRecipe,
    batch_problems,
    batch_warnings,
    bend_of,
    own_spring_in,
    unknown_set,
)
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.batches.selectors import fits_bender, with_shared
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.selectors import benders_for_tube, measured_radius_of
from farmbuild.hoops.recipes.bridge import bend_recipe_of
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure.usual import TRIAL_TOLERANCE
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import hoop_count
from farmbuild.sites.models import House
from farmbuild.sites.selectors import houses_of


def houses_for(*, organisation: Organisation, recipe: Recipe, first: House | None) -> list[House]:
    """Houses that use the recipe and still want hoops, the one asked for at the head."""
    rows = with_shared(houses_of(organisation=organisation).filter(recipe=recipe))
    wanting = [house for house in rows if house.hoops_shared < hoop_count(house) or house == first]
    return sorted(wanting, key=lambda house: house != first)


def only_bender_for(recipe: Recipe) -> Bender | None:
    """The one bender in use that is said to fit the tube of the recipe; None where there are several, or none."""
    fitting = benders_for_tube(organisation=recipe.organisation, tube=recipe.tube)[:2]
    return fitting[0] if len(fitting) == 1 else None


def first_values(recipe: Recipe, houses: Sequence[House], house: House | None) -> dict[str, Any]:
    """From the house asked for; without one, its bender and the usual spring-in alone."""
    bender = recipe.bender if recipe.bender and recipe.bender.archived_at is None else only_bender_for(recipe)
    units = recipe.organisation.unit_system
    values: dict[str, Any] = {"bender": bender, "span_tolerance": TRIAL_TOLERANCE.of(units)}
    if house is None and len({row.post_span for row in houses}) == 1:
        values["post_span"] = houses[0].post_span
    if house is not None:
        shared = next((row.hoops_shared for row in houses if row == house), 0)
        values |= {"post_span": house.post_span, "quantity": max(1, hoop_count(house) - shared)}
        if house in houses:
            values[f"share_{house.slug}"] = values["quantity"]
    if "post_span" in values:
        values["spring_in"] = own_spring_in(recipe, values["post_span"])
    return values


def first_bent(batch: HoopBatch, in_hand: int) -> dict[str, Any]:
    """As many hoops as are left and as the sticks in hand make."""
    return {"hoops": min(batch.hoops_left, in_hand) or ""}


def warnings_of(batch: HoopBatch) -> list[tuple[str, str]]:
    """Of a batch that is made, as it keeps its recipe."""
    names = ("bender", "post_span", "spring_in", "span_tolerance")
    bend = bend_of(batch)
    found = batch_warnings_of(batch.recipe, {name: getattr(batch, name) for name in names}, bend)
    return found + unknown_set(batch.recipe, bend, batch.spring_in)


def batch_warnings_of(recipe: Recipe, data: Mapping[str, Any], bend: BendRecipe | None = None) -> list[tuple[str, str]]:
    """Of sizes given so far: bender, post_span, spring_in and span_tolerance; none while one is missing.

    ``bend``: the recipe as a batch keeps it.
    """
    bender, post_span, spring_in = (data.get(name) for name in ("bender", "post_span", "spring_in"))
    tolerance = data.get("span_tolerance")
    if not bender or post_span is None or spring_in is None or tolerance is None:
        return []
    if batch_problems(recipe, post_span, spring_in):
        return []
    found = (
        []
        if fits_bender(bender=bender, tube=recipe.tube)
        else [
            (
                gettext("Another tube"),
                gettext("%(tube)s is not among the tubes that %(bender)s is said to fit.")
                % {"tube": recipe.tube, "bender": bender},
            )
        ]
    )
    measured = measured_radius_of(bender=bender, tube_id=recipe.tube_id)
    return found + batch_warnings(
        recipe, bend or bend_recipe_of(recipe), bender, measured, post_span, spring_in, tolerance
    )
