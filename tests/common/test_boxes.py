"""Boxes put together in the program say what Django's own templates of them say, to the letter."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django import forms
from django.forms.renderers import TemplatesSetting
from django.utils.safestring import mark_safe

from farmbuild.common.boxes import BOXES
from farmbuild.common.fields import LengthInput
from farmbuild.common.forms import FarmFormRenderer
from farmbuild.measure import Unit

ODD = "\"><b>&'é"
GROUPS = [("", "None"), ("One <group>", [("a", "A & b"), (1, mark_safe("<i>safe</i>"))]), (2, ODD)]


class BySize(forms.Select):
    option_template_name = "plans/house_tick.html"


@pytest.mark.parametrize(
    ("widget", "value"),
    [
        (forms.TextInput(), None),
        (forms.TextInput({"class": ODD, "required": True, "disabled": False, "data-n": 3, "title": None}), ODD),
        (forms.TextInput(), mark_safe("&amp;")),
        (forms.NumberInput({"min": 0}), 7),
        (forms.EmailInput(), "a@example.org"),
        (forms.PasswordInput(), "never shown"),
        (forms.HiddenInput(), 0),
        (forms.DateInput(), date(2027, 5, 3)),
        (forms.CheckboxInput(), True),
        (forms.CheckboxInput({"value": ODD}), "some"),
        (forms.ClearableFileInput(), None),
        (forms.FileInput(), None),
        (forms.Select({"id": "x"}, choices=GROUPS), 1),
        (forms.Select(choices=GROUPS), None),
        (forms.SelectMultiple(choices=GROUPS), ["a", "2"]),
        (forms.RadioSelect(choices=GROUPS), "a"),
        (forms.Textarea(), ODD),
        (BySize(choices=[(1, "One")]), 1),
    ],
    ids=lambda given: type(given).__name__,
)
def test_as_django_says(widget: forms.Widget, value: Any) -> None:
    ours, theirs = (
        widget.render(f"n{ODD}", value, {"id": "i"}, kind()) for kind in (FarmFormRenderer, TemplatesSetting)
    )
    assert " ".join(ours.split()) == " ".join(theirs.split())
    assert "<b>" not in ours


def test_every_box_is_of_a_widget() -> None:
    assert {"django/forms/widgets/select.html", "forms/length_input", "forms/money_input"} <= set(BOXES)


def test_a_length_has_its_unit() -> None:
    box = LengthInput({"data-unit": Unit.FOOT}).render("long", "6' 3\"", {"id": "i"}, FarmFormRenderer())
    assert '<span class="unit" id="i_unit">without a unit: ft</span></span>' in box
    assert 'value="6&#x27; 3&quot;"' in box and 'aria-describedby="i_unit"' in box
    assert box.endswith('<span class="echo" data-echo role="status"></span>')


class Asked(forms.Form):
    name = forms.CharField(label="Name <one>", help_text="As & <b>typed</b>")
    note = forms.CharField(required=False)
    sure = forms.BooleanField(label="Sure", required=False)
    way = forms.ChoiceField(choices=[("a", "A"), ("b", "B")], widget=forms.RadioSelect)


def group(form: forms.Form, name: str) -> str:
    return " ".join(form[name].as_field_group().split())


def test_a_field_with_its_label_and_help() -> None:
    form = Asked(renderer=FarmFormRenderer())
    assert group(form, "name") == (
        '<div class="field"> <div class="label-line"><label for="id_name">Name &lt;one&gt;</label></div>'
        ' <div class="help" id="id_name_helptext">As &amp; &lt;b&gt;typed&lt;/b&gt;</div>'
        ' <input type="text" name="name" required aria-describedby="id_name_helptext" id="id_name"> </div>'
    )
    assert '</label> <span class="optional">optional</span></div>' in group(form, "note")
    assert group(form, "sure") == (
        '<div class="field tick"> <div class="tick-line"><input type="checkbox" name="sure" id="id_sure">'
        '<label for="id_sure">Sure</label></div> </div>'
    )
    assert group(form, "way").startswith('<div class="field"> <fieldset> <div class="label-line"><legend>Way</legend>')
    assert group(form, "way").endswith("</fieldset></div>")


def test_what_is_wrong_stands_at_the_field_with_its_readings() -> None:
    form = Asked({"name": "", "way": "a"}, renderer=FarmFormRenderer())
    form.fields["name"].readings = ("6' 3\"", "63 mm")
    shown = group(form, "name")
    assert shown.startswith('<div class="field wrong">')
    assert (
        '<div class="errors" id="id_name_error"> <svg' in shown
        or '<div class="errors" id="id_name_error"><svg' in shown
    )
    assert "<p>This field is required.</p></div></div>" in shown
    assert '<button name="meant-name" value="6&#x27; 3&quot;">6&#x27; 3&quot;</button>' in shown
    assert "readings" not in group(form, "note")
