"""What keeps a length on one line, what it leaves to the letter, and that it is read back from there."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.http import HttpResponse, JsonResponse
from django.test import RequestFactory
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.common.middleware import unbroken_lengths
from farmbuild.common.unbroken import unbroken
from farmbuild.measure import LengthError, Unit, UnitSystem, format_length, parse_length

LENGTHS = st.integers(0, 16 * 12 * 400).map(lambda sixteenths: Decimal(sixteenths) * Decimal("1.5875"))


def in_page(text: str) -> str:
    return unbroken(text.encode()).decode()


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("<p>6&#x27; 0 15/16&quot; high</p>", "<p>6&#x27;\u00a00\u00a015/16&quot; high</p>"),
        ("<b>6' 7\"</b> 12' 1/2\"", "<b>6'\u00a07\"</b> 12'\u00a01/2\""),
        ("1\u202f852 mm of 3 m", "1\u202f852\u00a0mm of 3\u00a0m"),
        # Two lengths may part, and words part as ever.
        ("<b>6'</b> <small>1 829 mm</small>", "<b>6'</b> <small>1 829\u00a0mm</small>"),
        ("4 months, 7 metres, 2 of 3/4 in pipe", "4 months, 7 metres, 2 of 3/4 in pipe"),
        # What a form sends back stays as it was typed.
        ('<input value="6\' 7&quot;" title="2 mm">', '<input value="6\' 7&quot;" title="2 mm">'),
        ("<textarea>\n38 of 10' 6\", 2 mm</textarea> 2 mm", "<textarea>\n38 of 10' 6\", 2 mm</textarea> 2\u00a0mm"),
        ("<select><option>6' 7\"</option></select>", "<select><option>6' 7\"</option></select>"),
        ("<script>var x = '1 mm'</script>", "<script>var x = '1 mm'</script>"),
    ],
)
def test_only_spaces_inside_lengths_are_held(given, shown):
    assert in_page(given) == shown
    assert in_page(shown) == shown


@given(LENGTHS, st.sampled_from(UnitSystem))
def test_every_length_is_one_piece_and_reads_back_as_it_reads_with_spaces(length, system):
    written = format_length(length, system)
    page = in_page(f"<td>{written}</td>").removeprefix("<td>").removesuffix("</td>")
    assert " " not in page
    assert parse_length(page, Unit.MILLIMETRE) == parse_length(written, Unit.MILLIMETRE)
    if system == UnitSystem.IMPERIAL:
        assert parse_length(page, Unit.FOOT) == length


@given(st.integers(1, 400), st.integers(1, 15))
def test_feet_and_a_fraction_have_a_nought_between_and_are_read_with_and_without(feet, sixteenths):
    length = (feet * 192 + sixteenths) * Decimal("1.5875")
    written = format_length(length, UnitSystem.IMPERIAL)
    assert written.startswith(f"{feet}' 0 ")
    for typed in (written, written.replace("' 0 ", "' ")):
        assert parse_length(typed, Unit.FOOT) == length
    # Under a foot there is none to misread.
    assert "0 " not in format_length(sixteenths * Decimal("1.5875"), UnitSystem.IMPERIAL)


def test_what_was_never_a_length_is_still_refused():
    with pytest.raises(LengthError):
        parse_length("6'\u00a0\u00a0x", Unit.FOOT)


def answered(response: HttpResponse) -> HttpResponse:
    return unbroken_lengths(lambda request: response)(RequestFactory().get("/"))


def test_pages_and_what_scripts_write_into_them_are_held_and_files_are_not():
    assert answered(HttpResponse("<p>2 mm</p>")).content == "<p>2\u00a0mm</p>".encode()
    told = answered(JsonResponse({"understood": "6' 7 1/2\" = 2\u202f019 mm"}))
    assert json.loads(told.content) == {"understood": "6'\u00a07\u00a01/2\" = 2\u202f019\u00a0mm"}
    for kind in ("text/csv", "text/plain", "text/calendar", "application/pdf"):
        assert answered(HttpResponse("6' 7\", 2 mm", content_type=kind)).content == b"6' 7\", 2 mm"


@pytest.mark.django_db
def test_a_length_copied_from_a_page_is_taken_by_a_form(signed_in):
    said = signed_in.get("/understood/", {"text": "6'\u00a00\u00a015/16\"", "unit": "ft", "system": "imperial"}).json()
    assert said == {"understood": "6'\u00a00\u00a015/16\" = 1\u202f853\u00a0mm"}
