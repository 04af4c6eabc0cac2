"""A joint order in Chromium on a phone, by its main buttons alone: from a title to pieces that are handed out."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

import pytest

from farmbuild.coop.models import Handout, MemberEntry
from tests.browser.reading import phone_problems, problems_of
from tests.coop.joint.making import Cooperative

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WIDTH = 390


@pytest.fixture
def coop(transactional_db):
    return Cooperative(members=3)


@pytest.fixture
def page(chromium, live_server, coop, client):
    client.force_login(coop.user)
    context = chromium.new_context(
        viewport={"width": WIDTH, "height": 844}, base_url=live_server.url, reduced_motion="reduce"
    )
    cookie = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    yield context.new_page()
    context.close()


def test_from_a_title_to_pieces_handed_out(page, coop):
    problems: list[str] = []
    seen: set[str] = set()

    def look() -> None:
        """Axe looks once at each kind of page."""
        kind = re.sub(r"\d+", "", urlsplit(page.url).path)
        problems.extend(problems_of(page, axe_at=() if kind in seen else (WIDTH,), widths=(WIDTH,)))
        problems.extend(phone_problems(page))
        page.set_viewport_size({"width": WIDTH, "height": 844})
        seen.add(kind)

    def press() -> None:
        """The main button of the page."""
        with page.expect_navigation():
            page.locator(".action").first.click()
        look()

    page.goto("/joint-orders/")
    look()
    press()
    page.get_by_label("What it is for").fill("Spring rails")
    press()
    press()
    page.get_by_label("Material").select_option(str(coop.rail.pk))
    page.get_by_label("Length of one piece").fill("10")
    for member, pieces in zip(coop.members, ("28", "17", "9"), strict=True):
        page.get_by_label(member.name).fill(pieces)
    press()
    assert "3 members need 54 pieces" in page.locator(".answer").inner_text()
    press()
    assert "members save" in page.locator(".answer").inner_text()
    press()
    press()
    assert "1 to send" in page.locator(".answer").inner_text()
    joint = page.url
    for _ in range(3):
        with page.expect_navigation():
            page.locator(".action").first.click()
    page.goto(joint)
    look()
    with page.expect_navigation():
        page.locator(".action").first.click()
    page.get_by_label("Pieces that came").fill("54")
    page.get_by_label("Where it lies", exact=True).fill("Barn rack")
    with page.expect_navigation():
        page.locator("button.action").click()
    page.goto(joint)
    press()
    press()
    assert sum(entry.amount for entry in MemberEntry.objects.all()) > 0
    for _ in coop.members:
        page.goto(joint)
        press()
        page.get_by_label("Signed for by").fill("R. Ramos")
        press()
    assert sum(row.quantity for row in Handout.objects.all()) == 54
    page.goto(joint)
    look()
    assert "All 3 members have theirs: 54 pieces" in page.locator(".answer").inner_text()
    assert not problems, "\n".join(problems)
