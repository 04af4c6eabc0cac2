"""What tells columns of a query apart is what Django says, only sooner."""

from __future__ import annotations

from django.db.models import DecimalField
from django.db.models.expressions import Col

from farmbuild.common.columns import _DJANGOS, _identity
from farmbuild.sites.models import House


def test_columns_are_told_apart_as_django_does() -> None:
    name, slug, site = (House._meta.get_field(name) for name in ("name", "slug", "site"))
    nameless = DecimalField()
    columns = [
        Col("a", name),
        Col("b", name),
        Col("a", slug),
        Col("a", site, name),
        Col("a", name, name),
        Col("a", nameless),
        Col("a", target=name),
    ]
    assert [_identity(one) for one in columns] == [_DJANGOS(one) for one in columns]
    assert [one.identity for one in columns] == [_DJANGOS(one) for one in columns]
    assert Col("a", name) == Col("a", name)
    assert len({*columns, Col("b", name)}) == len(set(map(_DJANGOS, columns)))
