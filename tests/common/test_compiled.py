"""Queries whose statement is written once give what they give when asked as usual, whatever is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import TruncDate
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from farmbuild.common import compiled
from farmbuild.common.compiled import MOST, compiled_once
from farmbuild.sites.models import House, Site
from tests.factories import HouseFactory, SiteFactory


def houses(
    organisation: int, sites: Sequence[int], slug: str, day: date, saved: datetime, old: bool
) -> QuerySet[House]:
    rows = House.objects.filter(organisation_id=organisation, site__in=sites, saved_at__lte=saved)
    rows = rows.filter(Q(need_date=None) | Q(need_date__gte=day)).exclude(slug=slug)
    beside = House.objects.filter(site=OuterRef("site")).exclude(pk=OuterRef("pk"))
    rows = rows.filter(archived_at__isnull=not old).annotate(beside=Exists(beside))
    return rows.select_related("site").order_by("name", "pk")


@pytest.fixture
def season(organisation):
    sites = [SiteFactory(organisation=organisation, name=f"Site {n}") for n in range(3)]
    rows = [
        HouseFactory(site=site, name=f"House {n}", need_date=date(2027, 5, n + 1))
        for n, site in enumerate([*sites, sites[0]])
    ]
    House.objects.filter(pk=rows[1].pk).update(archived_at=timezone.now())
    return organisation.pk, [site.pk for site in sites], [row.slug for row in rows]


def said(rows):
    return [(row.pk, row.name, row.need_date, row.site.name, row.beside, row.organisation_id) for row in rows]


def test_same_rows(season):
    organisation, sites, slugs = season
    asked = compiled_once(houses)
    now = timezone.now() + timedelta(minutes=1)
    found = []
    for of in ([], sites[:1], sites, sites[::-1], [sites[0]] * 3, {*sites}, [*sites, 999_999]):
        for slug in (slugs[0], "o'%s\"", "value 30000"):
            for day in (date(2027, 5, 1), date(2027, 5, 3), date(9000, 1, 1)):
                for saved in (now, now - timedelta(days=400)):
                    for old in (True, False):
                        what = (organisation, of, slug, day, saved, old)
                        assert said(asked(*what)) == said(houses(*what)), what
                        found += asked(*what)
    assert {row.pk for row in found} == set(House.objects.values_list("pk", flat=True))


def test_written_once(season, monkeypatch):
    organisation, sites, _ = season
    built = []

    @compiled_once
    def rows(organisation: int, some: Sequence[int]) -> QuerySet[Site]:
        built.append(some)
        return Site.objects.filter(organisation_id=organisation, pk__in=some).order_by("pk")

    first = rows(organisation, sites)
    assert len(built) == 2
    Site.objects.filter(pk=sites[0]).update(name="Renamed")
    with CaptureQueriesContext(connection) as asked:
        again = rows(organisation, sites)
        four = rows(organisation, [*sites, 0])
    assert len(built) == 2
    assert len(asked) == 2
    assert [row.name for row in first] == ["Site 0", "Site 1", "Site 2"]
    assert [row.name for row in again] == [row.name for row in four] == ["Renamed", "Site 1", "Site 2"]
    assert rows(organisation + 1, sites) == []
    assert {row.pk for row in again} == {*sites}
    assert again[0] is not rows(organisation, sites)[0]


@pytest.mark.parametrize(
    "values", [(-1, [1]), (2**40, [1]), (True, [1]), (1, range(1, MOST + 2)), (1, [-5, 2**40]), (1, [])]
)
def test_odd_values(organisation, values):
    SiteFactory(organisation=organisation)

    def rows(organisation: int, keys: Sequence[int]) -> QuerySet[Site]:
        return Site.objects.filter(Q(pk__in=keys) | Q(organisation_id=organisation)).order_by("pk")

    asked = compiled_once(rows)
    usual = list(rows(*values))
    assert asked(*values) == asked(*values) == usual


def test_what_stands_nowhere_is_asked_as_usual(season):
    """A limit is written into the statement, and a decision by a value changes it."""
    organisation, *_ = season

    @compiled_once
    def first(organisation: int, most: int) -> QuerySet[House]:
        return House.objects.filter(organisation_id=organisation).order_by("pk")[:most]

    @compiled_once
    def by(organisation: int, most: int) -> QuerySet[House]:
        rows = House.objects.filter(organisation_id=organisation)
        return rows if most > 2 else rows.filter(name="House 0")

    @compiled_once
    def like(organisation: int, words: str) -> QuerySet[House]:
        return House.objects.filter(organisation_id=organisation, name__contains=words).order_by("pk")

    @compiled_once
    def now(organisation: int) -> QuerySet[House]:
        return House.objects.filter(organisation_id=organisation, saved_at__lte=timezone.now())

    assert [len(first(organisation, n)) for n in (1, 3, 2, 4)] == [1, 3, 2, 4]
    assert [len(by(organisation, n)) for n in (1, 3, 2)] == [1, 4, 1]
    assert [len(like(organisation, words)) for words in ("House", "2", "x", "%")] == [4, 1, 0, 0]
    assert len(now(organisation)) == 4
    House.objects.filter(organisation_id=organisation).update(saved_at=timezone.now())
    assert len(now(organisation)) == 4


def test_rows_that_are_locked_are_asked_as_usual(season):
    organisation, *_ = season
    locked = compiled_once(lambda key: House.objects.filter(organisation_id=key).select_for_update())
    assert len(locked(organisation)) == 4


def test_each_clock_has_its_own_statement(season):
    """The day of a moment is written with the name of the clock."""
    organisation, *_ = season
    House.objects.filter(organisation_id=organisation).update(saved_at=datetime(2027, 5, 3, 23, tzinfo=UTC))

    @compiled_once
    def days(organisation: int) -> QuerySet[House]:
        rows = House.objects.filter(organisation_id=organisation).annotate(day=TruncDate("saved_at"))
        return rows.order_by().values_list("day", flat=True).distinct()

    found = []
    for name in ("UTC", "Pacific/Auckland", "UTC"):
        with timezone.override(name):
            found += days(organisation)
    assert found == [date(2027, 5, 3), date(2027, 5, 4), date(2027, 5, 3)]


def test_few_statements_are_kept(season, monkeypatch):
    monkeypatch.setattr(compiled, "STATEMENTS", 2)
    _, sites, _ = season

    @compiled_once
    def rows(some: Sequence[int]) -> QuerySet[Site]:
        return Site.objects.filter(pk__in=some).order_by("pk")

    for some in (sites[:1], sites[:2], sites, sites[:1], [*sites, 1, 1, 1]):
        assert [row.pk for row in rows(some)] == some[:3]
    kept = next(cell.cell_contents for cell in rows.__closure__ if isinstance(cell.cell_contents, dict))
    assert 0 < len(kept) <= 2


def test_what_asks_the_clock_by_itself_is_asked_as_usual(season, monkeypatch):
    """Else the day on which it was first asked would stand in the statement for ever."""
    organisation, *_ = season
    today = [date(2027, 5, 1)]
    asked = compiled_once(lambda of: House.objects.filter(organisation_id=of, need_date__lte=today[0]))
    first = len(asked(organisation))
    today[0] = date(2027, 5, 9)
    assert (first, len(asked(organisation))) == (1, 4)
