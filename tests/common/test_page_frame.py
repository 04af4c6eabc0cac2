"""The frame of every page, the tags in it, and the pages for what goes wrong."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from html import escape
from html.parser import HTMLParser

import pytest
from django.contrib.auth.models import AnonymousUser
from django.template import engines
from django.template.loader import render_to_string
from django.test import Client, RequestFactory

from farmbuild.common.templatetags.farm import _KeptForNode
from farmbuild.orgs.models import Membership, Organisation
from farmbuild.planning.work.cautions import ALWAYS, CAUTIONS, OF_WORK
from tests.client import plain
from tests.factories import MembershipFactory, OrganisationFactory, UserFactory


def render(source, **context):
    request = RequestFactory().get("/houses/")
    request.user = AnonymousUser()
    return engines["django"].from_string(source).render(context, request)


def page(**blocks):
    inside = "".join(f"{{% block {name} %}}{text}{{% endblock %}}" for name, text in blocks.items())
    return render('{% extends "base.html" %}' + inside)


def test_one_title_serves_the_tab_and_the_heading():
    html = page(title="North &amp; South <small>2</small>")
    assert "<h1>North &amp; South <small>2</small></h1>" in html
    assert "<title>North &amp; South 2</title>" in html


def test_empty_blocks_leave_nothing_behind():
    html = page(title="T", answer=" ", action="")
    for part in ('class="answer"', 'class="actions"', 'class="crumbs"', 'class="caution"'):
        assert part not in html


def test_answer_comes_first_and_then_the_next_step():
    html = page(title="T", content="<p>rest</p>", action='<a class="action" href="/">Go</a>', answer="Short 46.")
    places = [
        html.index(part) for part in ("<h1>", '<p class="answer">Short 46.</p>', 'class="actions"', "<p>rest</p>")
    ]
    assert places == sorted(places)


def test_frame_of_a_signed_in_page(signed_in, organisation, user):
    html = signed_in.get("/organisation/").content.decode()
    assert html.index('class="skip" href="#main"') < html.index('id="main"')
    assert organisation.name in html
    assert re.search(r'<form method="post" action="/sign-out/"[ >]', html)
    for label in ("Houses", "Hoops", "Stock", "Orders"):
        assert f">{label}</a>" in html
    assert f"by {user.username}" in html[html.index("print-foot") :]


class Styled(HTMLParser):
    """Inline styles, handlers and scripts, and addresses of other hosts: all of which the policy stops."""

    def __init__(self):
        super().__init__()
        self.stopped = []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.stopped += [name for name in given if name == "style" or name.startswith("on")]
        if tag == "style" or (tag == "script" and "src" not in given):
            self.stopped.append(tag)
        if tag != "a":
            self.stopped += [url for name in ("src", "href") if (url := given.get(name, "")).startswith(("http", "//"))]


@pytest.mark.parametrize("address", ["/organisation/", "/sign-in/", "/no-such-page/"])
def test_nothing_on_the_page_needs_more_than_the_policy_gives(signed_in, address):
    answer = signed_in.get(address)
    assert "default-src 'self'" in answer.headers["Content-Security-Policy"]
    assert "form-action 'self'" in answer.headers["Content-Security-Policy"]
    assert "geolocation=()" in answer.headers["Permissions-Policy"]
    found = Styled()
    found.feed(answer.content.decode())
    assert found.stopped == []


def test_missing_page_says_so(signed_in):
    answer = signed_in.get("/no-such-page/")
    assert answer.status_code == 404
    assert "There is no such page" in answer.content.decode()


def test_stale_form_says_that_nothing_was_saved(user):
    client = Client(enforce_csrf_checks=True)
    client.force_login(user)
    answer = client.post("/organisation/", {"name": "x"})
    assert answer.status_code == 403
    assert "Nothing was saved" in answer.content.decode()


def test_failure_page_stands_alone():
    html = render_to_string("500.html")
    assert "Something failed here" in html
    assert "{%" not in html


def test_length_tag_gives_the_reader_s_unit_and_the_other_small():
    imperial, metric = OrganisationFactory.build(), OrganisationFactory.build(unit_system="metric")
    source = "{% load farm %}{{ mm|length:organisation }}|{{ mm|length_plain:organisation }}"
    mm = Decimal("2222.5")
    assert render(source, mm=mm, organisation=imperial) == (
        '<span class="length">7&#x27; 3 1/2&quot; <small>2\u202f223 mm</small></span>|7&#x27;\u00a03\u00a01/2&quot;'
    )
    assert render(source, mm=mm, organisation=metric) == (
        '<span class="length">2\u202f223 mm <small>7&#x27; 3 1/2&quot;</small></span>|2\u202f223\u00a0mm'
    )
    assert render(source, mm=None, organisation=metric) == "|"


def test_length_without_an_organisation_still_counts():
    assert render("{% load farm %}{{ rows|length }}", rows=[1, 2, 3]) == "3"


def test_money_and_days():
    source = "{% load farm %}{{ amount|money:organisation }} {{ on|day }}"
    shown = render(source, amount=Decimal("1234.5"), on=date(2027, 5, 3), organisation=OrganisationFactory.build())
    assert shown == "$1,234.50 3 May 2027"
    assert render(source, amount=None, on=None, organisation=OrganisationFactory.build()) == " "


def test_money_is_not_broken_over_two_lines():
    organisation = OrganisationFactory.build(currency="CHF")
    shown = render("{% load farm %}{{ amount|money:organisation }}", amount=Decimal(5), organisation=organisation)
    assert shown == "CHF\u00a05.00"


def test_working_is_folded_away_and_escaped():
    html = render("{% load farm %}{% working how %}", how="ceil(48' / 4') + 1 = 13\nSource: <own>")
    assert html.startswith('<details class="working"><summary>How worked out</summary>')
    assert "<p>Source: &lt;own&gt;</p>" in html
    assert render("{% load farm %}{% working how %}", how="") == ""


@pytest.mark.parametrize("kind", OF_WORK)
def test_cautions_have_one_shape(kind):
    html = render(f'{{% load farm %}}{{% cautions "{kind}" %}}')
    assert 'role="note"' in html
    assert "<strong>Caution: " in html
    assert "<svg" in html
    opens = html[html.index("<details>") : html.index("</details>")]
    assert opens.count("<summary ") == 1
    assert opens.count("<p>") == len(OF_WORK[kind]) + 1
    assert f"<p>{escape(ALWAYS)}</p>" in opens


def test_cautions_of_several_kinds_are_said_once():
    html = render('{% load farm %}{% cautions kinds "bend" %}', kinds=["trial", "posts"])
    assert html.count("<p><strong>Caution: Eyes and hands.</strong>") == 1
    assert html.count(escape(ALWAYS)) == 1
    assert html.count("<p><strong>") == 3
    assert render("{% load farm %}{% cautions kinds %}", kinds=[]).strip() == ""


def test_cautions_defer_to_those_who_decide():
    words = f"{' '.join(CAUTIONS['general'])} {ALWAYS}"
    for who in ("Local codes", "maker's instructions", "licensed engineer"):
        assert who in words


def test_unknown_caution_is_a_fault_of_the_page():
    with pytest.raises(KeyError):
        render('{% load farm %}{% cautions "sharks" %}')


def test_progress_works_without_a_script():
    html = render('{% include "parts/progress.html" with run_url="/run/" progress_url="/far/" start="Work it out" %}')
    inside = html[html.index("<noscript>") : html.index("</noscript>")]
    assert '<form method="post" action="/run/">' in inside
    assert "Work it out" in inside
    watching = render('{% include "parts/progress.html" with run_url="" progress_url="/far/" %}')
    assert "data-run-url" not in watching
    assert "<noscript>" not in watching


@pytest.mark.django_db
def test_what_is_kept_of_the_frame_is_that_of_its_reader(client, monkeypatch):
    """Page after page, one for each thing that the frame goes by, as it would be made for each alone."""
    first, second = OrganisationFactory(name="First farm"), OrganisationFactory(name="Second farm")
    owner, hand, both = (UserFactory(username=name) for name in ("owner", "hand", "both"))
    for user, organisation, role in (
        (owner, first, Membership.Role.OWNER),
        (hand, first, Membership.Role.CREW),
        (both, first, Membership.Role.OWNER),
        (both, second, Membership.Role.CREW),
    ):
        MembershipFactory(user=user, organisation=organisation, role=role)
    browser = plain(client)

    def pages():
        found = []
        for user, organisation in ((owner, first), (hand, first), (both, first), (both, second)):
            browser.force_login(user)
            for path in ("account/", "guide/"):
                for language in ("en", "es"):
                    asked = browser.get(f"/of/{organisation.slug}/{path}", headers={"accept-language": language})
                    html = asked.content.decode()
                    assert "</html>" in html
                    found.append(re.sub(r'name="(csrfmiddlewaretoken|once)" value="[^"]*"', "", html))
        return found

    kept = pages()
    last = len(kept)
    assert len(set(kept)) == last
    Organisation.objects.filter(pk=first.pk).update(name="First farm of all", time_zone="Europe/Lisbon")
    kept += pages()
    assert set(kept[:last]) != set(kept[last:])
    monkeypatch.setattr(_KeptForNode, "render", lambda self, context: self.nodelist.render(context))
    assert pages() == kept[last:]
    Organisation.objects.filter(pk=first.pk).update(name="First farm", time_zone=first.time_zone)
    assert pages() == kept[:last]
