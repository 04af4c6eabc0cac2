"""A project workbook carries the organisation's own stock; a member's lots are not in it."""

from __future__ import annotations

from datetime import date
from io import BytesIO

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.projects.bridge import project_workbook
from tests.factories import LotFactory, MaterialFactory, MemberFactory, PlaceFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def test_lots_of_members_are_not_in_it_and_the_page_says_so(client, organisation, user):
    material, place = MaterialFactory(organisation=organisation), PlaceFactory(organisation=organisation)
    LotFactory(material=material, place=place, reference="OURS-1")
    ana = MemberFactory(organisation=organisation)
    LotFactory(material=material, place=place, reference="THEIRS-1", owner=ana, unit_cost=0, value=0)
    book = load_workbook(BytesIO(project_workbook(organisation=organisation, as_of=date(2027, 3, 1))), read_only=True)
    told = {cell for row in book["Stock"].iter_rows(values_only=True) for cell in row}
    assert "OURS-1" in told and "THEIRS-1" not in told
    client.force_login(user)
    assert "Lots of members are not in it" in text_of(client.get(reverse("projects:project")))
