"""The week as strokes in Chromium: no words touch, a phone has one day, and a busy week prints on one sheet."""

from __future__ import annotations

import re
from datetime import datetime, time, timedelta

import pytest

from farmbuild.crew.models import Crew, Task, WindForecast
from farmbuild.crew.schedule.board import monday_of
from farmbuild.orgs.clock import today_of, zone_of
from tests.browser.reading import problems_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Pairs of words, and words and strokes, whose boxes overlap in a drawing that is shown; and words beyond its sides.
TOUCHING = """() => [...document.querySelectorAll(".strokes svg")].flatMap((svg) => {
  if (!svg.checkVisibility()) return [];
  const box = (one) => one.getBoundingClientRect(), told = [], edge = box(svg);
  const words = [...svg.querySelectorAll("text")].map((one) => [one.textContent, box(one)]);
  const lines = [...svg.querySelectorAll(".to-do line, .done line, .run, .ruler line")].map(box);
  const meets = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 0.5
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2.5;
  words.forEach(([said, one], n) => {
    words.slice(n + 1).forEach(([other, two]) => meets(one, two) && told.push(`${said} / ${other}`));
    const outside = one.left < edge.left - 1 || one.right > edge.right + 1;
    if (outside && !svg.matches(".clock")) told.push(`${said} is outside`);
    if (lines.some((line) => meets(one, {left: line.left - 0.5, right: line.right + 0.5, top: line.top - 1,
      bottom: line.bottom + 1}))) told.push(`${said} on strokes`);
  });
  return told;
})"""
LONG = ("Northernmost seedlings and cut flowers house", "Old barn", "Wagnermühlenwiesengewächshaus am Mooswald", "N 2")


@pytest.fixture
def busy(demo):
    """Six days of two crews this week, five tasks a day each, with long names."""
    return fill(demo, 5, LONG)


def fill(demo, a_day, names):
    organisation = demo.user.memberships.get().organisation
    zone, monday = zone_of(organisation=organisation), monday_of(today_of(organisation=organisation))
    tasks = list(Task.objects.of(organisation).select_related("house").order_by("house", "position"))
    for n, house in enumerate({task.house_id: task.house for task in tasks}.values()):
        house.name = f"{names[n % len(names)]} {n}"
        house.save()
    times = {3: (((7, 0), 60), ((8, 0), 240), ((12, 30), 210))}
    times[5] = (((7, 0), 60), ((8, 0), 45), ((8, 45), 180), ((12, 30), 180), ((15, 30), 30))
    places = [(day, *at) for day in range(6) for at in times[a_day]]
    for n, crew in enumerate(Crew.objects.of(organisation).order_by("pk")[:2]):
        for k, (day, (hour, minute), length) in enumerate(places):
            starts = datetime.combine(monday + timedelta(days=day), time(hour, minute), zone)
            task = tasks[n * len(places) + k]
            task.crew, task.starts_at, task.ends_at = crew, starts, starts + timedelta(minutes=length)
            task.save()
    return monday


def test_no_words_touch_and_a_phone_has_one_day(page_at, busy):
    page = page_at(1440)
    wrong = []
    for address in (f"/crew/?week={busy}", f"/crew/week/{busy + timedelta(days=2)}/"):
        page.goto(address)
        wrong += problems_of(page, keep="strokes" if "?" in address else "")
        for width in (320, 390, 820, 1000, 1440):
            page.set_viewport_size({"width": width, "height": 844})
            shown = page.locator(".strokes-day:visible").count()
            wrong += [f"{address} at {width}: {words}" for words in page.evaluate(TOUCHING)]
            assert shown == (7 if width >= 1000 else 1), (width, shown)
            assert page.locator(".strokes svg.down:visible").count() == (0 if width >= 1000 else 2)
            if width == 390:
                tall = page.evaluate("document.documentElement.scrollHeight")
                assert tall <= 5 * 844, f"{address} is {tall / 844:.1f} screens"
    assert not wrong, "\n".join(wrong[:20])


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_week_prints_on_one_sheet(page_at, demo, paper):
    """36 tasks of two crews, with what is said of the wind, who is in which crew, and cautions."""
    page, monday = page_at(1200), fill(demo, 3, ("North Field", "Creek Bottom"))
    # One windy day, on whichever day of the week the demo was loaded.
    windy = WindForecast.objects.order_by("-gust", "day").first()
    WindForecast.objects.exclude(pk=windy.pk).delete()
    WindForecast.objects.filter(pk=windy.pk).update(day=monday + timedelta(days=2))
    page.goto(f"/crew/week/{monday}/")
    sheet = page.pdf(format=paper)
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 1
    page.emulate_media(media="print")
    assert page.locator(".strokes-day:visible").count() == 7 and not page.locator("svg.down:visible").count()
    assert page.locator(".strokes text.step:visible").count() >= 36
    assert page.get_by_text("Do not put on or take off film").count() == 1
    page.set_viewport_size({"width": 700, "height": 1000})
    assert page.evaluate(TOUCHING) == []


def test_the_fullest_week_takes_more_sheets_and_can_be_read(page_at, busy):
    """60 tasks with long names: no day is cut in two, and no letters are smaller than those of a busy week."""
    page = page_at(1200)
    page.goto(f"/crew/week/{busy}/")
    sheet = page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) in (2, 3)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 700, "height": 1000})
    assert page.locator(".strokes text.step:visible").count() >= 60
    assert page.evaluate(TOUCHING) == []
    sizes = "[...document.querySelectorAll('.strokes text')].map(e => parseFloat(getComputedStyle(e).fontSize))"
    assert min(page.evaluate(sizes)) * 0.75 > 6.3
    days = "[...document.querySelectorAll('.strokes-day')].map(e => getComputedStyle(e).breakInside)"
    assert set(page.evaluate(days)) == {"avoid"}


def test_the_list_of_a_day_keeps_its_name_on_paper(page_at, busy):
    page = page_at(820)
    person = Crew.objects.filter(tasks__starts_at__isnull=False).first().people.first()
    page.goto(f"/crew/day/?person={person.slug}&day={busy}")
    page.emulate_media(media="print")
    assert page.locator("h1:visible").count() == 1 and page.locator(".strokes svg.strip:visible").count() == 1
    assert page.evaluate(TOUCHING) == []
