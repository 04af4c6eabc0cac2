"""Reads of sites and houses."""

from collections.abc import Collection, Sequence
from datetime import date
from typing import Any

from django.db.models import Count, Max, Min, Q, QuerySet

from farmbuild.common.compiled import compiled_once
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House, HouseOwnRow, Site


def sites_of(*, organisation: Organisation) -> QuerySet[Site]:
    """Sites that are not archived."""
    return Site.objects.of(organisation).filter(archived_at=None)


def houses_of(*, organisation: Organisation) -> QuerySet[House]:
    """Houses that are not archived, on sites that are not archived, with site and recipe loaded."""
    return (
        House.objects.of(organisation)
        .filter(archived_at=None, site__archived_at=None)
        .select_related("site", "recipe__tube", "recipe__sleeve_material")
    )


def sites_with_houses(*, organisation: Organisation) -> QuerySet[Site]:
    """Sites in use on which houses in use stand."""
    return sites_of(organisation=organisation).filter(houses__archived_at=None, houses__isnull=False).distinct()


def houses_asked(houses: QuerySet[House], *, site: str | None = None, house: str | None = None) -> QuerySet[House]:
    """Those on the site of that slug, else the one of that slug, else all."""
    if site:
        return houses.filter(site__slug=site)
    return houses.filter(slug=house) if house else houses


def houses_with_materials(*, organisation: Organisation) -> QuerySet[House]:
    """The same houses with every material loaded, for planning."""
    rows = House.objects.of(organisation).filter(archived_at=None, site__archived_at=None)
    return rows.with_materials()


def archived_houses_of(*, organisation: Organisation) -> QuerySet[House]:
    """Houses that are archived or stand on an archived site."""
    return (
        House.objects.of(organisation)
        .exclude(archived_at=None, site__archived_at=None)
        .select_related("site", "recipe__tube", "recipe__sleeve_material")
    )


def any_house_of(*, organisation: Organisation) -> QuerySet[House]:
    """Archived or not, with all that a house page needs."""
    return House.objects.of(organisation).select_related("saved_by", "organisation").with_materials()


@compiled_once
def _house_named(organisation: int, slug: str) -> QuerySet[House]:
    rows = House.objects.filter(organisation_id=organisation, slug=slug)
    return rows.select_related("saved_by", "organisation").with_materials()


def house_named(*, organisation: Organisation, slug: str) -> House | None:
    """One of ``any_house_of``, archived or not, for its pages; None where none is called so."""
    return next(iter(_house_named(organisation.pk, slug)), None)


@compiled_once
def _house_alone(organisation: int, slug: str) -> QuerySet[House]:
    rows = House.objects.filter(organisation_id=organisation, slug=slug)
    return rows.select_related("site", "recipe", "saved_by", "organisation")


def house_alone(*, organisation: Organisation, slug: str) -> House | None:
    """``house_named`` without its materials and rows of its own, for what tells of them by other means."""
    return next(iter(_house_alone(organisation.pk, slug)), None)


@compiled_once
def _houses_by_key(organisation: int, keys: Sequence[int]) -> QuerySet[House]:
    rows = House.objects.filter(organisation_id=organisation, pk__in=keys)
    return rows.select_related("saved_by", "organisation").with_materials()


def houses_by_key(*, organisation: Organisation, keys: Collection[int]) -> list[House]:
    """Those of ``any_house_of`` with these keys."""
    return _houses_by_key(organisation.pk, sorted(keys)) if keys else []


def any_site_of(*, organisation: Organisation) -> QuerySet[Site]:
    """Archived or not, with ``house_count`` and ``next_need``, from today on, of the houses that are not."""
    standing = Q(houses__archived_at=None)
    coming = standing & Q(houses__need_date__gte=today_of(organisation=organisation))
    return (
        Site.objects.of(organisation)
        .annotate(house_count=Count("houses", filter=standing), next_need=Min("houses__need_date", filter=coming))
        .order_by("name", "pk")
    )


def houses_on(*, site: Site) -> QuerySet[House]:
    """Houses of one site that are not archived themselves, whether or not the site is."""
    rows = House.objects.filter(site=site, archived_at=None).order_by("need_date", "name", "pk")
    return rows.select_related("site", "recipe__tube", "recipe__sleeve_material")


def own_steps_of(*, houses: Collection[House]) -> set[tuple[int, str]]:
    """(key of the house, kind of work) that rows of its own wait for; one query."""
    rows = HouseOwnRow.objects.filter(house__in=[house.pk for house in houses]).exclude(step="").order_by()
    return set(rows.values_list("house", "step"))


def houses_to_copy(*, organisation: Organisation, most: int) -> QuerySet[House]:
    """Those saved last, to begin a new one from."""
    return houses_of(organisation=organisation).order_by("-saved_at", "-pk")[:most]


def house_summary(houses: QuerySet[House], *, today: date) -> dict[str, Any]:
    """``count``, ``longest`` and ``next_need``, the first need date from today on or None, by one query."""
    coming = Min("need_date", filter=Q(need_date__gte=today))
    return houses.order_by().aggregate(count=Count("pk"), next_need=coming, longest=Max("length"))
