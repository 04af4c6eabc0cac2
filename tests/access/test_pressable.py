"""What is taken out of a page for one who may not press it, and what stays."""

from __future__ import annotations

import re

import pytest
from django.template import engines

from farmbuild.orgs.acts import READY_SETS, Act, Role
from farmbuild.orgs.may import May
from farmbuild.orgs.models import Organisation
from tests.where import ROOT


def of(role: str, path: str = "/stock/lots/1/") -> May:
    return May(READY_SETS[Role(role)], Organisation(name="Low Acre (invented)"), path)


@pytest.mark.parametrize(
    ("markup", "left"),
    [
        # Open to whoever looks.
        ('<p><a href="/houses/">Houses</a></p>', '<p><a href="/houses/">Houses</a></p>'),
        # A button is gone, and what held it alone.
        ('<ul><li><a class="button" href="/houses/new/">Add</a></li></ul>', ""),
        ('<p>All of it. <a class="button" href="/houses/new/">Add</a></p>', "<p>All of it. </p>"),
        # A name stays without its link; so does a word in a sentence.
        ('<td><a href="/suppliers/low/offers/">Low Supply</a></td>', "<td>Low Supply</td>"),
        ('<th><a class="row-link" href="/plans/1/accept/">Plan 1</a></th>', "<th>Plan 1</th>"),
        ("<p>See <a href='/houses/'>it</a></p>", "<p>See <a href='/houses/'>it</a></p>"),
        ('<p>Of <a href="/suppliers/low/offers/">Low Supply</a>, by May.</p>', "<p>Of Low Supply, by May.</p>"),
        # Ways about have no dead words in them.
        (
            '<nav><a href="/orders/">Orders</a><a href="/suppliers/">Suppliers</a></nav>',
            '<nav><a href="/orders/">Orders</a></nav>',
        ),
        # A form goes by what is sent, its heading with it, and a button of it elsewhere.
        ('<h2>Scrap</h2><form method="post" action="/stock/lots/1/scrap/"><button>Scrap</button></form>', ""),
        (
            '<form id="t" method="get" action="/stock/lots/1/issue/"></form><p><button form="t">Issue</button></p>',
            "",
        ),
        ('<form method="get"><button>Show</button></form>', '<form method="get"><button>Show</button></form>'),
        ('<form method="post"><button>Keep</button></form><p>More</p>', "<p>More</p>"),
        # What is no page of the site is left alone.
        ('<p><a class="button" href="https://example.org/houses/new/">Out</a></p>',) * 2,
        ('<p><a class="button" href="#scrap">Down</a></p>',) * 2,
    ],
)
def test_for_one_who_looks_only(markup, left):
    assert of("looks").pressable(markup) == left


def test_who_may_everything_sees_the_page_as_it_was():
    markup = '<h2>Scrap</h2><form method="post"><button>Scrap</button></form>'
    assert of("owner").pressable(markup) == markup


@pytest.mark.django_db
def test_the_main_button_says_who_may(organisation):
    from tests.factories import MembershipFactory

    for first, role in (("Odile", Role.OWNER), ("Sam", Role.PLANNER), ("Juno", Role.YARD)):
        MembershipFactory(organisation=organisation, user__first_name=first, user__last_name="", role=role)
    may = May(READY_SETS[Role.YARD], organisation, "/orders/1/")
    button = '<a class="action" href="/orders/PO-1/send/">Send</a>'
    assert may.main(button) == '<p class="who-may">“Send” is for Odile or Sam.</p>'
    # Three are all named, and of more the first two.
    for first, who in (("Ines", "Odile, Sam or Ines"), ("Ivo", "Odile, Sam or another of them")):
        user = {"user__first_name": first, "user__last_name": ""}
        MembershipFactory(organisation=organisation, role=Role.PLANNER, **user)
        assert f"“Send” is for {who}." in may.main(button)
    # Something else to press is left: nothing is missed.
    assert (
        may.main(button + '<a class="action" href="/houses/">Go on</a>')
        == '<a class="action" href="/houses/">Go on</a>'
    )
    organisation.memberships.exclude(role=Role.YARD).delete()
    assert "“Send” is for nobody here at present." in may.main(button)


def test_templates_ask_for_acts_that_there_are():
    asked = {
        (path.name, act)
        for path in (ROOT / "templates").rglob("*.html")
        for act in re.findall(r"\bmay\.(\w+)", path.read_text(encoding="utf-8"))
    }
    assert asked
    assert {act for _, act in asked} <= set(Act)


def test_a_page_asks_by_the_name_of_an_act():
    said = engines["django"].from_string("{% if may.costs %}12{% endif %}{% if may.stock %}lots{% endif %}")
    assert said.render({"may": of("yard")}) == "lots"
    assert said.render({"may": of("planner")}) == "12lots"
