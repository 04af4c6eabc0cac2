"""Lots from files: every row understood or refused with its reason; stored whole or not at all."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db.models import Sum
from django.utils import timezone

from farmbuild.measure import line_total
from farmbuild.orgs.acts import NotAllowed
from farmbuild.stock import importing
from farmbuild.stock.importing import ImportStale, WorkbookError, make_draft, store_draft
from farmbuild.stock.models import ImportDraft, ImportPart, Lot, Movement, Place
from tests.factories import (
    INCH,
    LotFactory,
    MaterialFactory,
    MembershipFactory,
    OrganisationFactory,
    PlaceFactory,
    SiteFactory,
    SupplierFactory,
)
from tests.stock.files import long_workbook, old_workbook, workbook, zip_bomb

pytestmark = pytest.mark.django_db
TODAY = date(2027, 3, 1)


@pytest.fixture
def yard(organisation):
    MaterialFactory(organisation=organisation, code="rail-1-3-8", name="1-3/8 in fence top rail")
    MaterialFactory(organisation=organisation, code="screw-12", name="Joint screw", kind="fastener")
    SupplierFactory(organisation=organisation, code="bristlecone", name="Bristlecone Pipe")
    SiteFactory(organisation=organisation, name="North Field")
    return organisation


def draft_of(organisation, user, data, filename="lots.xlsx"):
    return make_draft(organisation=organisation, user=user, data=data, filename=filename, today=TODAY)


def rows_of(draft, *, bad=False):
    return [row for part in draft.parts.filter(bad=bad) for row in part.rows]


def problems(organisation, user, *cells, **changes):
    """What is wrong with one row of these cells."""
    [row] = rows_of(draft_of(organisation, user, workbook(cells, **changes)))
    return row["problems"]


def test_a_right_file_is_shown_and_then_stored_whole(yard, user):
    data = workbook(
        ("rail-1-3-8", "10'", 38, "Barn rack", 12.9, "bristlecone", date(2026, 11, 3), "RACK-1", None, "North Field"),
        (
            "1-3/8 in Fence Top Rail",
            "7' 3 1/2\"",
            "4",
            "barn rack",
            None,
            "Bristlecone Pipe",
            "2026-11-20",
            None,
            "yes",
            None,
        ),
        ("screw-12", None, 180, "Tack room", "0.0625", None, None, 17, "no", None),
    )
    draft = draft_of(yard, user, data)
    assert (draft.rows, draft.bad_rows) == (3, 0)
    assert not Lot.objects.exists()
    assert not Place.objects.exists()
    assert store_draft(organisation=yard, user=user, draft=draft) == 3
    first, second, third = Lot.objects.order_by("pk")
    for lot in (first, third):
        # As everything received: its pieces by the cost of one, half up to the cent.
        assert lot.value == lot.movements.get().amount == line_total(lot.on_hand, lot.unit_cost, "USD") > 0
    assert (first.reference, first.length, first.on_hand, first.unit_cost) == (
        "RACK-1",
        INCH * 120,
        38,
        Decimal("12.9"),
    )
    assert (first.supplier.code, first.place.site.name, first.received_on) == (
        "bristlecone",
        "North Field",
        date(2026, 11, 3),
    )
    assert (second.reference, second.length, second.offcut, second.place) == (
        "L-0001",
        INCH * Decimal("87.5"),
        True,
        first.place,
    )
    assert (third.reference, third.length, third.unit_cost, third.received_on) == ("17", None, Decimal("0.0625"), TODAY)
    for lot in (first, second, third):
        [movement] = lot.movements.all()
        assert (movement.kind, movement.quantity, movement.by) == ("receive", lot.on_hand, user)
    assert not ImportDraft.objects.exists()
    assert not ImportPart.objects.exists()


def test_pieces_cost_half_up_to_the_cent(yard, user):
    """At 0.0625 each: 0.0625, 0.125 and 0.1875."""
    data = workbook(*(("screw-12", None, pieces, "Tack room", "0.0625") for pieces in (1, 2, 3)))
    assert store_draft(organisation=yard, user=user, draft=draft_of(yard, user, data)) == 3
    assert [lot.movements.get().amount for lot in Lot.objects.order_by("pk")] == [
        Decimal("0.06"),
        Decimal("0.13"),
        Decimal("0.19"),
    ]


def test_text_file_with_semicolons(yard, user):
    text = "\ufeffMaterial;Length;Quantity;Place\nrail-1-3-8;3048 mm;6;Ständer 3\n"
    draft = draft_of(yard, user, text.encode(), "lots.csv")
    store_draft(organisation=yard, user=user, draft=draft)
    assert (Lot.objects.get().length, Lot.objects.get().place.name) == (Decimal(3048), "Ständer 3")


RAIL = ("rail-1-3-8", "10'", 4, "Rack")


@pytest.mark.parametrize(
    ("cells", "field", "words"),
    [
        (("rail-138", "10'", 4, "Rack"), "material", "no material “rail-138”. Did you mean rail-1-3-8?"),
        (("copper", "10'", 4, "Rack"), "material", "Add it under Materials first."),
        ((None, "10'", 4, "Rack"), "material", "Type the short name of a material"),
        (("rail-1-3-8", "ten feet", 4, "Rack"), "length", "Type it like 12'"),
        (("rail-1-3-8", "-10'", 4, "Rack"), "length", "cannot be below zero"),
        (("rail-1-3-8", 0, 4, "Rack"), "length", "longer than zero"),
        (("rail-1-3-8", None, 4, "Rack"), "length", "comes by length. Type the length of one piece, for example 10'."),
        (("rail-1-3-8", date(2027, 10, 1), 4, "Rack"), "length", "turned this into the date"),
        (("screw-12", "10'", 4, "Rack"), "length", "counted, not measured. Leave the length empty."),
        (("rail-1-3-8", "10'", 0, "Rack"), "quantity", "at least 1"),
        (("rail-1-3-8", "10'", -4, "Rack"), "quantity", "at least 1"),
        (("rail-1-3-8", "10'", 10**12, "Rack"), "quantity", "at most 999,999,999"),
        (("rail-1-3-8", "10'", 2.5, "Rack"), "quantity", "not a whole number"),
        (("rail-1-3-8", "10'", "a few", "Rack"), "quantity", "cannot be read as a number"),
        (("rail-1-3-8", "10'", None, "Rack"), "quantity", "empty"),
        (("rail-1-3-8", "10'", "=2+2", "Rack"), "quantity", "formula “=2+2”. Type the value itself."),
        (("rail-1-3-8", "10'", 4, None), "place", "Type where the lot lies"),
        ((*RAIL, "twelve"), "cost", "is not an amount of money"),
        ((*RAIL, -1), "cost", "below zero"),
        ((*RAIL, "1.23456"), "cost", "more than 4 decimals"),
        ((*RAIL, 1, "Bristelcone"), "supplier", "no supplier “Bristelcone”. Did you mean bristlecone?"),
        ((*RAIL, 1, None, "03/11/2026"), "received", "could mean more than one day. Type the date year first"),
        ((*RAIL, 1, None, "2026-02-30"), "received", "no day “2026-02-30”"),
        ((*RAIL, 1, None, date(1926, 1, 1)), "received", "from 1980 to 2100"),
        ((*RAIL, 1, None, None, "R" * 41), "reference", "40 is the most"),
        ((*RAIL, 1, None, None, None, "maybe"), "offcut", "Type yes or no"),
        ((*RAIL, 1, None, None, None, None, "Nort Field"), "site", "no site “Nort Field”. Did you mean North Field?"),
    ],
)
def test_a_bad_cell_says_what_to_type(yard, user, cells, field, words):
    found = problems(yard, user, *cells)
    assert list(found) == [field]
    assert words in found[field]


def test_days_from_1980_to_2100_are_taken(yard, user):
    days = [date(1979, 12, 31), date(1980, 1, 1), date(2100, 12, 31), date(2101, 1, 1)]
    rows = rows_of(draft_of(yard, user, workbook(*((*RAIL, 1, None, day) for day in days))))
    assert [list(row["problems"]) for row in rows] == [["received"], [], [], ["received"]]


def test_one_bad_row_keeps_everything_out(yard, user):
    draft = draft_of(yard, user, workbook(RAIL, ("rail-1-3-8", "10'", 0, "Rack"), RAIL))
    assert (draft.rows, draft.bad_rows) == (3, 1)
    [bad] = rows_of(draft, bad=True)
    assert (bad["row"], bad["typed"]) == (3, {"quantity": "0"})
    with pytest.raises(ImportStale, match="not right yet"):
        store_draft(organisation=yard, user=user, draft=draft)
    assert not Lot.objects.exists()
    assert not Place.objects.exists()


def test_every_problem_of_a_row_is_told_at_once(yard, user):
    found = problems(yard, user, "rial", "long", -1, None, "x")
    assert set(found) == {"material", "length", "quantity", "place", "cost"}


def test_references_twice_in_the_file_or_in_stock(yard, user):
    LotFactory(material=MaterialFactory(organisation=yard), reference="OLD-1")
    LotFactory(reference="THEIRS-1")
    rows = [(*RAIL, 1, None, None, reference) for reference in ("A-1", "OLD-1", "A-1", "THEIRS-1")]
    draft = draft_of(yard, user, workbook(*rows))
    assert {row["row"]: row["problems"] for row in rows_of(draft, bad=True)} == {
        3: {"reference": "A lot OLD-1 is in stock already. Type another reference, or leave this empty."},
        4: {"reference": "Row 2 has the reference A-1 too. Type another, or leave this empty."},
    }


def test_non_latin_text_is_kept_to_the_letter(yard, user):
    SupplierFactory(organisation=yard, code="suzuki", name="鈴木パイプ店")
    place, reference = "納屋のラック 3 – É", "ロット✓-١"
    draft = draft_of(yard, user, workbook((*RAIL[:3], place, 1, "鈴木パイプ店", None, reference)))
    store_draft(organisation=yard, user=user, draft=draft)
    lot = Lot.objects.get()
    assert (lot.place.name, lot.reference, lot.supplier.code) == (place, reference, "suzuki")


def test_text_that_looks_like_a_formula_stays_out_of_text_cells(yard, user):
    found = problems(yard, user, *RAIL[:3], '=HYPERLINK("x")')
    assert "formula" in found["place"]


def test_a_place_is_at_one_site(yard, user):
    creek = SiteFactory(organisation=yard, name="Creek Bottom")
    PlaceFactory(organisation=yard, name="Old shed", site=creek)
    rest = (None,) * 5
    rows = [
        (*RAIL[:3], "Old shed", *rest, "North Field"),
        (*RAIL[:3], "New shed", *rest, "North Field"),
        (*RAIL[:3], "new shed", *rest, "Creek Bottom"),
    ]
    draft = draft_of(yard, user, workbook(*rows))
    assert {row["row"]: row["problems"]["site"] for row in rows_of(draft, bad=True)} == {
        2: "Old shed is at Creek Bottom. Type that, or another name for the place.",
        4: "New shed is at North Field. Type that, or another name for the place.",
    }


@pytest.mark.parametrize(
    ("data", "filename", "words"),
    [
        (b"", "lots.xlsx", "lots.xlsx is empty"),
        (b"  \n", "lots.csv", "lots.csv is empty"),
        (old_workbook(), "lots.xlsx", "old .xls format, whatever its name says"),
        (b"just words", "lots.xlsx", "is not a spreadsheet"),
        (
            workbook(("a", "b"), head=("Crop", "Bed"), title="Plantings"),
            "lots.xlsx",
            "needs columns headed “Material”, “Quantity” and “Place”",
        ),
        (workbook(head=("Material", "Quantity")), "lots.xlsx", "needs a column headed “Place”"),
        (workbook(), "lots.xlsx", "has headings but no rows under them"),
        (b"Material,Quantity,Place\n", "lots.csv", "has headings but no rows under them"),
    ],
)
def test_a_file_that_is_no_table_of_lots(yard, user, data, filename, words):
    with pytest.raises(WorkbookError, match="(?s)" + words.replace("(", r"\(")):
        draft_of(yard, user, data, filename)
    assert not ImportDraft.objects.exists()


def test_a_zip_bomb_is_not_opened(yard, user):
    bomb = zip_bomb()
    assert len(bomb) < 2 * 2**20
    with pytest.raises(WorkbookError, match="unpacks to far more"):
        draft_of(yard, user, bomb)


def test_more_rows_than_a_workbook_may_have(yard, user, monkeypatch):
    monkeypatch.setattr(importing, "MAX_ROWS", 300)
    assert draft_of(yard, user, long_workbook(300)).rows == 300
    with pytest.raises(WorkbookError, match=r"more than 300 rows\. Split it"):
        draft_of(yard, user, long_workbook(301))


def test_what_changed_since_the_preview_stops_the_whole_file(yard, user):
    rows = [(*RAIL, 1, None, None, f"A-{number}") for number in range(3)]
    draft = draft_of(yard, user, workbook(*rows))
    taken = LotFactory(material=MaterialFactory(organisation=yard), reference="A-2")
    with pytest.raises(ImportStale, match="A-2 has come into stock since"):
        store_draft(organisation=yard, user=user, draft=draft)
    assert list(Lot.objects.all()) == [taken]
    taken.reference = "B-2"
    taken.save()
    yard_rail = importing.materials_of(organisation=yard).get(code="rail-1-3-8")
    yard_rail.kind = "hardware"
    yard_rail.save()
    with pytest.raises(ImportStale, match="has changed since the preview"):
        store_draft(organisation=yard, user=user, draft=draft)
    assert list(Lot.objects.all()) == [taken]
    assert not Place.objects.filter(name="Rack").exists()


def test_a_draft_serves_its_own_sender_once(yard, user):
    draft = draft_of(yard, user, workbook(RAIL))
    colleague = MembershipFactory(organisation=yard).user
    for other_user, organisation in ((colleague, yard), (user, OrganisationFactory())):
        with pytest.raises((ImportStale, NotAllowed)):
            store_draft(organisation=organisation, user=other_user, draft=draft)
    assert store_draft(organisation=yard, user=user, draft=draft) == 1
    with pytest.raises(ImportStale, match="already"):
        store_draft(organisation=yard, user=user, draft=draft)
    assert Lot.objects.count() == 1


def test_drafts_go_when_another_comes_or_a_day_later(yard, user):
    first = draft_of(yard, user, workbook(RAIL))
    second = draft_of(yard, user, workbook(RAIL, RAIL))
    assert list(ImportDraft.objects.all()) == [second]
    assert first.pk != second.pk
    ImportDraft.objects.update(made_at=timezone.now() - timedelta(days=2))
    third = draft_of(yard, MembershipFactory(organisation=yard).user, workbook(RAIL))
    assert list(ImportDraft.objects.all()) == [third]


def test_preview_parts_hold_every_row_in_order(yard, user):
    draft = draft_of(yard, user, workbook(*[RAIL] * 150, ("x", "10'", 1, "Rack"), *[RAIL] * 99))
    assert [(part.bad, part.number, len(part.rows)) for part in draft.parts.all()] == [
        (False, 1, 100),
        (False, 2, 100),
        (False, 3, 50),
        (True, 1, 1),
    ]
    assert [row["row"] for row in rows_of(draft)] == list(range(2, 252))


def test_a_long_file_takes_few_queries(yard, user, django_assert_max_num_queries):
    text = "Material,Length,Quantity,Place,Cost,Reference\n" + "".join(
        f"rail-1-3-8,{1 + row % 20}',{1 + row % 7},Rack {row % 9},12.50,{f'R-{row}' if row % 2 else ''}\n"
        for row in range(4000)
    )
    with django_assert_max_num_queries(30):
        draft = draft_of(yard, user, text.encode(), "lots.csv")
    # SQLite takes 999 values in a statement, so 4,000 rows need about 70 INSERTs there; nothing is asked row by row.
    with django_assert_max_num_queries(140):
        assert store_draft(organisation=yard, user=user, draft=draft) == 4000
    assert Lot.objects.count() == 4000
    assert Movement.objects.aggregate(sum=Sum("quantity")) == Lot.objects.aggregate(sum=Sum("on_hand"))
