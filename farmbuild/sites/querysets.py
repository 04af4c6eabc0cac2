"""Houses with their materials: many houses name few of them, in a score of columns each."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import Any, Self

from django.apps import apps
from django.db.models import Field, Model, QuerySet
from django.db.models.query import ModelIterable

from farmbuild.catalogue.models import Material
from farmbuild.common.compiled import compiled_once
from farmbuild.orgs.models import OrgOwnedQuerySet


class HouseQuerySet(OrgOwnedQuerySet):
    #: Materials come by a query of their own: joined, each house would have half a thousand columns.
    _materials = False

    def with_materials(self) -> Self:
        """With site, recipe, rows of their own and every material of these; two queries more, however many houses."""
        rows = self.select_related("site", "recipe")
        rows._materials = True
        return rows

    def _clone(self) -> Self:
        rows = super()._clone()
        rows._materials = self._materials
        return rows

    def _fetch_all(self) -> None:
        fetched = self._result_cache is not None
        super()._fetch_all()
        if self._materials and not fetched and issubclass(self._iterable_class, ModelIterable):
            _put_own_rows(self._result_cache or [])
            put_materials(self._result_cache or [])


def _put_own_rows(houses: Collection[Any]) -> None:
    """As Django fetches them beforehand; one query."""
    of_house: dict[int, list[Any]] = {house.pk: [] for house in houses}
    for row in _own_rows(list(of_house)):
        of_house[row.house_id].append(row)
    for house in houses:
        rows = house.own_rows.all()
        rows._result_cache, rows._prefetch_done = of_house[house.pk], True
        for row in of_house[house.pk]:
            row.house = house
        house._prefetched_objects_cache = {**getattr(house, "_prefetched_objects_cache", {}), "own_rows": rows}


@compiled_once
def _own_rows(houses: Sequence[int]) -> QuerySet:
    return apps.get_model("sites", "HouseOwnRow")._default_manager.filter(house_id__in=houses)


@compiled_once
def _materials_of(keys: Sequence[int]) -> QuerySet[Material]:
    return Material._base_manager.filter(pk__in=keys)


def put_materials(houses: Collection[Model]) -> None:
    """One query, and one object a material, whatever names it."""
    named = list(_naming(houses))
    keys = {getattr(row, field.attname) for row, field in named} - {None}
    found = {row.pk: row for row in _materials_of(sorted(keys))} if keys else {}
    for row, field in named:
        field.set_cached_value(row, found.get(getattr(row, field.attname)))


def _naming(houses: Collection[Model]) -> Iterator[tuple[Any, Field]]:
    """Rows with each of their fields that names a material; of the rows of a house those that are loaded."""
    for house in houses:
        loaded = house._state.fields_cache
        kept = getattr(house, "_prefetched_objects_cache", {}).get("own_rows", ())
        for row in (house, *filter(None, [loaded.get("recipe")]), *kept):
            for field in row._meta.concrete_fields:
                if field.related_model is Material:
                    yield row, field
