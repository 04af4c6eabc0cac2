"""What the crew must know where it does the work, with the numbers of its house (common practice, no source)."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.measure import UnitSystem, format_length
from farmbuild.measure.speech import sentence
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.shape import HouseShape
from farmbuild.planning.house.spec import Joint, Recipe

#: Joining, setting and sighting follow each other on the same hoops, and what spoils one spoils the next.
WITH_HOOPS = frozenset({WorkKind.JOIN, WorkKind.SET, WorkKind.SIGHT})


def to_know(kind: WorkKind, shape: HouseShape, *, joined: bool, units: UnitSystem, sleeve: str = "") -> tuple[str, ...]:
    """Sentences for the crew; none for a kind that has none.

    ``joined``: a hoop is of more than one stick; ``sleeve``: how a sleeve joins them, where one does.
    """
    if kind not in WITH_HOOPS:
        return ()
    return (
        *((sleeve,) if sleeve and kind is WorkKind.JOIN else ()),
        *((sentence("Screw each joint at its side, never on top, where it would tear the film."),) if joined else ()),
        _width(shape, units),
        sentence("Do not drive hoops home until the ridge is sighted."),
        sentence("Three people sight: one along the ridge, one at each post."),
    )


def sleeve_words(recipe: Recipe, units: UnitSystem) -> str:
    """How a sleeve is slid on; empty where none joins the sticks."""
    if not recipe.sleeved:
        return ""
    half, whole = (format_length(length, units) for length in (recipe.sleeve_length / 2, recipe.sleeve_length))
    if recipe.joint is Joint.INNER:
        return sentence(
            "Each joint has a sleeve of %(whole)s: slide %(half)s into one stick, then butt the next against it.",
            whole=whole,
            half=half,
        )
    return sentence(
        "Each joint has a sleeve of %(whole)s: slide %(half)s over one stick, then butt the next against it.",
        whole=whole,
        half=half,
    )


def _width(shape: HouseShape, units: UnitSystem) -> str:
    """How wide the hoop is before it is sprung in; it would lie as wide on the ground."""

    def say(length: Decimal) -> str:
        return format_length(length, units)

    more = shape.spring_in
    if say(abs(more)) == say(Decimal(0)):
        return sentence("The free hoop stands %(free)s wide, as wide as its posts.", free=say(shape.free_span))
    if more < 0:
        return sentence(
            "The free hoop stands %(less)s narrower than its posts: pull it out from %(free)s.",
            less=say(-more),
            free=say(shape.free_span),
        )
    return sentence(
        "The free hoop stands %(more)s wider than its posts: %(free)s against %(span)s.",
        more=say(more),
        free=say(shape.free_span),
        span=say(shape.span),
    )
