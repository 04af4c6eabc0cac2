"""Words of drawings never lie over each other, on a phone and on a desk, and each kind of line means one thing."""

from __future__ import annotations

import pytest
from django.urls import reverse

from farmbuild.buying.models import PurchaseOrder
from farmbuild.hoops.models import HoopBatch, Recipe
from farmbuild.stock.models import Lot
from tests.browser.reading import at, collisions, drawing_problems
from tests.size import LONG

pytestmark = pytest.mark.browser

HOUSES = ("north-field-2", "creek-bottom-2", "orchard-tunnel-1")
MAIN = (
    "/houses/", "/houses/new/", "/sites/north-field/", "/hoops/", "/hoops/benders/", "/hoops/batches/", "/stock/",
    "/stock/availability/", "/stock/season-end/", "/orders/", "/plans/", "/crew/", "/crew/schedules/",
    "/crew/benders/bookings/", "/materials/", "/guide/on-paper/",
)  # fmt: skip


def paths(organisation) -> list[str]:
    """One of each kind is looked at likewise in ``test_pages``; houses differ most."""
    of_houses = [f"/houses/{house}/{page}" for house in HOUSES for page in ("", "takeoff/", "edit/", "tasks/")]
    if not LONG:
        return of_houses
    rows = (
        *Recipe.objects.of(organisation),
        *HoopBatch.objects.of(organisation),
        *PurchaseOrder.objects.of(organisation)[:1],
    )
    lots = [reverse("stock:lot", args=[lot.pk]) for lot in Lot.objects.of(organisation).order_by("pk")[:3]]
    return [*MAIN, *of_houses, *lots, *(row.get_absolute_url() for row in rows)]


def test_no_words_lie_over_others_and_lines_are_of_a_kind(page_at, demo):
    page = page_at(1440)
    told, drawn = [], 0
    for path in paths(demo.organisation):
        answer = page.goto(path)
        if answer.status == 404:
            told.append(f"{path} is not there")
            continue
        drawn += page.locator("main svg text").count() > 0
        for width in (1440, 390):
            at(page, width)
            told += drawing_problems(page)
    assert not told, "\n".join(told)
    assert drawn > (15 if LONG else 8), "pages with drawings in"


def test_what_lies_over_each_other_is_found_and_what_is_beside_is_not(page_at):
    page = page_at(390)
    page.goto("/houses/north-field-2/")
    words = page.locator(".house-sheet svg text", has_text="hip board").first
    assert collisions(page) == []
    words.evaluate("text => { const other = text.cloneNode(true); other.textContent = 'over it'; text.after(other); }")
    (found,) = collisions(page)
    assert '"hip board" lies over "over it"' in found
