"""A page is in the language and units of its reader; what several read is in the organisation's."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import translation

from farmbuild.access.account import save_person
from farmbuild.common.reading import units_of
from farmbuild.measure import UnitSystem
from farmbuild.orgs.languages import in_shared_language, shared_language


def language_of(answer) -> str:
    html = answer.content.decode()
    shown = html.split('<html lang="')[1].split('"')[0]
    assert answer.headers["Content-Language"] == shown
    assert "Accept-Language" in answer.headers["Vary"]
    return shown


@pytest.mark.parametrize(
    ("person", "organisation_s", "browser", "shown"),
    [
        ("", "", "de, fr", "en"),
        ("", "", "es-MX, en;q=0.5", "es"),
        ("", "en", "es", "en"),
        ("", "es", "en", "es"),
        ("en", "es", "es", "en"),
        ("es", "en", "en", "es"),
    ],
)
def test_the_person_chooses_before_the_organisation_and_that_before_the_browser(
    signed_in, user, organisation, person, organisation_s, browser, shown
):
    user.language, organisation.language = person, organisation_s
    user.save()
    organisation.save()
    for path in (reverse("access:account"), "/organisation/"):
        assert language_of(signed_in.get(path, headers={"accept-language": browser})) == shown
    assert translation.get_language() == "en", "the next page of this thread may be of others"
    assert shared_language(organisation) == (organisation_s or "en")
    with in_shared_language(organisation):
        assert translation.get_language() == (organisation_s or "en")


def test_a_stranger_is_spoken_to_as_the_browser_asks(client, organisation):
    assert language_of(client.get(reverse("forgotten"), headers={"accept-language": "es-GT"})) == "es"


def test_somebody_chooses_language_units_and_letters_on_their_own_page(signed_in, user, organisation):
    page = reverse("access:name")
    chosen = {"first_name": "Ida", "email": "", "language": "es", "units": "metric", "large_letters": "on"}
    assert signed_in.post(page, chosen).status_code == 302
    user.refresh_from_db()
    assert (user.language, user.units, user.large_letters) == ("es", "metric", True)
    html = signed_in.get(reverse("access:account")).content.decode()
    assert '<html lang="es" class="large-letters">' in html and "Español, " in html
    for kept in ({"language": "xx"}, {"units": "cubits"}):
        assert signed_in.post(page, chosen | kept).status_code == 200
    user.refresh_from_db()
    assert (user.language, user.units) == ("es", "metric")
    save_person(user=user, first_name="Ida", email="")
    user.refresh_from_db()
    assert user.language == "es", "a service that says nothing of it changes nothing"


def test_lengths_are_read_and_shown_in_the_units_of_the_reader_alone(signed_in, user, organisation):
    assert organisation.unit_system == "imperial"
    user.units = "metric"
    user.save()
    asked = {"kind": "length", "text": "50", "unit": "mm"}
    answer = signed_in.get(reverse("common:understood"), asked)
    html = signed_in.get("/organisation/").content.decode()
    # A saw cut of an eighth of an inch.
    assert 'value="3.175 mm"' in html or 'value="3.175"' in html
    assert answer.status_code == 200
    assert units_of(organisation) == UnitSystem.IMPERIAL, "outside of the page it is the organisation's"
    organisation.refresh_from_db()
    assert organisation.unit_system == "imperial"
