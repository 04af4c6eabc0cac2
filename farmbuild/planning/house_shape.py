"""Where the hoops, purlins and arc of one house stand: what the take-off counts and the drawings draw."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.planning.inputs import HouseSpec, Recipe

MICRO = Decimal("0.000001")


def ceil_ratio(a: Decimal, b: Decimal) -> int:
    """The least whole number of ``b`` that is at least ``a``; exact, both above 0."""
    whole, rest = divmod(a, b)
    return int(whole) + (1 if rest > 0 else 0)


def to_mm(value: float) -> Decimal:
    """A worked length to six places of a millimetre, so that the last bit of a float never shows."""
    return Decimal(repr(round(value, 6))).quantize(MICRO)


def developed_length(recipe: Recipe) -> Decimal:
    """Length of the joined pipe along its centreline, mm: n sticks less n - 1 insertions."""
    return recipe.sticks * recipe.stick_length - (recipe.sticks - 1) * recipe.insertion


@dataclass(frozen=True)
class Arc:
    """A hoop as it stands: a circular arc with upright straight legs, symmetrical, lengths in mm.

    ``half_angle`` in radians. Heights are from the hoop's ends.
    """

    radius: Decimal
    half_angle: float
    leg: Decimal
    span: Decimal
    rise: Decimal

    def height_at(self, x: Decimal) -> Decimal:
        """Height of the centreline above the hoop's ends at ``x`` from the middle; 0 outside the span."""
        r, off = float(self.radius), abs(float(x))
        if off > float(self.span) / 2:
            return Decimal(0)
        centre = float(self.rise) - r
        return max(Decimal(0), to_mm(centre + math.sqrt(max(0.0, r * r - off * off))))

    def point_at(self, along: Decimal, developed: Decimal) -> tuple[Decimal, Decimal]:
        """(x from the middle, height above the ends) of the point ``along`` the pipe from the left end."""
        leg = float(self.leg)
        s, d = float(along), float(developed)
        half = float(self.span) / 2
        if s < leg:
            return to_mm(-half), to_mm(s)
        if d - s < leg:
            return to_mm(half), to_mm(d - s)
        turn = (s - d / 2) / float(self.radius)
        r = float(self.radius)
        return to_mm(r * math.sin(turn)), to_mm(float(self.rise) - r + r * math.cos(turn))


def _bent(developed: float, radius: float) -> Arc:
    if developed <= math.pi * radius:
        a = developed / (2 * radius)
        leg, span, rise = 0.0, 2 * radius * math.sin(a), radius * (1 - math.cos(a))
    else:
        a = math.pi / 2
        leg = (developed - math.pi * radius) / 2
        span, rise = 2 * radius, radius + leg
    return Arc(to_mm(radius), a, to_mm(leg), to_mm(span), to_mm(rise))


def free_arc(recipe: Recipe) -> Arc:
    """The hoop standing unloaded, as the bender leaves it."""
    return _bent(float(developed_length(recipe)), float(recipe.radius))


def arc_over(developed: Decimal, span: Decimal) -> Arc:
    """The arc of that length over that span: how the hoop stands once its ends are set.

    Raises ValueError when the pipe is no longer than the span.
    """
    d, c = float(developed), float(span)
    if not 0 < c < d:
        raise ValueError("the pipe has to be longer than the span")
    if c / d <= 2 / math.pi:
        return _bent(d, c / 2)
    low, high = 0.0, math.pi / 2
    for _ in range(200):
        mid = (low + high) / 2
        if mid in (low, high):
            break
        if math.sin(mid) / mid > c / d:
            low = mid
        else:
            high = mid
    return _bent(d, d / (2 * high))


@dataclass(frozen=True)
class PurlinPlace:
    """One purlin in section: x from the middle (left is negative) and height above the ground, mm."""

    name: str
    x: Decimal
    height: Decimal


@dataclass(frozen=True)
class HouseShape:
    """Lengths in mm. ``hoop_positions`` run along the house from the front hoop at 0."""

    span: Decimal
    length: Decimal
    hoops: int
    bays: int
    spacing: Decimal
    hoop_positions: tuple[Decimal, ...]
    developed: Decimal
    free_span: Decimal
    free_rise: Decimal
    arc: Arc
    post_above: Decimal
    post_depth: Decimal
    ridge_height: Decimal
    purlins: tuple[PurlinPlace, ...]

    @property
    def rise(self) -> Decimal:
        """Of the hoop as set, from its ends to the crown."""
        return self.arc.rise

    @property
    def spring_in(self) -> Decimal:
        return self.free_span - self.span

    def height_at(self, x: Decimal) -> Decimal:
        """Height of the hoop's centreline above the ground at ``x`` from the middle of the house."""
        return self.post_above + self.arc.height_at(x)

    def run(self, bays: int) -> Decimal:
        """Length of so many bays, worked from the whole house so that no rounding adds up."""
        return (self.length * bays / self.bays).quantize(MICRO)


def house_shape(spec: HouseSpec) -> HouseShape:
    """Work out the shape of a house that passes ``check_spec``.

    Hoops: ceil(length / spacing wanted) bays and one more hoop, spaced evenly. The hoop as set is drawn as
    the circular arc of its developed length over the post span; a sprung hoop differs from that by little.
    """
    bays = max(1, ceil_ratio(spec.length, spec.spacing_wanted))
    developed = developed_length(spec.recipe)
    free = free_arc(spec.recipe)
    arc = arc_over(developed, spec.post_span)
    above = spec.post_length - spec.post_depth if spec.post_material else Decimal(0)
    places = [("ridge", developed / 2)] if spec.ridge_purlins and spec.purlin_material else []
    if spec.purlin_material:
        each = spec.side_purlins // 2
        for k in range(1, each + 1):
            along = developed / 2 * k / (each + 1)
            places += [("side", along), ("side", developed - along)]
    purlins = []
    for name, along in places:
        x, height = arc.point_at(along, developed)
        purlins.append(PurlinPlace(name, x, above + height))
    return HouseShape(
        span=spec.post_span,
        length=spec.length,
        hoops=bays + 1,
        bays=bays,
        spacing=(spec.length / bays).quantize(MICRO),
        hoop_positions=tuple((spec.length * i / bays).quantize(MICRO) for i in range(bays + 1)),
        developed=developed,
        free_span=free.span,
        free_rise=free.rise,
        arc=arc,
        post_above=above,
        post_depth=spec.post_depth if spec.post_material else Decimal(0),
        ridge_height=above + arc.rise,
        purlins=tuple(purlins),
    )
