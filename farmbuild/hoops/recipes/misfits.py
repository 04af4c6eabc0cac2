"""Where the bender of a recipe is put to a use that it is not made for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial

from django.utils.translation import gettext

from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.hoops.benders.bridge import springs_back
from farmbuild.hoops.benders.made_hoops import CLOSE, Choice, Sticks, choices_for, needed_words, span_words
from farmbuild.hoops.benders.selectors import measured_radius_of
from farmbuild.hoops.recipes.bridge import bend_recipe_of, sleeved, wanted_spring_in
from farmbuild.hoops.recipes.models import Recipe


@dataclass(frozen=True)
class Misfit:
    """A bender put to a use that it is not made for."""

    title: str
    words: str
    choices: list[Choice] = field(default_factory=list)


def bender_misfits(recipe: Recipe, post_spans: Mapping[Decimal, str]) -> list[Misfit]:
    """Where the recipe's bender does not make the recipe's hoop, or a span that is asked of it.

    ``post_spans``: each span in mm and whose it is, in words. ``recipe`` comes with bender, tube and organisation
    loaded and makes a hoop.
    """
    bender = recipe.bender
    if bender is None:
        return []
    units = recipe.organisation.unit_system
    text = partial(length_text, units=units)
    measured = measured_radius_of(bender=bender, tube_id=recipe.tube_id)
    radius = bender.rated_radius if measured is None else measured
    by_sleeve = sleeved(recipe)
    sticks = Sticks(
        recipe.sticks, recipe.stick_length, recipe.insertion, by_sleeve or recipe.tube.swaged, sleeved=by_sleeve
    )
    bend = bend_recipe_of(recipe)
    hoop = bend.hoop_on(float(radius))
    spring_in, limit = wanted_spring_in(recipe), springs_back(hoop, recipe.tube)
    makes = (
        gettext(
            "%(bender)s is rated for a radius of %(radius)s; with these sticks and marks it makes a hoop %(span)s wide."
        )
        if measured is None
        else gettext(
            "%(bender)s was measured to make a radius of %(radius)s; with these sticks and marks it makes a hoop"
            " %(span)s wide."
        )
    ) % {"bender": bender.name, "radius": text(radius), "span": text(hoop.span)}
    found = []
    own, made = to_decimal(bend.hoop.span), to_decimal(hoop.span)
    off = made - own
    if abs(off) > CLOSE:
        rows = choices_for(sticks, radius, own, bend)
        worked = (
            gettext("The recipe is worked for a radius of %(radius)s and a hoop %(span)s wide: %(off)s less.")
            if off > 0
            else gettext("The recipe is worked for a radius of %(radius)s and a hoop %(span)s wide: %(off)s more.")
        ) % {"radius": text(recipe.radius), "span": text(own), "off": text(abs(off))}
        edit = gettext("Or edit the recipe and take the bender's radius.")
        words = f"{makes} {worked} {needed_words(rows, own, units)} {edit}"
        found.append(Misfit(gettext("Another radius"), words, rows))
    for span, whose in post_spans.items():
        misses, words = span_words(made, span, spring_in, units, limit)
        if misses:
            rows = choices_for(sticks, radius, span + spring_in, bend)
            needed = needed_words(rows, span + spring_in, units)
            found.append(
                Misfit(gettext("Not the span of %(whose)s") % {"whose": whose}, f"{makes} {words} {needed}", rows)
            )
    tubes = list(bender.tubes.all())
    if tubes and recipe.tube not in tubes:
        names = ", ".join(tube.name for tube in tubes)
        found.append(
            Misfit(
                gettext("Another tube"),
                gettext("%(bender)s fits %(names)s; %(tube)s is not among them.")
                % {"bender": bender.name, "names": names, "tube": recipe.tube.name},
            )
        )
    return found
