"""The guide: twelve jobs that anybody may read, each short, drawn first, and each word explained in one place."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import strip_tags

from farmbuild.common.terms import TERMS
from farmbuild.guide.drawings import _DRAWN, Drawings
from farmbuild.guide.jobs import JOBS, job_of_page
from farmbuild.measure import UnitSystem
from farmbuild.planning.work.cautions import ALWAYS, CAUTIONS, OF_WORK
from tests.factories import MemberSignInFactory
from tests.quality.test_one_unit_system import IMPERIAL, METRIC, first_said
from tests.reading import NO_BREAK, with_spaces
from tests.upgrades.addresses import patterns

pytestmark = pytest.mark.django_db
ADDRESSES = ["/guide/", "/guide/words/", "/guide/on-paper/", *(f"/guide/{job.slug}/" for job in JOBS)]
#: Words of a sentence at most; the same takes more of them in Spanish.
LONGEST = {"en": 18, "es": 23}


def page(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, address
    return unescape(with_spaces(answer))


def main_of(html: str) -> str:
    return html.split('<main id="main" tabindex="-1">', 1)[1].split("</main>", 1)[0]


def test_there_are_twelve_jobs_and_each_word_belongs_to_one_of_them():
    assert len(JOBS) == 12 == len({job.slug for job in JOBS})
    assert all(job.terms for job in JOBS)
    assert sum(len(job.terms) for job in JOBS) == len(TERMS)


@pytest.mark.parametrize("address", ADDRESSES)
def test_anybody_reads_it_with_no_question_to_the_database(client, address, django_assert_num_queries):
    with django_assert_num_queries(0):
        html = page(client, address)
    assert "How this is done" not in html
    # Nobody is led to a page that asks to sign in.
    inside = re.findall(r'<a[^>]*href="(/[^"]*)"', html)
    assert [href for href in inside if not href.startswith("/guide/")] == []


def test_no_such_job_is_not_found(client):
    assert client.get("/guide/no-such-job/").status_code == 404
    assert client.post("/guide/").status_code == 405


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.slug)
def test_a_job_is_drawn_before_its_numbered_steps_and_every_link_leads_somewhere(signed_in, client, job):
    main = main_of(page(client, f"/guide/{job.slug}/"))
    assert main.index("<svg") < main.index('<ol class="steps"')
    steps = re.findall(r'<ol class="steps"(?: start="(\d+)")?>(.*?)</ol>', main, re.S)
    counted = 0
    for start, inside in steps:
        assert int(start or 1) == counted + 1
        counted += inside.count("<li>")
    assert 8 <= counted <= 10
    for href in set(re.findall(r'href="(/[^"#]*)', main)):
        assert client.get(href).status_code == 200, href


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.slug)
def test_cautions_are_those_of_the_kinds_of_work_and_stand_before_the_steps(client, job):
    main = main_of(page(client, f"/guide/{job.slug}/"))
    told = re.findall(r"<p><strong>Caution: ([^<]+)\.</strong> [A-Z]", main)
    wanted = {name for kind in job.cautions for name in OF_WORK[kind]}
    assert told == [caution.about for name, caution in CAUTIONS.items() if name in wanted]
    assert main.count(ALWAYS) == bool(wanted)
    assert not told or main.index("Caution: ") < main.index("<ol")


def test_a_word_is_explained_on_the_page_of_its_job_and_on_no_other(client):
    where: dict[str, list[str]] = {}
    for job in JOBS:
        main = main_of(page(client, f"/guide/{job.slug}/"))
        for anchor, name, meaning in re.findall(r'<dt id="([^"]+)"><dfn>([^<]+)</dfn></dt><dd>([^<]+)</dd>', main):
            where.setdefault(name, []).append(job.slug)
            assert (TERMS[name].anchor, TERMS[name].meaning) == (anchor, meaning)
    assert where == {name: [term.job] for name, term in TERMS.items()}
    listed = main_of(page(client, "/guide/words/"))
    assert sorted(re.findall(r'<li><a href="([^"]+)"', listed)) == sorted(term.href for term in TERMS.values())
    paper = page(client, "/guide/on-paper/")
    assert all(paper.count(f'<dt id="{term.anchor}"') == 1 for term in TERMS.values())
    assert [job.title for job in JOBS] == [
        strip_tags(heading) for heading in re.findall(r'<h2 id="[a-z-]+">\d+\. (.*?)</h2>', paper)
    ]


def sentences(html: str) -> list[str]:
    blocks = re.split(
        r"</(?:li|p|dd|dt|figcaption|h\d|summary)>",
        re.sub(r"<svg.*?</svg>|<summary.*?</summary>", "", html, flags=re.S),
    )
    text = [re.sub(r"\s+", " ", strip_tags(block)).strip() for block in blocks]
    return [part for block in text for part in re.split(r"(?<=[.?!:])\s+", block) if part]


@pytest.mark.parametrize("units", ["", "?units=metric"])
@pytest.mark.parametrize("language", LONGEST)
def test_its_sentences_are_short(client, units, language):
    html = unescape(client.get(f"/guide/on-paper/{units}", headers={"Accept-Language": language}).content.decode())
    assert [words for words in sentences(main_of(html)) if len(words.split()) > LONGEST[language]] == []


@pytest.mark.parametrize(("units", "wrong"), [("metric", IMPERIAL), ("imperial", METRIC)], ids=["metric", "imperial"])
def test_who_is_not_signed_in_reads_one_system_and_may_choose_the_other(client, units, wrong):
    for address in ADDRESSES:
        html = page(client, f"{address}?units={units}")
        text = first_said(main_of(html), [], metric=units == "metric")
        text = text.replace("Read them in feet and inches", "").replace("Sizes are in metres", "")
        assert not wrong.search(text), (address, wrong.search(text))
    assert f'href="?{"" if units == "metric" else "units=metric"}"' in html


def test_who_is_signed_in_reads_the_units_of_the_organisation(signed_in, client, organisation):
    address = "/guide/cut-and-use-offcuts/?units=metric"
    assert "24 in" in page(client, address)
    organisation.unit_system = "metric"
    organisation.save()
    html = page(client, address.replace("metric", "imperial"))
    assert "600 mm" in html and "24 in" not in html and "Read them in" not in html


def test_a_member_who_signs_in_reads_it_and_is_led_to_no_page_that_is_closed(client):
    client.force_login(MemberSignInFactory().user)
    for address in ADDRESSES:
        for href in re.findall(r'href="(/[^"#]*)', main_of(page(client, address))):
            assert href.startswith("/guide/")


def test_the_sign_in_page_leads_to_the_guide(client, user):
    client.logout()
    assert f'href="{reverse("guide:guide")}"' in page(client, reverse("sign-in"))


def test_every_drawing_is_used_and_drawn_in_both_systems(client):
    paper = {units: main_of(page(client, f"/guide/on-paper/?units={units}")) for units in UnitSystem}
    drawn = {units: [Drawings(units)[name] for name in _DRAWN] for units in UnitSystem}
    for units in UnitSystem:
        used = [svg for svg in drawn[units] if str(unescape(svg)).replace(NO_BREAK, " ") in paper[units]]
        assert len(used) == len(_DRAWN)
    assert len(set(drawn[UnitSystem.METRIC]) - set(drawn[UnitSystem.IMPERIAL])) >= 9


def test_every_job_is_found_from_the_pages_where_it_is_done():
    names = [name for name, _, _ in patterns()]
    found = {name: job_of_page(name) for name in names}
    assert {job.slug for job in JOBS} == {job.slug for job in found.values() if job}
    # No name stands in the list for a page that is gone.
    for job in JOBS:
        for known in job.pages.split():
            start = known.rstrip("*")
            assert any(name == start or (known != start and name.startswith(start)) for name in names), known
    assert {found[name].slug for name in ("hoops:batch", "buying:receive", "stock:lot-cut", "crew:own")} == {
        "bend-the-first-hoop",
        "receive-and-store",
        "cut-and-use-offcuts",
        "share-a-bender",
    }
    assert found["sign-in"] is None and found["guide:guide"] is None


def test_a_page_leads_to_its_job(signed_in, client):
    html = page(client, reverse("hoops:batches"))
    assert '<a href="/guide/bend-the-first-hoop/">How this is done: Bend the first hoop</a>' in html
    assert '<a href="/guide/">Guide</a>' in html


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.slug)
def test_a_job_in_spanish_leads_to_the_same_pages_and_explains_the_same_words(signed_in, client, user, job):
    english = main_of(page(client, f"/guide/{job.slug}/"))
    user.language = "es"
    user.save()
    spanish = main_of(page(client, f"/guide/{job.slug}/"))
    for alike in (r'href="(/[^"#]*)"', r'<dt id="([^"]+)"', r"<(ol|li|svg|figure)\b"):
        assert sorted(re.findall(alike, spanish)) == sorted(re.findall(alike, english))
    assert "<h1>" + job.title not in spanish and not re.search(r"[\[\]*]", strip_tags(spanish))
    # Terms in it are found by what they are called there.
    assert '<a class="term"' in spanish


def test_words_of_the_trade_stand_in_the_order_of_the_language(client):
    heard = {"Accept-Language": "es"}
    html = client.get("/guide/words/", headers=heard).content.decode()
    letters = re.findall(r"<section><h2>(.)</h2>", html)
    assert letters == sorted(letters) and "Á" not in letters
    assert html.index(">altura<") < html.index(">dobladora<") < html.index(">manguito<") < html.index(">tramo<")
