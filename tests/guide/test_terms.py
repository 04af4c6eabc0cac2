"""Terms of the trade are linked to the guide where they stand: once a page, and nothing else is touched."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.template import Context, Template
from django.utils.html import strip_tags
from django.utils.translation import override

from farmbuild.common.term_links import link_terms
from farmbuild.common.terms import TERMS, finder

WHAT = 'scope="row" class="what" data-at="name"'


def href(name: str) -> str:
    return TERMS[name].href


def a(name: str, words: str) -> str:
    return f'<a class="term" href="{href(name)}">{words}</a>'


@pytest.mark.parametrize(
    ("markup", "linked"),
    [
        ("<h1>Take-off of North 1</h1>", f"<h1>{a('take-off', 'Take-off')} of North 1</h1>"),
        ("<h2>\n  Trial\n hoops</h2>", f"<h2>\n  {a('trial hoop', 'Trial' + chr(10) + ' hoops')}</h2>"),
        ("<dt>Stop gap</dt><dd>1 in</dd>", f"<dt>{a('stop gap', 'Stop gap')}</dt><dd>1 in</dd>"),
        # The longest term counts, and a word inside another is none.
        ("<h2>Hip boards, swaged end</h2>", f"<h2>{a('hip board', 'Hip boards')}, {a('swage', 'swaged end')}</h2>"),
        ("<h2>Bayonet, cobaye, pre-batch</h2>", "<h2>Bayonet, cobaye, pre-batch</h2>"),
        # Everyday words are linked where they stand alone.
        ("<h2>Held</h2>", f"<h2>{a('hold', 'Held')}</h2>"),
        ("<h2>Held up by rain, a lot of it</h2>", "<h2>Held up by rain, a lot of it</h2>"),
        # Once a page.
        ("<h2>Offcuts</h2><h3>Offcuts</h3>", f"<h2>{a('offcut', 'Offcuts')}</h2><h3>Offcuts</h3>"),
        # What opens a fold is pressed for that alone.
        (
            "<summary>\n<h2>Benders</h2></summary><h2>Benders</h2>",
            "<summary>\n<h2>Benders</h2></summary>"
            f'<p class="terms">What is meant by: {a("bender", "bender")}</p><h2>Benders</h2>',
        ),
        # A figure's name, and no row of a list.
        (f"<th {WHAT}>Spring-in</th>", f"<th {WHAT}>{a('spring-in', 'Spring-in')}</th>"),
        # Running text, attributes, links, buttons, boxes and what people typed as text stay.
        ('<p>A trial hoop</p><h2 title="purlin">x</h2>', '<p>A trial hoop</p><h2 title="purlin">x</h2>'),
        ('<h2><a href="/x/">Purlins</a></h2>', '<h2><a href="/x/">Purlins</a></h2>'),
        ("<dt><button>Purlins</button></dt>", "<dt><button>Purlins</button></dt>"),
        ("<h1>&lt;i&gt;purlin &amp; co</h1>", f"<h1>&lt;i&gt;{a('purlin', 'purlin')} &amp; co</h1>"),
        ('<div class="help">In a purlin.</div>', f'<div class="help">In a {a("purlin", "purlin")}.</div>'),
        ('<td class="help">In a purlin.</td>', '<td class="help">In a purlin.</td>'),
        ("<table><tbody><tr><th>Purlin</th></tr></tbody></table>",) * 2,
    ],
)
def test_a_term_is_linked_where_it_names_something(markup, linked):
    assert link_terms(markup) == linked


def test_of_a_page_shown_again_each_form_has_its_own_token():
    form = '<h2>Purlins</h2><form><input type="hidden" name="{}" value="{}"></form>'
    shown = [
        link_terms(form.format("a", one) + form.format("b", two)) for one, two in (("1", "2"), ("3", ""), ("1", "4"))
    ]
    assert shown == [
        f'<h2>{a("purlin", "Purlins")}</h2><form><input type="hidden" name="a" value="{one}"></form>'
        + form.format("b", two)
        for one, two in (("1", "2"), ("3", ""), ("1", "4"))
    ]


def test_a_label_stays_whole_and_has_its_link_beside():
    linked = link_terms('<label for="id_gap">Stop gap</label> <input id="id_gap">')
    assert linked.startswith('<label for="id_gap">Stop gap</label> <a class="term ask"')
    assert strip_tags(linked).strip() == "Stop gap ?Meaning of stop gap"


def test_headings_of_a_table_are_told_under_it_and_rows_are_left():
    head = '<thead><tr><th><a href="?sort=lot">Lot</a></th><th>Offcut</th></tr></thead>'
    linked = link_terms(f"<h1>Offcuts</h1><table>{head}<tbody><tr><th>Purlin</th></tr></tbody></table>")
    assert head in linked
    assert linked.endswith(f'</table><p class="terms">What is meant by: {a("lot", "lot")}</p>')


def test_a_link_made_by_hand_is_the_first():
    made = Template('{% load farm %}{% terms_linked %}<p>{% term "held" %}</p><h2>Held</h2>{% end_terms_linked %}')
    assert made.render(Context()) == f"<p>{a('hold', 'held')}</p><h2>Held</h2>"
    with pytest.raises(KeyError):
        Template('{% load farm %}{% term "no such term" %}').render(Context())


@pytest.mark.parametrize("language", [language for language, _ in settings.LANGUAGES])
def test_no_form_of_a_term_is_that_of_another_in_any_language(language):
    with override(language):
        forms = [(form, term) for term in TERMS.values() for form in term.forms]
        assert len(forms) == len({form.casefold() for form, _ in forms})
        assert all(finder().term(form.upper()) is term for form, term in forms)
        assert all(form and form == form.strip() and "*" not in form for form, _ in forms)


@pytest.mark.parametrize(
    ("markup", "linked"),
    [
        ("<h1>Lista de materiales de Norte 1</h1>", f"<h1>{a('take-off', 'Lista de materiales')} de Norte 1</h1>"),
        ("<dt>Hueco del tope</dt>", f"<dt>{a('stop gap', 'Hueco del tope')}</dt>"),
        # The longest counts, in any number and with any space.
        ("<h2>Arcos\n de prueba</h2>", f"<h2>{a('trial hoop', 'Arcos' + chr(10) + ' de prueba')}</h2>"),
        ("<h2>Cargadobladora, dobladoras</h2>", f"<h2>Cargadobladora, {a('bender', 'dobladoras')}</h2>"),
        # What is an everyday word in this language, whatever it is in another.
        ("<h2>Modelos</h2>", f"<h2>{a('starter', 'Modelos')}</h2>"),
        ("<h2>El modelo de un teléfono</h2>", "<h2>El modelo de un teléfono</h2>"),
        ("<h2>Jalones</h2><h2>Cada jalón</h2>", f"<h2>{a('pull', 'Jalones')}</h2><h2>Cada jalón</h2>"),
        ("<h2>Ancho del corte, jalón</h2>", f"<h2>{a('kerf', 'Ancho del corte')}, {a('pull', 'jalón')}</h2>"),
        # English is read in English alone.
        ("<h2>Stop gap of a purlin</h2>", "<h2>Stop gap of a purlin</h2>"),
    ],
)
def test_a_term_is_linked_in_spanish_where_it_names_something(markup, linked):
    with override("es"):
        assert link_terms(markup) == linked
    assert link_terms("<h2>Dobladora, purlin</h2>") == f"<h2>Dobladora, {a('purlin', 'purlin')}</h2>"


def test_what_is_said_of_a_term_is_said_in_spanish_too():
    with override("es"):
        assert strip_tags(link_terms('<label for="x">Claro libre</label>')) == "Claro libre ?Qué significa claro libre"
        table = link_terms("<table><thead><tr><th>Sobrantes</th></tr></thead></table>")
        assert table.endswith(f": {a('offcut', 'sobrante')}</p>")
