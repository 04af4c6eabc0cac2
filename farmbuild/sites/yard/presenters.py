"""What the yard shows: strips of houses by site, their scale, and the next step of the season."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import groupby
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.lengths import length_text
from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import FOOT_MM, UnitSystem
from farmbuild.orgs.answers.kept import Answers
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import hoop_count
from farmbuild.sites.models import House, Site
from farmbuild.sites.selectors import house_summary
from farmbuild.sites.yard.bridge import MAX_PLACED
from farmbuild.sites.yard.places import SitePlaces, north_of, placed_strip, places_of
from farmbuild.sites.yard.standing import NextStep, Standing, next_steps_of, standings_of
from farmbuild.sites.yard.strips import WIDTH, house_strip

#: Houses on one page of the yard, and on the page of a site.
ROWS = 25
#: Lengths that a scale bar may have, the longest that takes at most this share of the longest house.
_BARS = {UnitSystem.IMPERIAL: [n * FOOT_MM for n in (2, 5, 10, 20, 50, 100)],
         UnitSystem.METRIC: [Decimal(n * 1000) for n in (1, 2, 5, 10, 20, 50)]}  # fmt: skip
_BAR_SHARE = 3


@dataclass(frozen=True)
class Plan:
    """One house. ``label`` is read out for its link; ``svg`` is empty where it is drawn at its place on the site, as
    ``number``; ``north``: degrees clockwise from the top of its drawing, None where that is not known.
    """

    house: House
    standing: Standing
    size: str
    label: str
    svg: SafeString | str
    number: int = 0
    where: str = ""
    north: int | None = None


@dataclass(frozen=True)
class SiteStrip:
    """``together``: its houses at their places, where all have one and that fits the scale of the yard."""

    site: Site
    plans: list[Plan]
    together: SafeString | str = ""


@dataclass(frozen=True)
class ScaleBar:
    """``length`` in words; ``percent`` of the width of a strip."""

    length: str
    percent: str


@dataclass(frozen=True)
class Yard:
    """``places``: on the page of a site, its houses at their places; ``whole``: no house is left out of the rows."""

    strips: list[SiteStrip]
    scale: ScaleBar | None
    places: SitePlaces | None = None
    whole: bool = True


@dataclass(frozen=True)
class YardPage:
    """``summary`` as ``house_summary`` gives it; ``markup`` of the yard; ``page``: which, of numbers in the place of
    houses; ``steps``: the next two of the season, or none.
    """

    summary: dict[str, Any]
    markup: SafeString
    page: Page
    steps: Sequence[NextStep] = ()


def yard_of(
    houses: Sequence[House],
    *,
    organisation: Organisation,
    longest: Decimal | None,
    cut: tuple[bool, bool] = (False, False),
) -> Yard:
    """``houses`` in the order of their sites; ``longest`` fills the width.

    ``cut``: whether more houses of the first site may come before them, and of the last one after them.
    """
    standings = standings_of(organisation=organisation, houses=houses) if houses else {}
    plans = [_plan(house, standings.get(house.pk, Standing()), organisation, longest) for house in houses]
    groups = [(site, list(rows)) for site, rows in groupby(plans, key=lambda plan: plan.house.site)]
    strips = []
    for at, (site, rows) in enumerate(groups):
        whole = not (at == 0 and cut[0]) and not (at == len(groups) - 1 and cut[1])
        strips.append(_strip(site, rows, longest) if whole else SiteStrip(site, rows))
    return Yard(strips, _scale_bar(longest, organisation) if houses else None)


def site_yard(site: Site, houses: QuerySet[House], *, organisation: Organisation, longest: Decimal | None) -> Yard:
    """The houses of one site: all at their places, and a row each for the first of them."""
    shown, total = list(houses[:MAX_PLACED]), houses.count()
    standings = standings_of(organisation=organisation, houses=shown) if shown else {}
    plans = [_plan(house, standings.get(house.pk, Standing()), organisation, longest) for house in shown[:ROWS]]
    places = places_of(site, shown, organisation=organisation, standings=standings, total=total)
    if places:
        plans = [
            replace(plan, number=places.numbers[plan.house.pk], where=places.places.get(plan.house.pk, ""), svg="")
            for plan in plans
        ]
    strips, bar = [SiteStrip(site, plans)] if plans else [], _scale_bar(longest, organisation)
    return Yard(strips, bar if plans and not places else None, places, whole=total <= ROWS)


def _strip(site: Site, plans: list[Plan], longest: Decimal | None) -> SiteStrip:
    together = placed_strip(site, [(plan.house, plan.standing) for plan in plans], longest=longest)
    if together:
        plans = [replace(plan, svg="", number=at) for at, plan in enumerate(plans, 1)]
    return SiteStrip(site, plans, together)


def yard_page(answers: Answers, houses: QuerySet[House], *, number: str | None, ahead: bool) -> YardPage:
    """``ahead``: whether the next step of the season belongs to it. What is late or old is told by the clock."""
    asked = answers.request.GET.urlencode()
    return answers.get("yard", lambda: _yard_page(answers, houses, number, ahead=ahead), asked, answers.minute)


def _yard_page(answers: Answers, houses: QuerySet[House], number: str | None, *, ahead: bool) -> YardPage:
    organisation = answers.organisation
    summary = house_summary(houses, today=today_of(organisation=organisation))
    page = Paginator(houses.order_by("site__name", "site", "need_date", "name", "pk"), ROWS).get_page(number)
    cut = (page.has_previous(), page.has_next())
    yard = yard_of(list(page), organisation=organisation, longest=summary["longest"], cut=cut)
    return YardPage(
        summary,
        answers.shown("sites/yard.html", yard=yard),
        Paginator(range(page.paginator.count), ROWS).get_page(page.number),
        next_steps_of(organisation=organisation)[:2] if ahead else (),
    )


def _plan(house: House, standing: Standing, organisation: Organisation, longest: Decimal | None) -> Plan:
    units = organisation.unit_system
    size = f"{length_text(house.post_span, units)} × {length_text(house.length, units)}"
    hoops = hoop_count(house)
    label = gettext("%(house)s, %(size)s, %(state)s, materials needed by %(day)s") % {
        "house": house.name,
        "size": size,
        "state": standing.state or gettext("no work recorded"),
        "day": day(house.need_date),
    }
    says = standing.says or gettext("No work is recorded.")
    words = f"{size}, {said_count(hoops, 'hoop')}. {says}"
    svg = house_strip(house, standing, hoops=hoops, longest=longest or house.length, words=words)
    return Plan(house, standing, size, label, svg, north=north_of(house))


def _scale_bar(longest: Decimal | None, organisation: Organisation) -> ScaleBar | None:
    bars = _BARS[UnitSystem(organisation.unit_system)]
    if not longest or longest < bars[0]:
        return None
    bar = max([bars[0], *(bar for bar in bars if bar * _BAR_SHARE <= longest)])
    share = float(bar / longest) * WIDTH / (WIDTH + 2)
    return ScaleBar(length_text(bar, organisation.unit_system), f"{round(100 * share, 2)}%")
