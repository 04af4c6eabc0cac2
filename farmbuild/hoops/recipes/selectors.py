"""Reads of recipes."""

from decimal import Decimal

from django.db.models import Count, Min, QuerySet
from django.utils.translation import gettext

from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.orgs.models import Organisation


def recipes_of(*, organisation: Organisation) -> QuerySet[Recipe]:
    """Recipes that are not archived, with their tube loaded."""
    return Recipe.objects.of(organisation).filter(archived_at=None).select_related("tube", "sleeve_material")


def post_spans_of(*, recipe: Recipe) -> dict[Decimal, str]:
    """The spans of the houses in use that are built with it, mm, each with the house's name or how many they are."""
    rows = recipe.houses.filter(archived_at=None, site__archived_at=None).order_by("post_span")
    spans = rows.values("post_span").annotate(count=Count("pk"), name=Min("name"))
    return {
        row["post_span"]: row["name"]
        if row["count"] == 1
        else gettext("%(name)s and %(more)s more") % {"name": row["name"], "more": row["count"] - 1}
        for row in spans
    }


def any_recipe_of(*, organisation: Organisation) -> QuerySet[Recipe]:
    """Archived or not, with tube, bender, organisation and ``house_count``, the houses that use it."""
    rows = Recipe.objects.of(organisation).select_related("tube", "sleeve_material", "bender", "organisation")
    return rows.annotate(house_count=Count("houses")).order_by("name", "pk")


def recipes_on(*, bender: Bender) -> QuerySet[Recipe]:
    """Recipes in use that are bent on it, with their tube loaded."""
    rows = Recipe.objects.of(bender.organisation_id).filter(bender=bender, archived_at=None)
    return rows.select_related("tube", "sleeve_material", "organisation")
