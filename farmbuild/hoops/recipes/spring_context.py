"""How the hoop of a recipe fits between posts: spring-in, and the misuse of its bender."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext

from farmbuild.hoops.recipes.bridge import bend_recipe_of, spring_remarks
from farmbuild.hoops.recipes.forms import SpringForm
from farmbuild.hoops.recipes.misfits import bender_misfits
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.selectors import post_spans_of
from farmbuild.hoops.recipes.spring_figures import spring_figures, usual_inward


def spring_context(recipe: Recipe, free_span: Decimal, form: SpringForm) -> dict[str, Any]:
    """``misfits``; ``sets``, whose posts the hoop is sprung too far for; and ``spring`` with ``spring_for``, what it is
    worked for; no ``spring`` while ``form`` is wrong.

    ``recipe`` comes with tube, bender and organisation loaded and makes a hoop.
    """
    spans = post_spans_of(recipe=recipe)
    wanted = dict(spans)
    hoop = bend_recipe_of(recipe).hoop
    sets = [(whose, words) for span, whose in spans.items() for words in spring_remarks(recipe, hoop, free_span - span)]
    context: dict[str, Any] = {"spring": None, "spring_for": ""}
    if form.is_valid():
        inward = form.inward()
        context["spring"] = spring_figures(recipe, bend_recipe_of(recipe), inward)
        wanted[free_span - inward] = gettext("the posts asked for")
    elif not form.is_bound:
        inward, context["spring_for"] = usual_inward(recipe, spans, free_span)
        context["spring"] = spring_figures(recipe, bend_recipe_of(recipe), inward)
        if recipe.bender and not wanted:
            wanted[recipe.bender.rated_span] = gettext("the house it is sold for")
    return context | {"misfits": bender_misfits(recipe, wanted), "sets": sets}
