"""Numbers, days and yes or no in stock files: by the decimal sign of the organisation, or refused."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal
from functools import partial

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.catalogue.models import Material
from farmbuild.measure import POINT, THIN_SPACE, NumberStyle, Unit, UnitSystem, format_decimal, typed_as, use_style
from farmbuild.measure.usual import longer_than_any
from farmbuild.stock.import_rows import HEADINGS, REQUIRED, Known, KnownMaterial, read_row
from farmbuild.stock.importing import make_draft
from farmbuild.stock.models import ImportDraft, ImportPart, Lot
from farmbuild.workbooks.reading import WorkbookError, read_table
from tests.factories import LotFactory, MaterialFactory, MembershipFactory, OrganisationFactory
from tests.reading import text_of
from tests.size import examples
from tests.stock.files import workbook

COMMA = NumberStyle(",", THIN_SPACE)
STYLES = [POINT, COMMA]
HEAD = ["Material", "Length", "Quantity", "Place", "Cost of one", "Received on", "Offcut"]
TODAY = date(2027, 3, 1)
GERMAN = (
    "Material;Length;Quantity;Place;Cost of one;Received on;Offcut\r\n"
    "rohr-32;6000 mm;1.200;Regal 1;0,085;03.05.2027;nein\r\n"
    "rohr-32;5850,5 mm;24;Regal 1;1.234,56;24. Dez. 2026;ja\r\n"
)


@pytest.fixture
def yard(db):
    organisation = OrganisationFactory(unit_system="metric", currency="EUR", country="DE", decimal_sign=",")
    MaterialFactory(organisation=organisation, code="rohr-32", name="Rohr 32 × 1,5")
    return organisation


@pytest.fixture
def user(yard):
    return MembershipFactory(organisation=yard).user


@pytest.fixture
def signed_in(client, user):
    client.force_login(user)
    return client


def send(client, data, name="bestand.csv"):
    return client.post(reverse("stock:import"), {"file": SimpleUploadedFile(name, data)})


def stored():
    return [
        (lot.length, lot.on_hand, lot.unit_cost, lot.received_on, lot.offcut, lot.place.name)
        for lot in Lot.objects.order_by("pk")
    ]


@pytest.mark.parametrize("code", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_german_spreadsheet_as_text_is_shown_as_understood_and_stored(signed_in, code):
    response = send(signed_in, GERMAN.encode(code))
    page = text_of(signed_in.get(response.url))
    assert "2 rows are all right" in page
    for shown in (f"1{THIN_SPACE}200", f"6{THIN_SPACE}000 mm", "0,085", f"1{THIN_SPACE}234,56"):
        assert shown in page, shown
    assert not Lot.objects.exists()
    signed_in.post(reverse("stock:import-store", args=[ImportDraft.objects.get().pk]))
    assert stored() == [
        (Decimal(6000), 1200, Decimal("0.085"), date(2027, 5, 3), False, "Regal 1"),
        (Decimal("5850.5"), 24, Decimal("1234.56"), date(2026, 12, 24), True, "Regal 1"),
    ]
    # The same file again is read again, and stays a file to confirm.
    assert send(signed_in, GERMAN.encode(code)).status_code == 302
    assert (Lot.objects.count(), ImportDraft.objects.get().bad_rows) == (2, 0)


@pytest.mark.parametrize(
    ("before", "after", "row", "column", "words"),
    [
        (";1.200;", ";1,200;", 2, "Quantity", "could be 1,200 or 1200, and a whole number is asked for"),
        (";1.200;", ";2,5;", 2, "Quantity", "is not a whole number"),
        (";24;", ";100,0;", 3, "Quantity", "is not a whole number"),
        (";0,085;", ";3.750;", 2, "Cost of one", "“3.750” could be 3750 or 3,750."),
        (";0,085;", ";12.50;", 2, "Cost of one", "decimals take a comma here. If you mean 12,50, type it so."),
        (";03.05.2027;", ";03/05/2027;", 2, "Received on", "2027-03-05 or 2027-05-03"),
        (";03.05.2027;", ";03.05.27;", 2, "Received on", "year of two digits"),
        (";ja\r\n", ";vielleicht\r\n", 3, "Offcut", "neither yes nor no"),
    ],
)
def test_what_could_be_two_things_holds_the_whole_file_back(signed_in, before, after, row, column, words):
    assert before in GERMAN
    response = send(signed_in, GERMAN.replace(before, after).encode())
    page = text_of(signed_in.get(response.url))
    assert f"Row {row}, {column}:</strong>" in page
    assert words in page
    draft = ImportDraft.objects.get()
    assert draft.bad_rows == 1
    signed_in.post(reverse("stock:import-store", args=[draft.pk]))
    assert not Lot.objects.exists()


@pytest.mark.parametrize(
    ("heading", "cell", "mm"),
    [
        ("Length", 6000, 6000),
        ("Length", 6, 6000),
        ("Length", "6000", 6000),
        ("Length", "5,85", 5850),
        ("Length", 99.5, None),
        ("Length, mm", 6, 6),
        ("Length (mm)", "5850,5", "5850.5"),
        ("LENGTH OF ONE [cm]:", 585.5, 5855),
        ("Length in m", "6", 6000),
        ("Length, m", 6000, None),
        ("Length, m", "6000 mm", 6000),
        ("Length, mm", "6 m", 6000),
        ("Length, ft", 10, 3048),
    ],
)
def test_a_bare_length_is_in_the_unit_of_its_heading_else_by_the_rule_of_the_forms(yard, user, heading, cell, mm):
    data = workbook(("rohr-32", cell, 1, "Regal 1"), head=("Material", heading, "Quantity", "Place"))
    with use_style(COMMA):
        draft = make_draft(organisation=yard, user=user, data=data, filename="lots.xlsx", today=TODAY)
    [row] = draft.parts.filter(bad=mm is None).get().rows
    if mm is None:
        assert "longer than any stick, which is at most 30 m. Did you mean" in row["problems"]["length"]
    else:
        assert (Decimal(row["length"]), row["problems"]) == (Decimal(mm), {})


@pytest.mark.parametrize(
    ("code", "kind", "cell", "words"),
    [
        ("rohr-32", "tube", "30,1 m", "30,1 m is longer than any stick, which is at most 30 m."),
        ("brett", "lumber", "4800 m", "4800 m is longer than any board, which is at most 30 m. Did you mean 4800 mm?"),
        ("folie", "film", "301 m", "longer than any roll, which is at most 300 m."),
    ],
)
def test_no_stick_board_or_roll_is_so_long(yard, user, code, kind, cell, words):
    if code != "rohr-32":
        MaterialFactory(organisation=yard, code=code, kind=kind)
    with use_style(COMMA):
        draft = make_draft(
            organisation=yard,
            user=user,
            data=workbook((code, cell, 1, "Regal 1")),
            filename="lots.xlsx",
            today=TODAY,
        )
    [row] = draft.parts.get(bad=True).rows
    assert words in row["problems"]["length"]


@pytest.mark.parametrize("text", ["12,50 €", "€ 12,50", "EUR 12,50", "12,50 EUR", "12,50"])
def test_an_amount_may_have_the_sign_of_the_currency(yard, user, text):
    with use_style(COMMA):
        draft = make_draft(
            organisation=yard,
            user=user,
            data=workbook(("rohr-32", "6 m", 1, "Regal 1", text), ("rohr-32", "6 m", 1, "Regal 1", "$12,50")),
            filename="lots.xlsx",
            today=TODAY,
        )
    first, second = draft.parts.get(bad=False).rows
    assert (Decimal(first["cost"]), first["problems"]) == (Decimal("12.5"), {})
    assert "“$12,50” is not an amount of money. Type it like 1234,50." in second["problems"]["cost"]


def test_the_empty_text_file_opens_in_columns_where_a_comma_is_the_decimal_sign(signed_in):
    text = signed_in.get(reverse("stock:template-csv")).content.decode("utf-8-sig")
    assert text.startswith("Material *;Length;Quantity *;Place *;")
    assert send(signed_in, (text + "rohr-32;6 m;4;Regal 1;;0,085\r\n").encode()).status_code == 302
    assert ImportDraft.objects.get().bad_rows == 0


def test_number_cells_are_numbers_whatever_the_decimal_sign(signed_in):
    data = workbook(("rohr-32", "6000 mm", 1200, "Regal 1", 3.75, None, date(2027, 5, 3), None, False))
    send(signed_in, data, "bestand.xlsx")
    signed_in.post(reverse("stock:import-store", args=[ImportDraft.objects.get().pk]))
    assert stored() == [(Decimal(6000), 1200, Decimal("3.75"), date(2027, 5, 3), False, "Regal 1")]


def test_a_decimal_comma_between_commas_is_refused_and_in_quotation_marks_read(signed_in):
    text = "Material,Length,Quantity,Place,Cost of one\nrohr-32,6000 mm,2,Regal 1,{}\n"
    response = send(signed_in, text.format("3,75").encode())
    assert "Row 2 of bestand.csv has 6 cells, where 5 have a heading." in response.context["form"].errors["file"][0]
    assert send(signed_in, text.format('"3,75"').encode()).status_code == 302
    assert ImportDraft.objects.get().bad_rows == 0


def test_what_is_far_from_usual_is_asked_before_it_is_stored(signed_in, yard):
    rohr = Material.objects.get(code="rohr-32")
    LotFactory(material=rohr, length=Decimal(6000), unit_cost=Decimal("7.50"))
    rows = [("rohr-32", 6000, 1, "Regal 1", 7.4)] * 120
    rows[110] = ("rohr-32", 6000, 1, "Regal 1", "7.500")
    rows[111] = ("rohr-32", 6000, 1, "Regal 1", "7500,00")
    response = send(signed_in, workbook(*rows), "bestand.xlsx")
    assert ImportDraft.objects.get().bad_rows == 1
    rows[110] = ("rohr-32", 0.5, 1, "Regal 1", 0.6)
    response = send(signed_in, workbook(*rows), "bestand.xlsx")
    page = text_of(signed_in.get(response.url))
    assert "120 rows are all right, 2 far from what is usual; nothing is stored yet." in page
    assert "Row 112, Length of one:</strong> 500 mm is 1/12 of the usual length of Rohr" in page
    assert f"Row 113, Cost of one:</strong> €7{THIN_SPACE}500,00 is 1{THIN_SPACE}000 times what Rohr" in page
    assert "Row 2<" not in page and "Rows to look at" in page
    assert ">Row 2<" in text_of(signed_in.get(response.url + "?rows=all"))
    assert Lot.objects.count() == 1
    signed_in.post(reverse("stock:import-store", args=[ImportDraft.objects.get().pk]))
    assert Lot.objects.count() == 121


def test_a_draft_of_before_questions_were_asked_is_shown_and_stored(signed_in):
    response = send(signed_in, GERMAN.encode())
    for part in ImportPart.objects.all():
        part.rows = [{name: value for name, value in row.items() if name != "questions"} for row in part.rows]
        part.save()
    assert "2 rows are all right; nothing is stored yet." in text_of(signed_in.get(response.url))
    signed_in.post(reverse("stock:import-store", args=[ImportDraft.objects.get().pk]))
    assert Lot.objects.count() == 2


# Every row of a table, written and read


def known() -> Known:
    materials = {"rail": KnownMaterial("rail", "Rail", True, partial(longer_than_any, "tube", UnitSystem.METRIC))}
    return Known(Unit.METRE, TODAY, "EUR", materials, {}, {}, {}, set())


def written(style: NumberStyle, rows: list[dict], *, delimiter: str, day: str, grouped: bool) -> bytes:
    """As a spreadsheet program writes a table as text."""

    def number(value: Decimal | int) -> str:
        return format_decimal(Decimal(value), style=style) if grouped else typed_as(value, style)

    out = io.StringIO()
    table = csv.writer(out, delimiter=delimiter)
    table.writerow(HEAD)
    for row in rows:
        yes, no = ("ja", "nein") if style == COMMA else ("TRUE", "FALSE")
        table.writerow(
            [
                "rail",
                f"{number(row['length'])} mm",
                number(row["quantity"]),
                "Rack",
                number(row["cost"]),
                row["received"].strftime(day),
                yes if row["offcut"] else no,
            ]
        )
    return out.getvalue().encode("utf-8-sig")


def read_back(data: bytes) -> list[dict]:
    table = read_table(data, "lots.csv", headings=HEADINGS, required=REQUIRED)
    knows = known()
    return [read_row(row, knows) for row in table.rows]


rows_of_a_table = st.lists(
    st.fixed_dictionaries(
        {
            "length": st.integers(10, 300_000).map(lambda tenths: Decimal(f"{(Decimal(tenths) / 10).normalize():f}")),
            "quantity": st.integers(1, 5_000_000),
            "cost": st.decimals(0, 10**8, places=4).map(lambda cost: Decimal(f"{cost.normalize():f}")),
            "received": st.dates(date(1980, 1, 1), date(2100, 12, 31)),
            "offcut": st.booleans(),
        }
    ),
    min_size=1,
    max_size=6,
)
FIELDS = ("length", "quantity", "cost", "received", "offcut")


@examples(60)
@given(
    rows_of_a_table,
    st.sampled_from(STYLES),
    st.sampled_from(STYLES),
    st.sampled_from(",;\t"),
    st.sampled_from(["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d %b %Y"]),
    st.booleans(),
)
def test_what_is_read_is_what_was_written_or_refused(rows, by, to, delimiter, day, grouped):
    # Written with groups by other signs, a number of thousands may say another one here; the page shows it.
    grouped = grouped and by == to
    data = written(by, rows, delimiter=delimiter, day=day, grouped=grouped)
    with use_style(to):
        try:
            back = read_back(data)
        except WorkbookError:
            pytest.fail("quoted where it has to be, a table is always one")
    assert len(back) == len(rows)
    for sent, read in zip(rows, back, strict=True):
        for name in FIELDS:
            if name in read["problems"]:
                continue
            value = read[name]
            want = sent["received"].isoformat() if name == "received" else sent[name]
            assert (Decimal(value) if name in ("cost", "length") else value) == want, name
        if by == to and not grouped and not day.endswith("/%Y"):
            assert not set(read["problems"]) & set(FIELDS)
