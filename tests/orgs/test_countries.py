"""Countries propose a decimal sign; checked against the formats that Django ships for their languages."""

from importlib import import_module

import pytest
from django.urls import reverse
from django.utils.translation import to_locale

from farmbuild.measure import THIN_SPACE, current_style, places
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.countries import COUNTRIES
from farmbuild.orgs.models import Organisation
from tests.quality.test_one_clock import form_values

LANGUAGES = {
    "AT": "de", "BR": "pt-br", "CZ": "cs", "DE": "de", "DK": "da", "ES": "es", "FI": "fi", "FR": "fr", "GB": "en-gb",
    "GR": "el", "HR": "hr", "HU": "hu", "IE": "en", "IS": "is", "IT": "it", "JP": "ja", "KR": "ko", "MX": "es-mx",
    "NL": "nl", "NO": "nb", "NZ": "en", "PL": "pl", "PT": "pt", "RO": "ro", "SE": "sv", "SI": "sl", "SK": "sk",
    "TH": "th", "TR": "tr", "UA": "uk", "US": "en", "AU": "en-au",
}  # fmt: skip


@pytest.mark.parametrize(("country", "language"), LANGUAGES.items())
def test_decimal_signs(country: str, language: str) -> None:
    # As Django ships them: pages in Spanish write numbers by the organisation's sign.
    formats = import_module(f"django.conf.locale.{to_locale(language)}.formats")
    assert COUNTRIES[country].decimal_sign == formats.DECIMAL_SEPARATOR


def test_every_country_is_whole() -> None:
    for code, country in COUNTRIES.items():
        assert len(code) == 2 and len(country.currency) == 3 and country.name
        assert places(country.currency) in (0, 2, 3)


@pytest.mark.django_db
def test_the_page_proposes_what_is_usual(signed_in, organisation: Organisation) -> None:
    address = reverse("orgs:organisation")
    values = form_values(signed_in) | {"country": "AT"}
    assert signed_in.post(address, values).status_code == 302
    page = signed_in.get(address).content.decode()
    assert "Usual in Austria: a comma." in page
    assert "Usual in Austria: metres and millimetres." in page
    assert "Usual in Austria: EUR." in page
    signed_in.post(address, values | {"decimal_sign": ",", "unit_system": "metric", "currency": "EUR"})
    organisation.refresh_from_db()
    assert (organisation.country, organisation.decimal_sign) == ("AT", ",")
    assert "Usual in Austria" not in signed_in.get(address).content.decode()
    assert "not on the list" in signed_in.post(address, values | {"country": "XX"}).content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("sign", "units", "group"),
    [(".", "imperial", ","), (".", "metric", THIN_SPACE), (",", "metric", THIN_SPACE), (",", "imperial", THIN_SPACE)],
)
def test_the_style_of_an_organisation(organisation: Organisation, sign: str, units: str, group: str) -> None:
    organisation.decimal_sign, organisation.unit_system = sign, units
    with zone_in_force(organisation):
        assert (current_style().decimal, current_style().group) == (sign, group)
    assert current_style().group == ","
