"""Reads of recipes."""

from django.db.models import Count, QuerySet

from farmbuild.hoops.models import Recipe
from farmbuild.orgs.models import Organisation


def recipes_of(*, organisation: Organisation) -> QuerySet[Recipe]:
    """Recipes that are not archived, with their tube loaded."""
    return Recipe.objects.of(organisation).filter(archived_at=None).select_related("tube")


def any_recipe_of(*, organisation: Organisation) -> QuerySet[Recipe]:
    """Archived or not, with the tube and ``house_count``, the houses that use it."""
    rows = Recipe.objects.of(organisation).select_related("tube")
    return rows.annotate(house_count=Count("houses")).order_by("name", "pk")
