"""Which benders and sticks make a hoop for a span, the cheapest first: geometry and stress of each, nothing guessed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.mechanics import Hoop, bent_hoop, developed_length, hoop_over
from farmbuild.planning.house.shape import to_mm
from farmbuild.planning.house.spring import most_spring_in, section_of, springs_back
from farmbuild.planning.materials import Material

#: Sticks joined in one hoop at most.
MOST_STICKS = 6
#: Straight legs of a hoop at most, each, as a share of the span; longer ones belong on longer posts.
MOST_LEG = Decimal("0.25")


@dataclass(frozen=True)
class Bends:
    """A bender: its radius to the centreline, mm, and codes of the tubes that it fits; empty: any."""

    ref: str
    radius: Decimal
    tubes: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Stick:
    """A tube as it is sold; ``price`` of one stick, None where nobody offers it."""

    tube: Material
    length: Decimal
    price: Decimal | None


@dataclass(frozen=True)
class HoopWay:
    """A hoop that stands over the posts. ``inward``: how far it is sprung in; ``limit``: from how far it springs back,
    None where the tube's yield or sizes are not stated; mm. ``price``: of the sticks of one hoop."""

    bender: str
    tube: str
    length: Decimal
    sticks: int
    hoop: Hoop
    inward: Decimal
    limit: Decimal | None
    price: Decimal | None

    @property
    def rise(self) -> Decimal:
        """Free; sprung in it is higher."""
        return to_mm(self.hoop.rise)


def hoops_for_span(
    post_span: Decimal,
    benders: Iterable[Bends],
    sticks: Iterable[Stick],
    *,
    insertion: Decimal,
    least_rise: Decimal = Decimal(0),
    tightest: int = 10,
) -> list[HoopWay]:
    """All ways that hold, the cheapest first, those of unknown price last, and of equal price the least pipe first.

    The free hoop is no narrower than ``post_span`` and wider by no more than is allowed and than it springs back from;
    it is ``least_rise`` high or more; the bend is no tighter than ``tightest`` diameters of the tube. Sticks without a
    swage are not joined. The same input gives the same answer.
    """
    given = list(sticks)
    ways = [
        way
        for bender in benders
        for stick in given
        if not bender.tubes or stick.tube.code in bender.tubes
        if stick.tube.width is None or bender.radius >= tightest * stick.tube.width
        for way in _ways(post_span, bender, stick, insertion, least_rise)
    ]
    ways.sort(key=lambda way: (way.price is None, way.price or 0, way.hoop.developed, way.bender, way.tube, way.length))
    return ways


def on_any_radius(
    post_span: Decimal,
    sticks: Iterable[Stick],
    *,
    insertion: Decimal,
    least_rise: Decimal = Decimal(0),
    tightest: int = 10,
) -> HoopWay | None:
    """The cheapest hoop as wide as the posts if there were a bender for it, whose radius is that of the hoop.

    Of sticks with a price; None where none does.
    """
    ways = []
    for stick in sticks:
        for count in range(1, MOST_STICKS + 1 if stick.tube.swaged else 2):
            if stick.price is None or insertion >= stick.length:
                break
            developed = float(developed_length(count, stick.length, insertion))
            if developed <= post_span:
                continue
            hoop = hoop_over(developed, float(post_span))
            if to_mm(hoop.leg) > MOST_LEG * post_span:
                break
            tight = stick.tube.width is not None and to_mm(hoop.radius) < tightest * stick.tube.width
            if not tight and to_mm(hoop.rise) >= least_rise:
                limit = springs_back(hoop, section_of(stick.tube))
                price = stick.price * count
                ways.append(HoopWay("", stick.tube.code, stick.length, count, hoop, Decimal(0), limit, price))
    return min(ways, key=lambda way: (way.price, way.hoop.developed, way.tube, way.length), default=None)


def _ways(
    post_span: Decimal, bender: Bends, stick: Stick, insertion: Decimal, least_rise: Decimal
) -> Iterator[HoopWay]:
    if insertion >= stick.length:
        return
    for count in range(1, MOST_STICKS + 1 if stick.tube.swaged else 2):
        hoop = bent_hoop(float(developed_length(count, stick.length, insertion)), float(bender.radius))
        if to_mm(hoop.leg) > MOST_LEG * post_span:
            return
        inward = to_mm(hoop.span) - post_span
        limit = springs_back(hoop, section_of(stick.tube))
        most = most_spring_in(post_span) if limit is None else min(limit, most_spring_in(post_span))
        if 0 <= inward <= most and to_mm(hoop.rise) >= least_rise:
            price = None if stick.price is None else stick.price * count
            yield HoopWay(bender.ref, stick.tube.code, stick.length, count, hoop, inward, limit, price)
