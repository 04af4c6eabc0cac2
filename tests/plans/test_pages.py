"""Every page of a plan, as its own people and as others see it."""

from __future__ import annotations

import io
import zipfile

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.plans import bridge, services
from farmbuild.plans.models import Plan
from farmbuild.sites.models import House
from tests.factories import FOOT, MembershipFactory, OrganisationFactory
from tests.plans.small_season import small_season

pytestmark = pytest.mark.django_db

PARTS = ["plan", "needs", "cutting", "shortfall", "leftovers", "orders"]
FILES = ["orders-zip", "cut-list", "take-off", "leftovers-file"]


def text_of(response) -> str:
    return " ".join(response.content.decode().split())


@pytest.mark.parametrize("part", PARTS)
def test_every_part_of_a_ready_plan_opens(signed_in, ready, part):
    assert signed_in.get(reverse(f"plans:{part}", args=[1])).status_code == 200


def test_the_plan_starts_with_the_answer(signed_in, ready):
    page = text_of(signed_in.get("/plans/1/"))
    result = bridge.season_plan_of(ready)
    total = sum(order.total for order in result.orders)
    assert f"USD {total:,.2f}" in page
    assert "Short " in page and "order by 3 May 2027 to have the first on 12 May 2027" in page
