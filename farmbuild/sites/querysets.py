"""Houses with their materials: many houses name few of them, in a score of columns each."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any, Self

from django.db.models import Field, Model
from django.db.models.query import ModelIterable

from farmbuild.catalogue.models import Material
from farmbuild.orgs.models import OrgOwnedQuerySet


class HouseQuerySet(OrgOwnedQuerySet):
    #: Materials come by a query of their own: joined, each house would have half a thousand columns.
    _materials = False

    def with_materials(self) -> Self:
        """With site, recipe, rows of their own and every material of these; two queries more, however many houses."""
        rows = self.select_related("site", "recipe").prefetch_related("own_rows")
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
            put_materials(self._result_cache or [])


def put_materials(houses: Collection[Model]) -> None:
    """One query, and one object a material, whatever names it."""
    named = list(_naming(houses))
    keys = {getattr(row, field.attname) for row, field in named} - {None}
    found = Material._base_manager.in_bulk(keys) if keys else {}
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
