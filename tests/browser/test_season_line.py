"""The season line measured in the page: to scale at every width, rows of 36 px on a phone, no word over another."""

from __future__ import annotations

import re
from itertools import product

import pytest

from farmbuild.crew.schedule import services, working
from farmbuild.plans.models import Plan

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Places of work as drawn and as the drawing says, in pixels; boxes of all words; heights of rows.
MEASURE = """
() => {
  const figure = document.querySelector(".season"), box = (one) => one.getBoundingClientRect();
  const strips = [...figure.querySelectorAll("ol .strip")].filter((one) => box(one).width);
  const off = strips.flatMap((strip) => [...strip.querySelectorAll(":scope > line")].map((line) => {
    const at = parseFloat(line.getAttribute("x1")) / 100, whole = box(strip);
    return Math.abs(box(line).left - (whole.left + at * whole.width));
  }));
  const shown = [...figure.querySelectorAll("text, .name, .note")].map((one) => box(one)).filter((b) => b.width > 1);
  const over = [];
  shown.forEach((a, n) => shown.slice(n + 1).forEach((b) => {
    if (a.left + 1 < b.right && b.left + 1 < a.right && a.top + 2 < b.bottom && b.top + 2 < a.bottom)
      over.push([a.left, a.top, b.left, b.top].map(Math.round).join(" "));
  }));
  const rows = [...figure.querySelectorAll("ol > .season-row")].map((one) => box(one)).filter((b) => b.height);
  return {
    off: Math.max(0, ...off), over, heights: rows.map((b) => b.height), strips: strips.length,
    today: [...figure.querySelectorAll("text.now")].length,
    wide: Math.max(...[...figure.querySelectorAll("*")].map((one) => box(one).right)),
  };
}
"""


def test_the_line_is_to_scale_and_nothing_collides(page_at, demo, short_search):
    organisation = demo.user.memberships.get().organisation
    working.work_out_schedule(services.create_schedule(organisation=organisation, user=demo.user).pk)
    plan = Plan.objects.of(organisation).first()
    addresses = ["/crew/", "/crew/schedules/1/", f"/plans/{plan.number}/", "/stock/availability/"]
    addresses += ["/stock/availability/film-6mil-40ft/", "/stock/availability/rail-1-3-8/"]
    page = page_at(1440, bypass_csp=True)
    problems = []
    for address in addresses:
        page.goto(address)
        for text, width in product((1, 2), (320, 390, 820, 1440)):
            page.set_viewport_size({"width": width, "height": 844})
            if (text, width) == (2, 320):
                page.add_style_tag(content="html { font-size: 225% !important }")
            found = page.evaluate(MEASURE)
            where = f"{address} at {width} px, letters of {text}"
            assert found["strips"] >= 1, where
            if found["off"] > 1.6:
                problems.append(f"{where}: {found['off']} px beside its place")
            if found["over"]:
                problems.append(f"{where}: words over words, {found['over'][:3]}")
            if found["wide"] > width:
                problems.append(f"{where}: {found['wide']} px wide")
            if text == 1 and width == 390 and "/stock/" not in address and min(found["heights"]) > 37:
                problems.append(f"{where}: rows of {found['heights']} px")
            screens = page.evaluate("document.documentElement.scrollHeight") / 844
            if text == 1 and width == 390 and screens > 5:
                problems.append(f"{where}: {screens:.1f} screens")
    assert not problems


def test_the_row_leads_to_the_house_and_is_read_out(page_at, demo, short_search):
    organisation = demo.user.memberships.get().organisation
    working.work_out_schedule(services.create_schedule(organisation=organisation, user=demo.user).pk)
    page = page_at(390)
    page.goto("/crew/schedules/1/")
    row = page.locator(".season ol .season-row").first
    said = row.locator("svg.strip").get_attribute("aria-label")
    assert re.search(r"Work \d+ \w+ 20\d\d", said) and "tasks done" in said
    name = row.locator(".name").inner_text()
    row.locator("svg.strip").click(force=True)
    page.wait_for_url("**/houses/*/")
    assert name in page.locator("h1").inner_text()
