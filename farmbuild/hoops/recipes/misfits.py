"""Where the bender of a recipe is put to a use that it is not made for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial

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
        f"{bender.name} {'is rated for' if measured is None else 'was measured to make'} a radius of {text(radius)};"
        f" with these sticks and marks it makes a hoop {text(hoop.span)} wide."
    )
    found = []
    own, made = to_decimal(bend.hoop.span), to_decimal(hoop.span)
    off = made - own
    if abs(off) > CLOSE:
        rows = choices_for(sticks, radius, own, bend)
        words = (
            f"{makes} The recipe is worked for a radius of {text(recipe.radius)} and a hoop {text(own)} wide:"
            f" {text(abs(off))} {'less' if off > 0 else 'more'}. {needed_words(rows, own, units)}"
            " Or edit the recipe and take the bender's radius."
        )
        found.append(Misfit("Another radius", words, rows))
    for span, whose in post_spans.items():
        misses, words = span_words(made, span, spring_in, units, limit)
        if misses:
            rows = choices_for(sticks, radius, span + spring_in, bend)
            needed = needed_words(rows, span + spring_in, units)
            found.append(Misfit(f"Not the span of {whose}", f"{makes} {words} {needed}", rows))
    tubes = list(bender.tubes.all())
    if tubes and recipe.tube not in tubes:
        names = ", ".join(tube.name for tube in tubes)
        found.append(Misfit("Another tube", f"{bender.name} fits {names}; {recipe.tube.name} is not among them."))
    return found
