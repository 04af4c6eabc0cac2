"""Where the hoops and the arc of one house stand: what the take-off counts and the drawings draw."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from farmbuild.mechanics import BendRecipe, Hoop, developed_length, hoop_over
from farmbuild.planning.house.spec import HouseSpec, Recipe

MICRO = Decimal("0.000001")


def ceil_ratio(a: Decimal, b: Decimal) -> int:
    """The least whole number of ``b`` that is at least ``a``; exact, both above 0."""
    whole, rest = divmod(a, b)
    return int(whole) + (1 if rest > 0 else 0)


def bays_in(length: Decimal, spacing_wanted: Decimal) -> int:
    """The fewest equal bays no longer than the spacing wanted; a house has one hoop more than bays."""
    return max(1, ceil_ratio(length, spacing_wanted))


def to_mm(value: float) -> Decimal:
    """A worked length to six places of a millimetre, so that the last bit of a float never shows."""
    return Decimal(repr(round(value, 6))).quantize(MICRO)


def recipe_length(recipe: Recipe) -> Decimal:
    """Length of a recipe's joined pipe along its centreline, mm."""
    return developed_length(recipe.sticks, recipe.stick_length, recipe.insertion)


def bend_recipe(recipe: Recipe) -> BendRecipe:
    """Marks and pulls of a recipe that passes ``check_recipe``; raises GeometryError for another."""
    return BendRecipe(
        stick_length=recipe.stick_length,
        sticks=recipe.sticks,
        insertion=recipe.insertion,
        radius=recipe.radius,
        first_mark=recipe.first_mark,
        pitch=recipe.pitch,
        stop_gap=recipe.stop_gap,
        sleeve=recipe.sleeve_length if recipe.sleeved else Decimal(0),
    )


def free_span(recipe: Recipe) -> Decimal:
    """Between the ends of the hoop standing unloaded, as its pulls leave it, mm."""
    return to_mm(bend_recipe(recipe).hoop.span)


@dataclass(frozen=True)
class HouseShape:
    """Lengths in mm. ``hoop_positions`` run along the house from the front hoop at 0.

    ``arc`` is the hoop as set, in floats; its x runs from the middle of the house, its y from the hoop's ends, which
    stand ``socket_depth`` below the tops of the posts.
    """

    span: Decimal
    length: Decimal
    hoops: int
    bays: int
    spacing: Decimal
    hoop_positions: tuple[Decimal, ...]
    developed: Decimal
    free_span: Decimal
    free_rise: Decimal
    arc: Hoop
    post_above: Decimal
    post_depth: Decimal
    socket_depth: Decimal
    ridge_height: Decimal

    @property
    def foot_height(self) -> Decimal:
        """Of the hoop's ends, above the ground."""
        return self.post_above - self.socket_depth

    @property
    def rise(self) -> Decimal:
        """Of the hoop as set, from its ends to the crown."""
        return to_mm(self.arc.rise)

    @property
    def spring_in(self) -> Decimal:
        return self.free_span - self.span

    def height_at(self, x: Decimal) -> Decimal:
        """Height of the hoop's centreline above the ground at ``x`` from the middle of the house."""
        return self.foot_height + to_mm(self.arc.height_at(float(x)))

    def run(self, bays: int) -> Decimal:
        """Length of so many bays, worked from the whole house so that no rounding adds up."""
        return (self.length * bays / self.bays).quantize(MICRO)


def house_shape(spec: HouseSpec) -> HouseShape:
    """Work out the shape of a house that passes ``check_spec``.

    Hoops: ceil(length / spacing wanted) bays and one more hoop, spaced evenly. The hoop as set is drawn as
    the circular arc of its developed length over the post span; a sprung hoop differs from that by little.
    """
    bays = bays_in(spec.length, spec.spacing_wanted)
    developed = recipe_length(spec.recipe)
    free = bend_recipe(spec.recipe).hoop
    arc = hoop_over(float(developed), float(spec.post_span))
    above = spec.post_length - spec.post_depth if spec.post_material else Decimal(0)
    socket = spec.post_socket_depth if spec.post_material else Decimal(0)
    return HouseShape(
        span=spec.post_span,
        length=spec.length,
        hoops=bays + 1,
        bays=bays,
        spacing=(spec.length / bays).quantize(MICRO),
        hoop_positions=tuple((spec.length * i / bays).quantize(MICRO) for i in range(bays + 1)),
        developed=developed,
        free_span=to_mm(free.span),
        free_rise=to_mm(free.rise),
        arc=arc,
        post_above=above,
        post_depth=spec.post_depth if spec.post_material else Decimal(0),
        socket_depth=socket,
        ridge_height=above - socket + to_mm(arc.rise),
    )
