"""How forms are rendered, and lengths that go through a form and come back the same."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django import forms
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.common.fields import LengthFormField, LengthListFormField, format_exact
from farmbuild.common.forms import OrgForm
from farmbuild.measure import UnitSystem
from tests.factories import OrganisationFactory


class HouseForm(OrgForm):
    name = forms.CharField(help_text="As on the gate.", error_messages={"required": "Type what it is called."})
    span = LengthFormField(label="Post span", help_text="Centre to centre.")
    kerf = LengthFormField(label="Saw cut", small=True, required=False)
    boards = LengthListFormField(required=False)
    ends = forms.BooleanField(label="End walls", required=False)
    count = forms.IntegerField(label="Posts", required=False)
    site = forms.ChoiceField(choices=[("a", "A")], required=False, widget=forms.RadioSelect)

    groups = [("Size", ["span", "kerf"]), ("Ends", ["ends", "site"])]


def form(data=None, unit_system="imperial", **kwargs):
    return HouseForm(data, organisation=OrganisationFactory.build(unit_system=unit_system), **kwargs)


def tag(html, name):
    """The opening tag of the input called ``name``."""
    return next(found for found in re.findall(r"<(?:input|select|textarea)[^>]*>", html) if f'name="{name}"' in found)


def test_field_with_an_error_points_to_its_sentence_and_its_help():
    html = str(form({"name": ""}))
    described = re.search(r'aria-describedby="([^"]*)"', tag(html, "name"))[1].split()
    assert described == ["id_name_helptext", "id_name_error"]
    assert 'aria-invalid="true"' in tag(html, "name")
    assert re.search(r'id="id_name_helptext">As on the gate\.<', html)
    assert re.search(r'id="id_name_error">.*?<p>Type what it is called\.</p>', html, re.S)


def test_field_without_an_error_is_not_called_invalid():
    assert "aria-invalid" not in str(form())
    assert "error-summary" not in str(form())


def test_summary_at_the_top_leads_to_each_field():
    html = str(form({"name": "", "span": "a frog"}))
    summary = html[: html.index("<fieldset")]
    assert 'role="alert"' in summary
    assert '<a href="#id_name">Name</a>: Type what it is called.' in summary
    assert '<a href="#id_span">Post span</a>' in summary
    for target in re.findall(r'href="#([^"]+)"', summary):
        assert f'id="{target}"' in html


def test_errors_of_the_whole_form_stand_in_the_summary():
    refused = form({"name": "a", "span": "1"})
    refused.add_error(None, "The house <b> cannot stand.")
    assert "<li>The house &lt;b&gt; cannot stand.</li>" in str(refused)


def test_what_was_typed_is_kept():
    html = str(form({"name": "", "span": "12 & a <frog>"}))
    assert 'value="12 &amp; a &lt;frog&gt;"' in tag(html, "span")


def test_groups_make_fieldsets_and_the_rest_comes_first():
    html = str(form())
    places = [
        html.index(part) for part in ('name="name"', 'name="count"', ">Size<", 'name="span"', ">Ends<", 'name="ends"')
    ]
    assert places == sorted(places)
    assert html.count('<fieldset class="group">') == 2


def test_label_stands_over_the_field_and_beside_a_tick_box():
    html = str(form())
    assert html.index('for="id_span"') < html.index('id="id_span"')
    assert html.index('id="id_ends"') < html.index('for="id_ends"')


def test_unit_stands_in_the_field_s_end_and_is_read_out():
    html = " ".join(str(form()).split())
    assert '<span class="unit" id="id_span_unit">ft</span>' in html
    assert "id_span_unit" in re.search(r'aria-describedby="([^"]*)"', tag(html, "span"))[1].split()
    assert '<span class="unit" id="id_kerf_unit">in</span>' in html
    assert 'data-system="imperial"' in tag(html, "span")


def test_unit_is_the_organisation_s():
    html = str(form(unit_system="metric"))
    assert 'id="id_span_unit">mm, or m below 100</span>' in html
    assert 'id="id_kerf_unit">mm</span>' in html


def test_lists_of_lengths_show_their_unit_and_say_what_they_are():
    html = str(form())
    assert 'id="id_boards_unit">ft</span>' in html
    assert 'data-kind="lengths"' in tag(html, "boards")


def test_numbers_are_typed_as_text_so_that_nothing_typed_is_lost():
    html = str(form({"name": "a", "span": "1", "count": "six"}))
    assert 'type="text"' in tag(html, "count")
    assert 'value="six"' in tag(html, "count")


def test_required_fields_ask_by_name():
    assert form({"name": "a"}).errors["span"] == ["Type the post span."]


@pytest.mark.parametrize(
    "unit_system, span, kerf",
    [("imperial", Decimal("3657.6"), Decimal("3.175")), ("metric", Decimal(12000), Decimal("0.125"))],
)
def test_bare_numbers_are_in_the_organisation_s_unit(unit_system, span, kerf):
    filled = form({"name": "a", "span": "12", "kerf": "0.125"}, unit_system)
    assert filled.is_valid(), filled.errors
    assert (filled.cleaned_data["span"], filled.cleaned_data["kerf"]) == (span, kerf)


def test_an_empty_length_is_none_and_a_short_one_is_refused():
    field = LengthFormField(required=False, minimum=Decimal(100))
    assert field.clean("") is None
    with pytest.raises(forms.ValidationError, match="at least 3 15/16"):
        field.clean("1 mm")


#: Any length that the database holds: millionths of a millimetre, up to ten kilometres.
LENGTHS = st.integers(0, 10**13).map(lambda microns: Decimal(microns).scaleb(-6))


@given(LENGTHS, st.sampled_from(UnitSystem), st.booleans())
def test_length_shown_in_a_form_comes_back_to_the_last_digit(length, system, small):
    field = LengthFormField(small=small)
    field.use_system(system)
    shown = field.prepare_value(length)
    assert field.clean(shown) == length
    assert not field.has_changed(length, shown)


@given(st.integers(0, 64 * 12 * 100), st.sampled_from(UnitSystem))
def test_every_64th_of_an_inch_comes_back(parts, system):
    length = Decimal(parts) * Decimal("0.396875")
    field = LengthFormField()
    field.use_system(system)
    assert field.clean(format_exact(length, system)) == length


@given(st.lists(LENGTHS.filter(bool), min_size=1, max_size=4, unique=True), st.sampled_from(UnitSystem))
def test_lists_of_lengths_come_back(lengths, system):
    field = LengthListFormField()
    field.use_system(system)
    kept = [str(length) for length in sorted(lengths)]
    field.stored = kept
    shown = field.prepare_value(kept)
    if len(shown) <= 200:
        assert [Decimal(item) for item in field.clean(shown)] == sorted(lengths)


def test_lines_come_back_as_they_are_stored_not_as_a_browser_sends_them():
    class Address(OrgForm):
        address = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}))

    sent = Address(
        {"address": "1 Made-up Lane\r\nLarkspur Hollow"},
        organisation=OrganisationFactory.build(),
        initial={"address": "1 Made-up Lane\nLarkspur Hollow"},
    )
    assert sent.is_valid()
    assert sent.cleaned_data["address"] == "1 Made-up Lane\nLarkspur Hollow"
    assert not sent.has_changed()
    assert 'rows="3"' in str(sent)


def test_choices_speak_in_words():
    class Kind(OrgForm):
        kind = forms.ChoiceField(choices=[("", "---------"), ("tube", "Pipe")])
        more = forms.ChoiceField(choices=[("", "---------"), ("tube", "Pipe")], required=False)
        named = forms.ChoiceField(choices=[("", "Not known"), ("a", "A")], required=False)

    sent = Kind({"kind": "gone"}, organisation=OrganisationFactory.build())
    html = str(sent)
    assert "----" not in html
    assert [
        re.search(rf'name="{name}".*?<option[^>]*>([^<]+)<', html, re.S)[1] for name in ("kind", "more", "named")
    ] == [
        "Choose one",
        "None",
        "Not known",
    ]
    assert sent.errors["kind"] == ["This choice is not on the list any more. Choose one from the list."]
