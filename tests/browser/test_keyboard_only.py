"""From the sign-in to a tick on the list of a day without a pointer, and every page of the crew for screen readers."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest

from farmbuild.crew.models import Crew, Schedule, Task
from farmbuild.crew.wind.services import enter_forecast
from farmbuild.demo.services import PASSWORD
from farmbuild.orgs.clock import today_of
from tests.browser.reading import problems_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: More presses of Tab than any page needs to its last control.
MAX_PRESSES = 120
OUTLINED = """() => {
  const seen = document.activeElement, style = getComputedStyle(seen), after = getComputedStyle(seen, "::after");
  const around = [style, after].some((one) => one.outlineStyle !== "none" && parseFloat(one.outlineWidth) >= 2);
  return around || getComputedStyle(seen.closest(".with-unit") ?? seen).outlineStyle !== "none";
}"""
NAMED = "document.activeElement.textContent.trim() || document.activeElement.name || ''"


def tab_to(page, wanted: str) -> list[str]:
    """Tab until the control with that text or name has the focus; it has to be seen on each on the way."""
    page.wait_for_load_state("networkidle")
    passed: list[str] = []
    for _ in range(MAX_PRESSES):
        page.keyboard.press("Tab")
        name = page.evaluate(NAMED)
        assert page.evaluate(OUTLINED), f"no focus is seen on {name} of {page.url}"
        passed.append(name)
        if name == wanted:
            return passed
    raise AssertionError(f"Tab does not reach {wanted} on {page.url}: {passed}")


def press(page, wanted: str) -> list[str]:
    passed = tab_to(page, wanted)
    page.keyboard.press("Enter")
    return passed


def test_from_the_sign_in_to_a_tick_by_keys_alone(chromium, live_server, demo, short_search):
    page = chromium.new_context(base_url=live_server.url, reduced_motion="reduce").new_page()
    page.goto("/sign-in/?next=/crew/")
    page.locator("input[name=username]").focus()
    page.keyboard.type(demo.user.username)
    tab_to(page, "password")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Work out the schedule").wait_for()
    passed = tab_to(page, "Skip to the page")
    assert passed == ["Skip to the page"], "the first stop of a page is the way past the bar"
    page.keyboard.press("Enter")
    assert tab_to(page, "Work out the schedule") == ["Work out the schedule"]
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Publish it for everybody").wait_for(timeout=90_000)
    press(page, "Publish it for everybody")
    page.wait_for_url("**/crew/")
    schedule = Schedule.objects.of(demo.organisation).get()
    assert schedule.published_at
    task = Task.objects.of(demo.organisation).filter(crew__people__user=demo.user).exclude(starts_at=None)
    task = task.filter(kind="survey").order_by("starts_at").first()
    named = f"{task.get_kind_display()}, {task.house}"
    page.goto(f"/crew/day/?day={task.starts_at:%Y-%m-%d}")
    page.locator(f"#task-{task.pk} h2").evaluate("heading => { heading.tabIndex = -1; heading.focus(); }")
    # What was pressed is sent by the script, which then loads the page anew.
    with page.expect_navigation(timeout=15_000):
        press(page, f"Start: {named}")
    page.locator(f"#task-{task.pk}").get_by_text("at it:").wait_for(timeout=15_000)
    page.locator(f"#task-{task.pk} h2").evaluate("heading => { heading.tabIndex = -1; heading.focus(); }")
    tab_to(page, "done")
    few = min(3, task.count - 1) or 1
    page.keyboard.type(str(few))
    press(page, f"Stop: {named}")
    page.locator(f"#task-{task.pk}").get_by_text(f"{few} of {task.count}").wait_for(timeout=15_000)
    task.refresh_from_db()
    assert (task.state, task.done) == (Task.State.STARTED, few)
    page.context.close()


def test_pages_with_wind_warnings_read_well(page_at, demo):
    organisation = demo.organisation
    day = today_of(organisation=organisation) + timedelta(days=1)
    task = Task.objects.of(organisation).select_related("house__site").filter(kind="film").first()
    crew = Crew.objects.of(organisation).order_by("name").first()
    page = page_at(390)
    starts = datetime(day.year, day.month, day.day, 15, tzinfo=UTC)
    Task.objects.filter(pk=task.pk).update(crew=crew, starts_at=starts, ends_at=starts + timedelta(hours=2))
    wind = {"wind": Decimal(30), "gust": Decimal(45), "unit": "mph", "source": "Invented radio"}
    enter_forecast(organisation=organisation, user=demo.user, site=task.house.site, day=day, **wind)
    person = crew.people.first()
    addresses = (
        f"/crew/?week={day}",
        f"/crew/week/{day}/",
        f"/crew/tasks/{task.pk}/",
        f"/crew/day/?person={person.slug}&day={day}",
        "/crew/wind/",
    )
    problems = []
    for address in addresses:
        page.goto(address)
        assert page.get_by_text("Do not put on or take off film").count() >= 1, address
        levels = page.eval_on_selector_all("h1, h2, h3, h4", "all => all.map(heading => Number(heading.tagName[1]))")
        assert levels[0] == 1 and levels.count(1) == 1, (address, levels)
        assert all(after - before <= 1 for before, after in pairwise(levels)), (address, levels)
        problems += problems_of(page, widths=(320, 390, 1440), axe_at=(1440,))
    assert not problems, "\n".join(problems)
