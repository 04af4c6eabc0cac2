"""The page of a drawing set and its files, over the site."""

from __future__ import annotations

import time

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.sites.models import House
from farmbuild.sites.services import archive_house
from tests.drawings.making import house_of
from tests.factories import MembershipFactory
from tests.reading import text_of

NAMES = ("drawings:set", "drawings:pdf", "drawings:dxf")


@pytest.fixture
def house(user):
    return house_of(user, "12-ft-house")


def address(name: str, house: House) -> str:
    return reverse(name, args=[house.slug])


def test_from_the_house_to_both_files(signed_in, house):
    page = signed_in.get(house.get_absolute_url()).content.decode()
    assert page.count(f'href="{address("drawings:set", house)}"') == 1
    page = signed_in.get(address("drawings:set", house))
    words = text_of(page)
    assert "7 sheets on ANSI B (17 x 11 in), drawn from the spec saved" in words
    for who in ("For the building office", "For the crew", "For the supplier", "For an engineer"):
        assert words.count(who) == 1
    assert "This is a plan, not a structural design" in words
    assert page.content.decode().count("<svg viewBox") == 5
    pdf = signed_in.get(address("drawings:pdf", house))
    assert (pdf["Content-Type"], pdf.content[:5]) == ("application/pdf", b"%PDF-")
    assert pdf["Content-Disposition"] == f'inline; filename="drawings-{house.slug}.pdf"'
    for whose in ("crew", "supplier"):
        part = signed_in.get(address("drawings:pdf", house) + f"?for={whose}&paper=a3")
        assert part["Content-Disposition"] == f'inline; filename="drawings-{house.slug}-{whose}.pdf"'
    dxf = signed_in.get(address("drawings:dxf", house))
    assert (dxf["Content-Type"], dxf.content.split()[:2]) == ("image/vnd.dxf", [b"0", b"SECTION"])
    assert dxf["Content-Disposition"] == f'attachment; filename="drawings-{house.slug}.dxf"'


def test_the_reader_chooses_the_paper(signed_in, house):
    words = text_of(signed_in.get(address("drawings:set", house) + "?paper=a3"))
    assert "sheets on A3 (420 x 297 mm)" in words and "Draw them on ANSI B (17 x 11 in)" in words


def test_in_metres(signed_in, user, in_units):
    in_units("metric")
    house = house_of(user, "8-m-house")
    assert "sheets on A3 (420 x 297 mm)" in text_of(signed_in.get(address("drawings:set", house)))


@pytest.mark.parametrize("name", NAMES)
def test_another_organisation_finds_nothing(client, house, name):
    client.force_login(MembershipFactory().user)
    assert client.get(address(name, house)).status_code == 404
    client.logout()
    assert client.get(address(name, house)).status_code == 302


@pytest.mark.parametrize(("whole", "reader", "said"), [("en", "es", "Section"), ("es", "en", "Secci")])
def test_the_files_are_in_the_language_of_the_organisation(signed_in, user, organisation, house, whole, reader, said):
    organisation.language, user.language = whole, reader
    organisation.save()
    user.save()
    drawn = b"".join(signed_in.get(address("drawings:dxf", house))).decode()
    assert said in drawn and ("PRECAUCI" in drawn) == (whole == "es") and ("CAUTION" in drawn) == (whole == "en")
    found = signed_in.get(address("drawings:set", house)).content.decode()
    assert ("Vista lateral y planta" in found) == (reader == "es")


@pytest.mark.parametrize("name", NAMES)
def test_an_archived_house_is_still_drawn(signed_in, user, house, name):
    archive_house(organisation=house.organisation, user=user, house=house)
    answer = signed_in.get(address(name, house))
    assert answer.status_code == 200
    if name == "drawings:set":
        assert "Archived since" in text_of(answer)


def test_a_house_that_cannot_be_built_says_what_is_missing(signed_in, house):
    House.objects.filter(pk=house.pk).update(post_length=0)
    page = signed_in.get(address("drawings:set", house))
    assert "it has no drawings yet" in text_of(page) and "Ground post length" in text_of(page)
    assert "Correct the spec" in text_of(page)
    for name in NAMES[1:]:
        answer = signed_in.get(address(name, house), follow=True)
        assert answer.redirect_chain[-1][0] == address("drawings:set", house)
        assert "cannot be built as it is specified" in text_of(answer)


def test_drawn_again_after_a_change(signed_in, house):
    """The files follow the house; nothing is kept of them."""
    before = signed_in.get(address("drawings:pdf", house)).content
    assert signed_in.get(address("drawings:pdf", house)).content == before
    House.objects.filter(pk=house.pk).update(post_depth=500)
    assert signed_in.get(address("drawings:pdf", house)).content != before


def test_as_many_queries_for_a_long_house(signed_in, house):
    counts = []
    for length in (house.length, house.length * 10):
        House.objects.filter(pk=house.pk).update(length=length)
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert signed_in.get(address("drawings:set", house)).status_code == 200
        counts.append(len(caught))
    assert counts[0] == counts[1] <= 12


#: Of a house of 400 hoops: seconds of processor time, and bytes.
MAX_SECONDS, MAX_PDF, MAX_DXF, MAX_PAGE = 20, 1_000_000, 4_000_000, 600_000


def test_four_hundred_hoops_are_drawn_in_bounds(signed_in, house):
    House.objects.filter(pk=house.pk).update(length=house.spacing_wanted * 399)
    begun = time.process_time()
    page, pdf, dxf = (signed_in.get(address(name, house)).content for name in NAMES)
    assert time.process_time() - begun < MAX_SECONDS
    assert len(pdf) < MAX_PDF and len(dxf) < MAX_DXF and len(page) < MAX_PAGE
    assert "First bays" in page.decode()
    # Each of them is there: two posts and two hoops in side view and plan.
    assert dxf.count(b"\n  8\nposts\n") >= 3 * 400


def test_ten_thousand_hoops_are_drawn_one_in_five(signed_in, house):
    House.objects.filter(pk=house.pk).update(spacing_wanted=300, length=300 * 9_999)
    dxf = signed_in.get(address("drawings:dxf", house)).content
    assert b"One hoop in 5 is drawn." in dxf
