"""A box of a house offers materials of its kinds that are in use, and the one that it has already."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import product

import pytest
from django.core.exceptions import ValidationError

from farmbuild.catalogue.models import Material
from farmbuild.sites.material_fields import MaterialChoiceField

LONG_AGO = datetime(2026, 1, 2, tzinfo=UTC)


@pytest.mark.parametrize("own", [None, 1, 2, 3, 4])
def test_what_a_box_offers_it_takes_and_nothing_else(own):
    rows = [
        Material(pk=pk, name=f"{kind} {pk}", kind=kind, archived_at=archived)
        for pk, (kind, archived) in enumerate(product(("rail", "film"), (None, LONG_AGO)), 1)
    ]
    field = MaterialChoiceField(queryset=Material.objects.none(), required=False)
    field.offer(rows, kinds=frozenset({"rail"}), own=own)
    offered = {1} | ({own} if own else set())
    assert {row.pk for row in field.rows} == offered
    for row in rows:
        if row.pk in offered:
            assert field.clean(str(row.pk)) == row
        else:
            with pytest.raises(ValidationError):
                field.clean(str(row.pk))
