"""Pages of stock: what they show, what they refuse at the field, and whose rows they never show."""

from __future__ import annotations

import io
from datetime import date
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.stock.models import ImportDraft, Lot, LotNumbers, Movement, Place
from farmbuild.stock.services import scrap
from tests.factories import (
    FOOT,
    INCH,
    LotFactory,
    MaterialFactory,
    MembershipFactory,
    PlaceFactory,
    SiteFactory,
    SupplierFactory,
)
from tests.reading import text_of
from tests.stock.files import old_workbook, workbook

pytestmark = pytest.mark.django_db
LOTS = reverse("stock:lots")


@pytest.fixture
def rail(organisation):
    return MaterialFactory(organisation=organisation, code="rail-1-3-8", name="1-3/8 rail")


@pytest.fixture
def lot(rail):
    return LotFactory(material=rail, reference="RACK-1", on_hand=20)


def post_lot(client, rail, **changes):
    given = {
        "material": rail.pk,
        "length": "10'",
        "quantity": "38",
        "place_name": "Barn rack",
        "site": "",
        "supplier": "",
        "unit_cost": "12.90",
        "received_on": "2027-03-01",
        "reference": "",
    } | changes
    return client.post(reverse("stock:receive"), given)


# The list


def test_list_says_what_there_is_and_draws_it(signed_in, rail):
    LotFactory(material=rail, on_hand=38, unit_cost=Decimal("12.90"))
    LotFactory(material=rail, on_hand=1, length=INCH * Decimal("87.5"), offcut=True, unit_cost=Decimal(8))
    screw = MaterialFactory(organisation=rail.organisation, kind="fastener", name="Screw")
    LotFactory(material=screw, length=None, on_hand=180, unit_cost=Decimal("0.0625"))
    page = text_of(signed_in.get(LOTS))
    assert "38 sticks in stock: all free." in page
    assert "3 lots: 38 sticks, 1 stick offcut and 180 fasteners" in page
    assert "$509.45" in page
    assert page.count("1-3/8 rail, 10&#x27; (3\u202f048 mm)</title>") == 1
    assert "38 sticks: all free.</desc>" in page
    assert "1-3/8 rail, 7&#x27; 3 1/2&quot; (2\u202f223 mm)</title>" in page
    assert "1 offcut: free.</desc>" in page
    assert "0.0625" in page
    assert "509.45" in page


def test_an_empty_yard_offers_the_first_step(signed_in):
    page = text_of(signed_in.get(LOTS))
    assert "Nothing is in stock yet." in page
    assert reverse("stock:receive") in page


def test_filters_narrow_rows_sums_and_drawing_alike(signed_in, rail):
    organisation = rail.organisation
    north = SiteFactory(organisation=organisation, slug="north-field")
    rack = PlaceFactory(organisation=organisation, site=north)
    other = MaterialFactory(organisation=organisation, code="emt-3-4", name="EMT")
    kept = LotFactory(material=rail, place=rack, on_hand=3, reference="KEPT")
    LotFactory(material=other, on_hand=4, reference="OTHER")
    cut = LotFactory(material=rail, on_hand=5, offcut=True, reference="CUT")
    none = LotFactory(material=rail, on_hand=0, reference="NONE")

    def shown(**query):
        response = signed_in.get(LOTS, query)
        table = response.context["table"]
        assert response.context["totals"].lots == len(table.data)
        return {row.record.reference for row in table.rows}

    assert shown() == {"KEPT", "OTHER", "CUT"}
    assert shown(material="rail-1-3-8") == {"KEPT", "CUT"}
    assert shown(site="north-field") == {"KEPT"}
    assert shown(place=kept.place.pk) == {"KEPT"}
    assert shown(place=cut.place.pk) == {"CUT"}
    assert shown(offcuts="only") == {"CUT"}
    assert shown(offcuts="none") == {"KEPT", "OTHER"}
    assert shown(material="rail-1-3-8", empty="on") == {"KEPT", "CUT", none.reference}
    assert shown(material="nothing", offcuts="x", place="y") == {"KEPT", "OTHER", "CUT"}


def test_list_asks_as_often_at_ten_thousand_lots_as_at_ten(signed_in, rail, django_assert_num_queries):
    def fill(count):
        place = PlaceFactory(organisation=rail.organisation)
        supplier = SupplierFactory(organisation=rail.organisation)
        Lot.objects.bulk_create(
            Lot(
                organisation=rail.organisation,
                material=rail,
                place=place,
                supplier=supplier,
                reference=f"{place.pk}-{number}",
                length=FOOT * (1 + number % 20),
                received_on=date(2027, 1, 1),
                on_hand=1 + number % 3,
            )
            for number in range(count)
        )

    fill(10)
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as few:
        signed_in.get(LOTS)
    fill(9_990)
    with django_assert_num_queries(len(few)):
        response = signed_in.get(LOTS)
    assert response.context["totals"].lots == 10_000
    assert "Rows 1 to 6 of 10,000" in text_of(response)
    # One more asks whether there are members, who may own lots; four what the rows say, before and after.
    assert len(few) <= 19


@pytest.mark.parametrize("page", ["0", "-1", "99999", "x", ""])
def test_a_page_that_is_not_there_shows_one_that_is(signed_in, lot, page):
    response = signed_in.get(LOTS, {"page": page})
    assert response.status_code == 200
    assert "RACK-1" in text_of(response)


@pytest.mark.parametrize("sort", ["material", "-length", "on_hand", "place", "-supplier", "reference", "nothing"])
def test_the_list_sorts(signed_in, lot, sort):
    assert "RACK-1" in text_of(signed_in.get(LOTS, {"sort": sort}))


# Receiving


def test_receiving_a_lot_makes_the_place_and_gives_the_number(signed_in, rail, user):
    north = SiteFactory(organisation=rail.organisation)
    response = post_lot(signed_in, rail, site=north.pk)
    lot = Lot.objects.get()
    assert response.url == reverse("stock:lot", args=[lot.pk])
    assert (lot.reference, lot.length, lot.on_hand, lot.unit_cost) == ("L-0001", FOOT * 10, 38, Decimal("12.9"))
    assert (lot.place.name, lot.place.site, lot.movements.get().by) == ("Barn rack", north, user)


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"length": "ten"}, "length", "Type it like"),
        ({"length": "-10"}, "length", "cannot be below zero"),
        ({"length": "0"}, "length", "longer than zero"),
        ({"length": ""}, "length", "comes by length"),
        ({"quantity": ""}, "quantity", "whole number from 1 to 999,999,999"),
        ({"quantity": "0"}, "quantity", "whole number from 1 to 999,999,999"),
        ({"quantity": "-4"}, "quantity", "whole number from 1 to 999,999,999"),
        ({"quantity": "1000000000000"}, "quantity", "whole number from 1 to 999,999,999"),
        ({"quantity": "9" * 5000}, "quantity", "whole number from 1 to 999,999,999"),
        ({"quantity": "2.5"}, "quantity", "whole number from 1 to 999,999,999"),
        ({"unit_cost": "dear"}, "unit_cost", "not an amount of money"),
        ({"unit_cost": "-1"}, "unit_cost", "below zero"),
        ({"unit_cost": "1.23456"}, "unit_cost", "more than 4 decimals"),
        ({"unit_cost": "99999999999"}, "unit_cost", "Type an amount below"),
        ({"place_name": "  "}, "place_name", "Type where it lies"),
        ({"received_on": "3.5.27"}, "received_on", "year-month-day"),
        ({"received_on": "1827-05-03"}, "received_on", "from 1980 on"),
        ({"material": ""}, "material", "Choose the material"),
        ({"reference": "RACK-1"}, "reference", "There is a lot RACK-1 already"),
        ({"reference": "x" * 41}, "reference", "at most 40"),
    ],
)
def test_what_cannot_be_received_is_refused_at_the_field(signed_in, lot, rail, changes, field, words):
    typed = {"place_name": "Creek shed"} | changes
    response = post_lot(signed_in, rail, **typed)
    errors = response.context["form"].errors
    assert list(errors) == [field]
    assert words in errors[field][0]
    # What was typed is still there, and nothing is half done.
    assert all(response.context["form"][name].value() == value for name, value in typed.items())
    assert list(Lot.objects.all()) == [lot]
    assert not Place.objects.filter(name="Creek shed").exists()
    assert not LotNumbers.objects.exists()


def test_a_length_for_screws_is_refused(signed_in, rail):
    screw = MaterialFactory(organisation=rail.organisation, kind="fastener", name="Screw")
    errors = post_lot(signed_in, screw).context["form"].errors
    assert errors["length"] == ["Screw is counted, not measured. Leave the length empty."]


def test_a_place_at_another_site_is_refused_and_nothing_kept(signed_in, rail):
    organisation = rail.organisation
    PlaceFactory(organisation=organisation, name="Barn rack", site=SiteFactory(organisation=organisation, name="North"))
    response = post_lot(signed_in, rail, site=SiteFactory(organisation=organisation).pk)
    assert "Barn rack is at North" in response.context["form"].errors["site"][0]
    assert not Lot.objects.exists()


def test_non_latin_text_is_kept(signed_in, rail):
    post_lot(signed_in, rail, place_name="納屋 É", reference="ロット✓")
    assert (Lot.objects.get().place.name, Lot.objects.get().reference) == ("納屋 É", "ロット✓")


def test_metric_lengths_are_read_in_metres(signed_in, rail, organisation):
    organisation.unit_system = "metric"
    organisation.save()
    post_lot(signed_in, rail, length="2.5")
    assert Lot.objects.get().length == Decimal(2500)


# A lot


def test_lot_page_tells_its_movements(signed_in, lot, user):
    scrap(organisation=lot.organisation, user=user, lot=lot, quantity=3, reason="bent <twice>")
    page = text_of(signed_in.get(reverse("stock:lot", args=[lot.pk])))
    assert "17 sticks of 1-3/8 rail" in page
    assert "−3" in page
    assert "bent &lt;twice&gt;" in page
    assert "+20" in page


def test_scrapping_more_than_there_is_says_how_many_there_are(signed_in, lot):
    url = reverse("stock:lot-scrap", args=[lot.pk])
    response = signed_in.post(url, {"quantity": "21", "reason": "bent twice"})
    assert "20 pieces left, so 21 cannot be taken out" in response.context["form"].errors["quantity"][0]
    assert signed_in.post(url, {"quantity": "2", "reason": ""}).context["form"].errors["reason"]
    assert signed_in.post(url, {"quantity": "2", "reason": "bent twice"}).status_code == 302
    lot.refresh_from_db()
    assert lot.on_hand == 18


def test_counting(signed_in, lot):
    url = reverse("stock:lot-count", args=[lot.pk])
    assert signed_in.post(url, {"counted": "20", "seen": "20", "reason": ""}).status_code == 302
    assert lot.movements.count() == 1
    assert signed_in.post(url, {"counted": "18", "seen": "20", "reason": ""}).context["form"].errors["reason"]
    stale = signed_in.post(url, {"counted": "18", "seen": "25", "reason": "recount"})
    assert "went from 25 pieces to 20" in stale.context["form"].errors["counted"][0]
    assert 'name="seen" value="20"' in text_of(stale)
    assert 'value="18"' in text_of(stale)
    assert signed_in.post(url, {"counted": "18", "seen": "20", "reason": "recount"}).status_code == 302
    lot.refresh_from_db()
    assert lot.on_hand == 18
    for bad in ("-1", "many", "", "1000000000000"):
        errors = signed_in.post(url, {"counted": bad, "seen": "18", "reason": "x"}).context["form"].errors
        assert "from 0 to 999,999,999" in errors["counted"][0]


def test_details_are_put_right_but_a_place_only_by_a_movement(signed_in, lot):
    place = lot.place.name
    url = reverse("stock:lot-edit", args=[lot.pk])
    given = {"reference": "RACK-2", "place_name": "Creek shed", "supplier": "", "unit_cost": "$9.99"}
    given |= {"received_on": "2027-02-01", "length": "1'", "material": "", "on_hand": "999"}
    refused = signed_in.post(url, given).context["form"].errors
    assert "Say why" in refused["reason"][0], "another cost is posted with its reason"
    assert signed_in.post(url, given | {"reason": "Invoice came"}).status_code == 302
    lot.refresh_from_db()
    assert (lot.reference, lot.place.name, lot.unit_cost) == ("RACK-2", place, Decimal("9.99"))
    assert (lot.length, lot.on_hand) == (FOOT * 10, 20)
    LotFactory(material=lot.material, reference="TAKEN")
    errors = signed_in.post(url, given | {"reference": "TAKEN"}).context["form"].errors
    assert "TAKEN already" in errors["reference"][0]


def test_a_place_is_renamed_once(signed_in, organisation):
    place = PlaceFactory(organisation=organisation, name="Bran rack")
    PlaceFactory(organisation=organisation, name="Creek shed")
    url = reverse("stock:place", args=[place.pk])
    response = signed_in.post(url, {"name": "creek shed", "site": ""})
    assert "already" in response.context["form"].errors["name"][0]
    assert signed_in.post(url, {"name": "Barn rack", "site": ""}).status_code == 302
    place.refresh_from_db()
    assert place.name == "Barn rack"
    assert "Barn rack" in text_of(signed_in.get(reverse("stock:places")))


# Files


def upload(client, data, name="lots.xlsx"):
    return client.post(reverse("stock:import"), {"file": SimpleUploadedFile(name, data)})


def test_file_is_shown_and_stored_only_when_confirmed(signed_in, rail):
    response = upload(signed_in, workbook(("rail-1-3-8", "10'", 38, "Barn rack", 12.9)))
    draft = ImportDraft.objects.get()
    assert response.url == reverse("stock:import-preview", args=[draft.pk])
    page = text_of(signed_in.get(response.url))
    assert "1 row is right; nothing is stored yet." in page
    assert "Barn rack (new place)" in page
    assert "next number" in page
    assert not Lot.objects.exists()
    assert signed_in.get(reverse("stock:import-store", args=[draft.pk])).status_code == 405
    store = reverse("stock:import-store", args=[draft.pk])
    assert signed_in.post(store).url == LOTS
    assert Lot.objects.get().on_hand == 38
    again = signed_in.post(store, follow=True)
    assert "already" in text_of(again)
    assert Lot.objects.count() == 1


def test_bad_rows_stand_first_with_their_reasons(signed_in, rail):
    response = upload(signed_in, workbook(("rail-1-3-8", "10'", 1, "Rack"), ("rail-1-38", "<b>", 0, "Rack")))
    page = text_of(signed_in.get(response.url))
    assert "1 of 2 rows has to be corrected; nothing is stored." in page
    assert "Row 3, Material:" in page
    assert "Did you mean rail-1-3-8?" in page
    assert "&lt;b&gt;" in page
    assert "into stock</button>" not in page
    assert ">Row 2<" not in page
    assert 'data-label="Row">Row 2<' in text_of(signed_in.get(response.url + "?rows=all"))
    store = reverse("stock:import-store", args=[ImportDraft.objects.get().pk])
    assert "not right yet" in text_of(signed_in.post(store, follow=True))
    assert not Lot.objects.exists()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "This file is empty."),
        (old_workbook(), "old .xls format"),
        (workbook(head=("Crop", "Bed")), "needs columns headed"),
    ],
)
def test_a_file_that_cannot_be_read_says_why_at_the_field(signed_in, data, words):
    response = upload(signed_in, data)
    assert words in response.context["form"].errors["file"][0]
    assert not ImportDraft.objects.exists()


def test_no_file_at_all(signed_in):
    assert "Choose the file" in signed_in.post(reverse("stock:import")).context["form"].errors["file"][0]


def test_empty_files_to_fill_in_read_back(signed_in, rail):
    data = signed_in.get(reverse("stock:template-xlsx")).content
    book = load_workbook(io.BytesIO(data))
    assert book.sheetnames == ["Lots", "Notes", "Choices"]
    sheet = book["Lots"]
    assert [cell.value for cell in sheet[1]][:4] == ["Material *", "Length", "Quantity *", "Place *"]
    lists = {str(rule.sqref)[0]: rule.formula1 for rule in sheet.data_validations.dataValidation if rule.type == "list"}
    assert lists["A"] == "Choices!$A$2:$A$2"
    assert book["Choices"]["A2"].value == "rail-1-3-8"
    assert "has headings but no rows" in upload(signed_in, data).context["form"].errors["file"][0]
    for column, value in zip("ABCD", ("rail-1-3-8", "10'", 4, "Rack"), strict=True):
        sheet[f"{column}2"] = value
    out = io.BytesIO()
    book.save(out)
    assert upload(signed_in, out.getvalue()).status_code == 302
    text = signed_in.get(reverse("stock:template-csv")).content + "rail-1-3-8,10',4,納屋,,,,,,,\r\n".encode()
    assert upload(signed_in, text, "lots.csv").status_code == 302
    assert ImportDraft.objects.get().bad_rows == 0


# Whose rows


def test_nobody_sees_the_stock_of_another_organisation(signed_in, organisation):
    theirs = LotFactory(reference="THEIRS-1")
    colleague = MembershipFactory(organisation=organisation)
    their_draft = ImportDraft.objects.create(
        organisation=theirs.organisation, user=MembershipFactory().user, filename="x", rows=1, bad_rows=0
    )
    colleagues_draft = ImportDraft.objects.create(
        organisation=organisation, user=colleague.user, filename="x", rows=1, bad_rows=0
    )
    assert "THEIRS-1" not in text_of(signed_in.get(LOTS))
    assert "THEIRS-1" not in text_of(signed_in.get(LOTS, {"material": theirs.material.code, "empty": "on"}))
    assert theirs.place.name not in text_of(signed_in.get(reverse("stock:places")))
    assert theirs.place.name not in text_of(signed_in.get(reverse("stock:receive")))
    for name in ("lot", "lot-edit", "lot-count", "lot-scrap"):
        url = reverse(f"stock:{name}", args=[theirs.pk])
        assert signed_in.get(url).status_code == 404
        assert signed_in.post(url, {"quantity": 1, "counted": 1, "seen": 20, "reason": "x"}).status_code == 404
    assert signed_in.get(reverse("stock:place", args=[theirs.place.pk])).status_code == 404
    for draft in (their_draft, colleagues_draft):
        assert signed_in.get(reverse("stock:import-preview", args=[draft.pk])).status_code == 404
        signed_in.post(reverse("stock:import-store", args=[draft.pk]))
    response = post_lot(signed_in, theirs.material)
    assert "material" in response.context["form"].errors
    assert list(Lot.objects.all()) == [theirs]
    assert Movement.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "args"),
    [
        ("lots", []),
        ("receive", []),
        ("lot", [1]),
        ("lot-edit", [1]),
        ("lot-count", [1]),
        ("lot-scrap", [1]),
        ("places", []),
        ("place", [1]),
        ("import", []),
        ("import-preview", [1]),
        ("template-xlsx", []),
        ("template-csv", []),
    ],
)
def test_every_page_asks_to_sign_in(client, name, args):
    response = client.get(reverse(f"stock:{name}", args=args))
    assert response.status_code == 302
    assert response.url.startswith(reverse("sign-in"))


def test_a_length_that_cannot_be_read_is_said_once(signed_in, rail):
    answer = signed_in.post("/stock/receive/", {"material": rail.pk, "length": "ten", "quantity": "4"})
    assert len(answer.context["form"].errors["length"]) == 1
    assert "cannot be read" in answer.context["form"].errors["length"][0]
