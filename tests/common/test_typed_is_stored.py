"""What is typed is stored as the page said that it was understood: real forms, and the answer that a page asks for."""

from __future__ import annotations

import json
import re
from decimal import Decimal

import pytest
from django.test import RequestFactory
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.catalogue.fields import CountField, MoneyField, use_organisation
from farmbuild.common.fields import LengthFormField, LengthListFormField
from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import DecimalFormField
from farmbuild.common.views.understood import understood
from farmbuild.measure import THIN_SPACE, NumberStyle, typed_as, use_style
from tests.factories import OrganisationFactory

STYLES = {"point": NumberStyle(".", ","), "comma": NumberStyle(",", THIN_SPACE), "spaced": NumberStyle(".", THIN_SPACE)}


class TypedForm(OrgForm):
    money = MoneyField(required=False)
    count = CountField(required=False, least=0)
    decimal = DecimalFormField(required=False)
    length = LengthFormField(required=False)
    small = LengthFormField(required=False, small=True)
    boards = LengthListFormField(required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)


#: Digits and all that people put between and around them, more often where it could be read two ways.
TEXTS = (
    st.text(alphabet="0123456789.,", min_size=1, max_size=9)
    | st.text(alphabet="0123456789., \u00a0\u202f'\"/-;m½", min_size=1, max_size=14)
    | st.from_regex(r"\A[1-9]\d{0,2}[.,\u202f ]\d{3}([.,]\d{1,3})?( ?(mm|m|€|%))?\Z")
    | st.from_regex(r"\A\d{1,4}([.,]\d{1,3})? ?(m|mm|cm|ft|')?(, ?|; ?)\d{1,4}([.,]\d)? ?(m|mm|cm|ft|')?\Z")
)


def figures(words: str, style: NumberStyle) -> Decimal:
    """The number of a sentence, read without any of the readers."""
    plain = re.sub(r"[^\d.,-]", "", words.replace(THIN_SPACE, ""))
    return Decimal(plain.replace(style.other, "").replace(style.decimal, "."))


def millimetres(words: str, style: NumberStyle) -> list[Decimal]:
    """What is thinner than half a millimetre is said in thousandths of one."""
    found = re.findall(r"([\d.,\u202f]+) (mm|µm)", words)
    return [figures(number, style) * Decimal("0.001" if unit == "µm" else 1) for number, unit in found]


def asked(form: OrgForm, name: str, text: str) -> dict[str, str]:
    """What the page script sends for the box, from what stands on the box."""
    attrs = form.fields[name].widget.get_context(name, text, {"id": "x"})["widget"]["attrs"]
    default = "length" if attrs.get("data-unit") else {"numeric": "count"}.get(attrs.get("inputmode"), "decimal")
    query = {key: str(attrs.get(f"data-{key}", "")) for key in ("unit", "system", "places")}
    request = RequestFactory().get("/", query | {"text": text.strip(), "kind": attrs.get("data-kind", default)})
    request.organisation = form.organisation
    return json.loads(understood(request).content)


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("name", list(TypedForm.base_fields))
@given(text=TEXTS, chosen=st.sampled_from(sorted(STYLES)))
def test_no_text_is_stored_as_another_number_than_was_said(name, units, text, chosen):
    style = STYLES[chosen]
    organisation = OrganisationFactory.build(unit_system=units, currency="EUR")
    with use_style(style):
        form = TypedForm({name: text}, organisation=organisation)
        if not form.is_valid() or form.cleaned_data[name] in (None, []):
            return
        stored, said = form.cleaned_data[name], asked(form, name, text)
        assert "problem" not in said
        words = said["understood"]
        if name == "boards":
            # One sentence a length; the longest and the shortest of each are as long as what is stored.
            found = millimetres(words, style)
            for length in map(Decimal, stored):
                assert min(abs(length - shown) for shown in found) <= Decimal("0.5")
        elif name in ("length", "small"):
            shown = min(millimetres(words, style), key=lambda shown: abs(shown - stored))
            assert abs(shown - stored) <= (Decimal("0.5") if stored >= 100 else Decimal("0.005"))
        elif words:
            assert figures(words, style) == stored
        else:
            assert text.strip() in (str(stored), typed_as(Decimal(stored), style))


@pytest.mark.parametrize("name", ["money", "decimal", "length"])
@given(value=st.decimals(0, 10**5, places=3), chosen=st.sampled_from(sorted(STYLES)))
def test_what_a_form_shows_is_stored_again_unchanged(name, value, chosen):
    organisation = OrganisationFactory.build(unit_system="metric", currency="EUR")
    with use_style(STYLES[chosen]):
        field = TypedForm(organisation=organisation).fields[name]
        shown = field.prepare_value(value)
        assert field.clean(shown) == value
        assert not field.has_changed(value, shown)
