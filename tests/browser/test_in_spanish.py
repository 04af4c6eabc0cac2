"""Spanish is longer than English: pages that hold the most words stay whole on a phone."""

from __future__ import annotations

import pytest

from farmbuild.orgs.models import Language, User
from tests.browser.reading import PHONE, SCREEN, collisions, phone_problems, spill

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Of each room what has the longest words: headings of a table, buttons, answers, labels of a drawing.
WIDEST = ("/houses/", "/houses/north-field-1/", "/hoops/", "/stock/", "/orders/", "/organisation/")
#: Words of a button or a heading that do not fit into it.
_CUT = """() => [...document.querySelectorAll("main :is(button, .button, .action, thead th, h1, h2, h3), .places a")]
  .filter((one) => one.getClientRects().length && !one.matches(".unseen, details:not([open]) *"))
  .filter((one) => one.scrollWidth > one.clientWidth + 1 && getComputedStyle(one).display !== "inline")
  .map((one) => one.textContent.trim())"""


def test_pages_are_whole_in_spanish_on_a_phone(page_at, demo):
    User.objects.filter(pk=demo.user.pk).update(language=Language.SPANISH)
    page = page_at(PHONE)
    page.set_default_timeout(120_000)
    problems = []
    for path in WIDEST:
        assert page.goto(path).status == 200, path
        assert page.evaluate("document.documentElement.lang") == "es"
        page.set_viewport_size({"width": PHONE, "height": SCREEN})
        if (wide := spill(page)) > 1:
            problems.append(f"{path} scrolls sideways by {wide} px")
        problems += [f"{path}: “{words}” is cut" for words in page.evaluate(_CUT)]
        problems += collisions(page)
        places = page.evaluate("[...new Set([...document.querySelectorAll('.places li')].map(one => one.offsetTop))]")
        if len(places) > 1:
            problems.append(f"{path}: the places stand on {len(places)} lines")
        problems += phone_problems(page)
    assert not problems, "\n".join(problems)
