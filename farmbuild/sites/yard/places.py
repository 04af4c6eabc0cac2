"""Where the houses of a site stand: the plan with its words, and who stands too near to whom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext

from farmbuild.common.lengths import length_text
from farmbuild.common.speaking import said_list
from farmbuild.measure import FOOT_MM, Usual
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import hoop_count
from farmbuild.sites.models import House, Site
from farmbuild.sites.yard.bridge import MAX_PLACED, Neighbours, Rectangle, is_placed, neighbours_among, rectangle_of
from farmbuild.sites.yard.plan import OnPlan, SitePlan, below_the_base, box_of
from farmbuild.sites.yard.standing import Standing
from farmbuild.sites.yard.strips import Strip, draw_house

#: Between houses, where the site says no other: common practice, no source.
WALKWAY = Usual(3 * FOOT_MM, Decimal(900))
STAKE = gettext_noop("corner stake")
#: Of the length of the longest house: rounding, and how high a site may be in the yard.
_SAME, _HIGHEST = 1.000001, 1.0
#: Of the longest house, between those that are not placed.
_APART = 0.04


@dataclass(frozen=True)
class SitePlaces:
    """``numbers`` and ``places`` in words by the key of the house; ``too_near``: sentences; ``between``: of neighbours.

    ``turn_of_north``: degrees clockwise from the top of the page to north, None where that is not known.
    """

    svg: SafeString
    numbers: Mapping[int, int]
    placed: frozenset[int]
    places: Mapping[int, str]
    too_near: Sequence[str] = ()
    between: Sequence[str] = ()
    left_out: int = 0


def walkway_of(site: Site, units: str) -> Decimal:
    return WALKWAY.of(units) if site.walkway is None else site.walkway


def stake_of(site: Site) -> str:
    return site.corner_stake or gettext(STAKE)


def place_words(house: House, units: str) -> str:
    """Where it stands, "" where it is not placed."""
    if not is_placed(house):
        return ""
    turn = gettext(", ridge turned %(ridge_turn)s°") % {"ridge_turn": house.ridge_turn} if house.ridge_turn else ""
    return gettext("%(length)s along, %(far)s across%(turn)s") % {
        "length": length_text(house.along, units),
        "far": length_text(house.across, units),
        "turn": turn,
    }


def north_of(house: House) -> int | None:
    """Degrees clockwise from the top of its own plan, front at the left, to north; None where that is not known."""
    bearing = house.site.plan_bearing
    return None if bearing is None or not is_placed(house) else -(bearing + house.ridge_turn) % 360


def places_of(
    site: Site,
    houses: Sequence[House],
    *,
    organisation: Organisation,
    standings: Mapping[int, Standing],
    total: int,
    movable: bool = False,
) -> SitePlaces | None:
    """``houses`` in the order in which they are numbered, the first of ``total``.

    None where none is placed and none is to be moved.
    """
    placed = [house for house in houses if is_placed(house)]
    if not (placed or (movable and houses)):
        return None
    units, shown, left_out = organisation.unit_system, list(houses[:MAX_PLACED]), max(0, total - MAX_PLACED)
    numbers = {house.pk: number for number, house in enumerate(shown, 1)}
    standing = [house for house in shown if is_placed(house)]
    rectangles = [rectangle_of(house) for house in standing]
    walkway = walkway_of(site, units)
    pairs = neighbours_among(rectangles, near=float(walkway))
    rows = [
        _on_plan(house, numbers[house.pk], standings, units, rectangle)
        for house, rectangle in zip(standing, rectangles, strict=True)
    ]
    loose = [house for house in shown if not is_placed(house)]
    if loose:
        low = min([0.0, *(box_of(each.corners)[1] for each in rectangles)])
        apart = _APART * max(float(house.length) for house in shown)
        strip = below_the_base([(float(h.length), float(h.post_span)) for h in loose], low - 2 * apart, apart)
        rows += [_on_plan(h, numbers[h.pk], standings, units, where) for h, where in zip(loose, strip, strict=True)]
    told = [_between(pair, standing, units) for pair in pairs if pair.gap]
    drawing = SitePlan(
        rows,
        title=gettext("%(site)s in plan") % {"site": site.name},
        words=_description(site, standing, loose, told, units),
        units=units,
        stake=stake_of(site),
        bearing=site.plan_bearing,
        movable=movable,
    )
    drawing.dimensions(pairs)
    return SitePlaces(
        svg=drawing.svg(),
        numbers=numbers,
        placed=frozenset(house.pk for house in standing),
        places={house.pk: place_words(house, units) for house in standing},
        too_near=[_too_near(pair, standing, walkway, units) for pair in pairs if pair.too_near(float(walkway))],
        between=told,
        left_out=left_out,
    )


def _on_plan(house: House, number: int, standings: Mapping[int, Standing], units: str, rectangle: Rectangle) -> OnPlan:
    standing = standings.get(house.pk, Standing())
    where = place_words(house, units) or gettext("not placed")
    label = f"{number} {house.name}, {standing.state or gettext('no work recorded')}, {where}"
    return OnPlan(house, number, rectangle, standing, hoop_count(house), label, is_placed(house))


def _between(pair: Neighbours, houses: Sequence[House], units: str) -> str:
    return gettext("%(one)s to %(other)s: %(length)s") % {
        "one": houses[pair.one].name,
        "other": houses[pair.other].name,
        "length": length_text(pair.distance, units),
    }


def _too_near(pair: Neighbours, houses: Sequence[House], walkway: Decimal, units: str) -> str:
    one, other = houses[pair.one].name, houses[pair.other].name
    if pair.gap is None:
        return gettext("%(one)s and %(other)s lie over each other.") % {"one": one, "other": other}
    if not pair.distance:
        return gettext("%(one)s and %(other)s touch. The walkway is %(length)s.") % {
            "one": one,
            "other": other,
            "length": length_text(walkway, units),
        }
    apart = length_text(pair.distance, units)
    return gettext("%(one)s and %(other)s stand %(apart)s apart, less than the walkway of %(length)s.") % {
        "one": one,
        "other": other,
        "apart": apart,
        "length": length_text(walkway, units),
    }


def _description(
    site: Site, placed: Sequence[House], loose: Sequence[House], between: Sequence[str], units: str
) -> str:
    parts = [
        gettext("%(houses)s placed from the %(stake)s.")
        % {
            "houses": ngettext("%(counted)s house", "%(counted)s houses", len(placed)) % {"counted": len(placed)},
            "stake": stake_of(site),
        }
    ]
    parts += [f"{house.name}: {place_words(house, units)}." for house in placed]
    if between:
        parts.append(gettext("Free between neighbours, %(free)s.") % {"free": "; ".join(between)})
    if loose:
        parts.append(gettext("Not placed: %(houses)s.") % {"houses": ", ".join(house.name for house in loose)})
    if site.plan_bearing is not None:
        parts.append(gettext("The top lies at %(bearing)s degrees from north.") % {"bearing": site.plan_bearing})
    return " ".join(parts)


def placed_strip(site: Site, houses: Sequence[tuple[House, Standing]], *, longest: Decimal | None) -> SafeString | str:
    """Houses at their places at the scale of the yard, "" where one has none or they take more room than the yard."""
    if not (longest and houses and all(is_placed(house) for house, _ in houses)):
        return ""
    rectangles = [rectangle_of(house) for house, _ in houses]
    left, low, right, top = box_of([corner for each in rectangles for corner in each.corners])
    if right - left > float(longest) * _SAME or top - low > float(longest) * _HIGHEST:
        return ""
    names = [f"{number} {house.name}" for number, (house, _) in enumerate(houses, 1)]
    strip = Strip(
        longest,
        top - low,
        gettext("%(site)s in plan") % {"site": site.name},
        gettext("At their places: %(names)s.") % {"names": said_list(names)},
    )
    with strip.moved(-left, -low):
        for number, ((house, standing), place) in enumerate(zip(houses, rectangles, strict=True), 1):
            with strip.turned(place.x, place.y, place.turn):
                draw_house(strip, house, standing, hoops=hoop_count(house))
            strip.number(*place.middle, number)
        if site.plan_bearing is not None:
            strip.north(site.plan_bearing)
    return strip.svg()
