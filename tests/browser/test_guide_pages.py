"""The guide in Chromium, for who is not signed in: at three widths, on paper, and by the keyboard."""

from __future__ import annotations

import re

import pytest

from farmbuild.guide.jobs import JOBS
from tests.browser.reading import at, problems_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
#: Of a phone, px.
SCREEN = 844


@pytest.fixture
def page(chromium, live_server):
    context = chromium.new_context(base_url=live_server.url, viewport={"width": 1440, "height": 900})
    yield context.new_page()
    context.close()


def test_every_page_reads_well_and_no_job_is_longer_than_five_screens_of_a_phone(page):
    problems = []
    for address in ("", "words/", "on-paper/", *(f"{job.slug}/" for job in JOBS)):
        assert page.goto(f"/guide/{address}").status == 200
        problems += problems_of(page, keep=f"guide_{address.strip('/')}")
        at(page, 390)
        high = page.evaluate("document.documentElement.scrollHeight")
        if address not in ("words/", "on-paper/") and high > 5 * SCREEN:
            problems.append(f"{address} is {high} px long")
    assert not problems, "\n".join(problems)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_job_begins_a_sheet_of_its_own(page, paper):
    page.goto("/guide/on-paper/")
    page.emulate_media(media="print")
    jobs = page.locator("details.job")
    assert jobs.count() == len(JOBS)
    breaks = jobs.evaluate_all("jobs => jobs.map((job) => getComputedStyle(job).breakBefore)")
    assert breaks == ["auto", *["page"] * (len(JOBS) - 1)]
    sheets = len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=paper)))
    assert len(JOBS) <= sheets <= len(JOBS) + 4


def test_a_term_is_reached_by_the_keyboard_and_leads_to_its_meaning(page):
    page.goto("/guide/set-up-a-bender/")
    term = page.get_by_role("link", name="Trial hoops", exact=True)
    for _ in range(40):
        page.keyboard.press("Tab")
        if term.evaluate("link => link === document.activeElement"):
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/guide/bend-the-first-hoop/#trial-hoop")
    assert page.locator("dt:target").inner_text() == "trial hoop"
