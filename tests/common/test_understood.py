"""What the page says it understood of a typed length."""

from __future__ import annotations

import pytest
from django.urls import reverse

from farmbuild.common.fields import understood_length
from farmbuild.measure import Unit, UnitSystem


@pytest.mark.parametrize(
    "text, unit, system, said",
    [
        # 87.5 in x 25.4 = 2222.5 mm; 87.625 x 25.4 = 2225.675 mm.
        ("7' 3 1/2\"", Unit.FOOT, UnitSystem.IMPERIAL, "7' 3 1/2\" = 2\u202f223 mm"),
        ("7' 3 5/8\"", Unit.FOOT, UnitSystem.METRIC, "7' 3 5/8\" = 2\u202f226 mm"),
        ("12", Unit.FOOT, UnitSystem.IMPERIAL, "12' = 3\u202f658 mm"),
        ("2.38 m", Unit.FOOT, UnitSystem.IMPERIAL, "2\u202f380 mm = 7' 9 11/16\""),
        ("2380", Unit.MILLIMETRE, UnitSystem.METRIC, "2\u202f380 mm = 7' 9 11/16\""),
        # Rounding to a sixteenth would say 1/8": what was typed stands instead. 3/32 x 25.4 = 2.38125.
        ("3/32", Unit.INCH, UnitSystem.IMPERIAL, "3/32 in = 2.38 mm"),
        ("1/8", Unit.INCH, UnitSystem.IMPERIAL, '1/8" = 3.18 mm'),
        ("0", Unit.INCH, UnitSystem.IMPERIAL, '0" = 0 mm'),
    ],
)
def test_both_systems_are_said_and_the_exact_one_first(text, unit, system, said):
    assert understood_length(text, unit, system) == said


def ask(client, **query):
    return client.get(reverse("common:understood"), query)


def test_page_asks_and_is_told(signed_in):
    assert ask(signed_in, text="12", unit="ft", system="imperial").json() == {"understood": "12' = 3\u202f658\u00a0mm"}


def test_system_is_the_organisation_s_when_not_named(signed_in, organisation):
    organisation.unit_system = "metric"
    organisation.save()
    # Neither is exact on paper, so the order of the two shows whose system it is.
    assert ask(signed_in, text="0", unit="mm").json() == {"understood": '0\u00a0mm = 0"'}


def test_what_cannot_be_read_is_answered_with_what_to_type(signed_in):
    answer = ask(signed_in, text="a frog", unit="in")
    assert answer.status_code == 200
    assert answer.json() == {
        "problem": '“a frog” cannot be read as a length. Type it like 93\u00a01/2" or 7\'\u00a09\u00a01/2".'
    }


@pytest.mark.parametrize("query", [{"unit": "furlong"}, {"unit": "ft", "system": "roman"}, {}])
def test_unknown_units_are_refused(signed_in, query):
    assert ask(signed_in, text="1", **query).status_code == 400


def test_only_for_people_who_are_signed_in(client, db):
    answer = ask(client, text="12", unit="ft")
    assert answer.status_code == 302
    assert answer.url.startswith(reverse("sign-in"))


def test_only_asks(signed_in):
    assert signed_in.post(reverse("common:understood"), {"text": "12", "unit": "ft"}).status_code == 405


def in_commas(organisation):
    organisation.unit_system, organisation.decimal_sign, organisation.currency = "metric", ",", "EUR"
    organisation.save()


@pytest.mark.parametrize(
    "kind, text, said",
    [
        ("money", "12,50", {"understood": "€12,50"}),
        ("money", "1.234,5", {"understood": "€1\u202f234,50"}),
        ("money", "3.750", {"problem": "“3.750” could be 3750 or 3,750. Type it one of these ways."}),
        ("count", "24", {"understood": ""}),
        ("count", "1200", {"understood": "1\u202f200"}),
        ("count", "1.200", {"understood": "1\u202f200"}),
        ("decimal", "8,25", {"understood": ""}),
        ("decimal", ",5", {"understood": "0,5"}),
        ("decimal", "8.25", {"problem": "“8.25”: decimals take a comma here. If you mean 8,25, type it so."}),
    ],
)
def test_numbers_of_a_farm_with_a_decimal_comma(signed_in, organisation, kind, text, said):
    in_commas(organisation)
    assert ask(signed_in, text=text, kind=kind, places="4").json() == said


def test_every_length_of_a_list_is_said(signed_in, organisation):
    in_commas(organisation)
    said = ask(signed_in, text="3,9 m; 4800", kind="lengths", unit="m").json()["understood"]
    assert said == "2 lengths: 3\u202f900\u00a0mm = 12'\u00a09\u00a09/16\"; 4\u202f800\u00a0mm = 15'\u00a09\""


def test_an_unknown_kind_is_refused(signed_in):
    assert ask(signed_in, text="1", kind="angle").status_code == 400
