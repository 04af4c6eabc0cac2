"""A project workbook into the site: seen first, done once, all of it or nothing, and nothing written over."""

from __future__ import annotations

import io
import threading
from datetime import date, timedelta
from decimal import Decimal
from functools import cache

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, connections, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.catalogue.services import archive_material, change_supplier
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Membership
from farmbuild.projects import intake
from farmbuild.projects.bridge import project_workbook
from farmbuild.projects.models import ProjectDraft
from farmbuild.projects.services import make_draft, store_draft
from farmbuild.sites.models import House, Site
from farmbuild.sites.services import archive_house
from farmbuild.stock.models import Lot, Movement
from farmbuild.stock.services import adjust_by_count
from farmbuild.workbooks.project_layout import BY_TITLE, HEADING_ROW
from tests.factories import MembershipFactory
from tests.projects.conftest import farm, filled

pytestmark = pytest.mark.django_db
TODAY = date(2027, 2, 1)


@cache
def book_of_the_farm() -> bytes:
    """The workbook of the invented farm, made once."""
    with transaction.atomic():
        organisation, _ = filled()
        data = project_workbook(organisation=organisation, as_of=TODAY)
        transaction.set_rollback(True)
    return data


@pytest.fixture
def books(db) -> bytes:
    return book_of_the_farm()


@pytest.fixture
def who(books):
    """A farm that has read it in, and its owner."""
    who = farm()
    store(who, draft_of(who, books))
    return who


def changed(data: bytes, *changes) -> bytes:
    """``changes``: sheet, row, field, value."""
    book = load_workbook(io.BytesIO(data))
    for sheet, row, field, value in changes:
        page, column = book[sheet], BY_TITLE[sheet].by_name[field]
        cell = next(cell for cell in page[HEADING_ROW] if str(cell.value or "").rstrip(" *") == column.heading)
        page.cell(row, cell.column).value = value
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def draft_of(who, data: bytes) -> ProjectDraft:
    return make_draft(organisation=who[0], user=who[1], data=data, filename="project.xlsx")


def store(who, draft):
    return store_draft(organisation=who[0], user=who[1], draft=draft)


def faults(draft: ProjectDraft) -> list[str]:
    return [f"{said['sheet']} {said['row']} {said['column']}: {said['sentence']}" for said in draft.shown["faults"]]


def count_all(organisation) -> list[int]:
    return [model.objects.of(organisation).count() for model in (Site, Material, House, Supplier, Offer, Lot)]


def test_looking_stores_nothing_and_reading_stores_all(books) -> None:
    who = farm()
    draft = draft_of(who, books)
    assert count_all(who[0]) == [0] * 6
    assert draft.shown["states"]["new"] > 20
    assert store(who, draft)[0]
    assert all(count_all(who[0]))


def test_changes_are_shown_with_what_was_and_is(books, who) -> None:
    book = changed(
        books,
        ("Sites", 4, "address", "2 Invented Lane"),
        ("Houses", 4, "length", "60'"),
        ("Suppliers", 4, "delivery_charge", 90),
        ("Offers", 4, "price_1", "13.5"),
        ("Stock", 4, "quantity", 99),
    )
    draft = draft_of(who, book)
    assert faults(draft) == []
    said = {
        (sheet["title"], row["state"]): [tuple(change) for change in row["changes"]]
        for sheet in draft.shown["sheets"]
        for row in sheet["rows"]
    }
    assert ("Address", "1 Invented Lane\nMade-up", "2 Invented Lane") in said["Sites", "changed"]
    assert ("House length", "48'", "60'") in said["Houses", "changed"]
    assert ("Delivery charge", "$85.50", "$90.00") in said["Suppliers", "changed"]
    assert [change[0] for change in said["Offers", "changed"]] == ["Price of one"]
    [(column, was, now)] = said["Stock", "left alone"]
    assert (column, was, now) == ("Quantity", "4", "99")
    lots = list(Lot.objects.of(who[0]).values_list("reference", "on_hand").order_by("reference"))
    assert store(who, draft)[0]
    assert House.objects.get(organisation=who[0], slug="north-field-1").length == 60 * Decimal("304.8")
    assert Supplier.objects.get(organisation=who[0]).delivery_charge == 90
    assert list(Lot.objects.of(who[0]).values_list("reference", "on_hand").order_by("reference")) == lots


def test_all_or_nothing_with_every_fault_at_its_place(books) -> None:
    who = farm()
    book = changed(
        books,
        ("Offers", 4, "from_1", 5),
        ("Stock", 4, "place", None),
    )
    said = "\n".join(faults(draft_of(who, book)))
    assert "The first price starts from 5 pieces." in said
    assert "Stock 4 Place: Type where it lies" in said
    assert count_all(who[0]) == [0] * 6
    draft = ProjectDraft.objects.get()
    assert store(who, draft)[0] is False
    assert count_all(who[0]) == [0] * 6


def test_faults_of_the_reader_come_by_sheet_row_and_column(books) -> None:
    who = farm()
    said = faults(
        draft_of(who, changed(books, ("Houses", 4, "need_date", "1890-01-01"), ("Stock", 5, "quantity", "x")))
    )
    assert said[0].startswith("Houses 4 Needed by: 1890-01-01 cannot be right. Type a day from 2000 on.")
    assert said[1].startswith("Stock 5 Quantity: ")


def test_somebody_changed_something_meanwhile(books, who) -> None:
    draft = draft_of(who, changed(books, ("Suppliers", 4, "contact", "Yard")))
    supplier = Supplier.objects.get(organisation=who[0])
    change_supplier(organisation=who[0], user=who[1], supplier=supplier, data={"contact": "Office"})
    done, shown = store(who, draft)
    assert not done
    supplier.refresh_from_db()
    assert supplier.contact == "Office"
    [row] = next(sheet for sheet in shown["sheets"] if sheet["title"] == "Suppliers")["rows"]
    assert row["changes"] == [["Contact", "Office", "Yard"]]
    draft.refresh_from_db()
    assert store(who, draft)[0]
    supplier.refresh_from_db()
    assert supplier.contact == "Yard"


def test_a_lot_that_was_used_since_is_left_and_the_count_stays(books, who) -> None:
    lot = Lot.objects.of(who[0]).first()
    adjust_by_count(organisation=who[0], user=who[1], lot=lot, counted=1, seen=lot.on_hand, reason="used")
    draft = draft_of(who, books)
    assert draft.shown["states"]["left"] == 1
    assert draft.shown["states"]["new"] == 0
    assert store(who, draft)[0] is False
    lot.refresh_from_db()
    assert lot.on_hand == 1


def test_lots_without_a_name_are_not_doubled(books) -> None:
    who = farm()
    rows = load_workbook(io.BytesIO(books))["Stock"].max_row
    bare = changed(books, *(("Stock", row, "ref", None) for row in range(4, rows + 1)))
    store(who, draft_of(who, bare))
    lots = Lot.objects.of(who[0]).count()
    assert lots == rows - 3
    again = draft_of(who, bare)
    assert again.shown["states"]["new"] == 0
    assert Lot.objects.of(who[0]).count() == lots
    assert Movement.objects.filter(lot__organisation=who[0]).count() == lots


def test_a_row_without_a_name_is_no_lot_that_another_row_names(books, who) -> None:
    book = load_workbook(io.BytesIO(books))
    page, out = book["Stock"], io.BytesIO()
    last = page.max_row + 1
    for cell in page[4]:
        page.cell(last, cell.column).value = cell.value
    book.save(out)
    draft = draft_of(who, changed(out.getvalue(), ("Stock", last, "ref", None)))
    assert draft.shown["states"]["new"] == 1


@pytest.mark.parametrize(("days", "left"), [(0, 0), (1, 1)])
def test_what_is_there_from_today_on_is_taken_in(books, days, left) -> None:
    who = farm()
    day = today_of(organisation=who[0]) + timedelta(days=days)
    draft = draft_of(who, changed(books, ("Stock", 4, "available_from", day)))
    assert draft.shown["states"]["left"] == left


def test_a_name_that_is_another_lot_is_refused(books, who) -> None:
    stock = load_workbook(io.BytesIO(books))["Stock"]
    other = stock.cell(5, 3).value
    said = faults(draft_of(who, changed(books, ("Stock", 4, "material", other), ("Stock", 4, "length", None))))
    assert any("Type another name for this one." in text or "comes in lengths" in text for text in said)


def test_what_is_archived_is_named(books, who) -> None:
    archive_house(organisation=who[0], user=who[1], house=House.objects.get(organisation=who[0], slug="north-field-1"))
    assert "The house North Field 1 is archived. Bring it back first" in "".join(faults(draft_of(who, books)))
    material = Material.objects.of(who[0]).first()
    archive_material(organisation=who[0], user=who[1], material=material)
    said = draft_of(who, books)
    assert not any("Material" in text for text in faults(said))


def test_other_money_is_refused(books) -> None:
    who = farm(metric=True)
    [said] = faults(draft_of(who, books))
    assert "are in USD" in said
    assert "buys in EUR" in said


def test_other_units_are_taken_exactly(books) -> None:
    who = farm(metric=True)
    organisation = who[0]
    organisation.currency = "USD"
    organisation.save()
    draft = draft_of(who, books)
    assert faults(draft) == []
    assert "Lengths are taken exactly as they are" in str(draft.shown)
    assert store(who, draft)[0]
    assert House.objects.get(organisation=organisation, slug="north-field-1").length == 48 * Decimal("304.8")


def test_two_short_names_that_come_to_one(books) -> None:
    who = farm()
    said = faults(draft_of(who, changed(books, ("Sites", 6, "code", "The Yard!"))))
    assert any("comes to the short name the-yard" in text for text in said)


def test_too_many_rows_are_refused_in_a_sentence(books, monkeypatch) -> None:
    who = farm()
    monkeypatch.setattr(intake, "MOST_LOTS", 2)
    [said] = faults(draft_of(who, books))
    assert "At most 2 are read at once. Split it into smaller workbooks." in said


def test_queries_of_the_stock_do_not_grow_with_its_rows(books) -> None:
    """More lots cost no more queries."""

    def queries(more: int) -> int:
        who = farm()
        book = load_workbook(io.BytesIO(books))
        page = book["Stock"]
        row = [cell.value for cell in page[4]]
        for number in range(more):
            row[1] = f"lot-{number}"
            page.append(row)
        out = io.BytesIO()
        book.save(out)
        with CaptureQueriesContext(
            connection,
        ) as caught:
            draft_of(who, out.getvalue())
        return len(caught)

    assert queries(200) == queries(20)


# Pages


@pytest.fixture
def member(client: Client):
    who = farm()
    client.force_login(who[1])
    return who


def send(client: Client, data: bytes):
    return client.post(reverse("projects:project"), {"file": SimpleUploadedFile("farm.xlsx", data)})


def test_sent_seen_and_pressed_twice(client, member, books) -> None:
    answer = send(client, books)
    assert answer.status_code == 302
    page = client.get(answer["Location"])
    assert "nothing is stored yet" in " ".join(page.content.decode().split())
    assert "North Field 2" in page.content.decode()
    press = reverse("projects:store", args=[ProjectDraft.objects.get().pk])
    assert client.post(press)["Location"] == reverse("sites:houses")
    before = count_all(member[0])
    again = client.post(press, follow=True)
    assert "was read in already" in again.content.decode()
    assert count_all(member[0]) == before
    assert "North Field 2" in client.get(reverse("sites:houses")).content.decode()


def test_what_is_no_workbook_is_said_at_the_box(client, member) -> None:
    for data in (b"", b"Material,Quantity\nrail,5\n", b"PK\x03\x04 nothing"):
        page = send(client, data)
        assert page.status_code == 200
        assert not ProjectDraft.objects.exists()


def test_faults_are_on_the_page_and_nothing_can_be_pressed(client, member, books) -> None:
    page = client.get(send(client, changed(books, ("Houses", 4, "length", "?")))["Location"]).content.decode()
    assert "Needed by" not in page
    assert "House length" in page
    assert "Send the corrected workbook" in page
    assert "/store/" not in page


def test_a_crew_member_neither_looks_nor_reads_in(client, member, books) -> None:
    Membership.objects.filter(user=member[1]).update(role=Membership.Role.CREW)
    assert client.get(reverse("projects:project")).status_code == 403
    assert send(client, books).status_code == 403
    assert client.get(reverse("projects:workbook")).status_code == 403


def test_nobody_stores_what_another_sent(books) -> None:
    organisation, user = farm()
    draft = draft_of((organisation, user), books)
    other = MembershipFactory(organisation=organisation).user
    with pytest.raises(ValidationError, match="Send it again"):
        store((organisation, other), draft)
    assert not House.objects.exists() and ProjectDraft.objects.filter(pk=draft.pk).exists()


def test_a_draft_is_its_senders_alone(client, member, books) -> None:
    send(client, books)
    key = ProjectDraft.objects.get().pk
    other = MembershipFactory(organisation=member[0]).user
    client.force_login(other)
    assert client.get(reverse("projects:preview", args=[key])).status_code == 404
    client.post(reverse("projects:store", args=[key]))
    assert count_all(member[0]) == [0] * 6


def test_downloads(client, member) -> None:
    store(member, draft_of(member, project_workbook(organisation=filled()[0], as_of=TODAY)))
    for query in ("", "?site=north-field", "?house=north-field-1"):
        answer = client.get(reverse("projects:workbook") + query)
        assert answer["Content-Disposition"].endswith('.xlsx"')
        book = load_workbook(io.BytesIO(answer.content))
        assert book["Houses"].max_row == (4 if "house" in query else 5)
    assert "no such houses" in client.get(reverse("projects:workbook") + "?site=moon", follow=True).content.decode()
    assert load_workbook(io.BytesIO(client.get(reverse("projects:template")).content)).sheetnames[0] == "Project"


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_people_read_the_same_workbook_at_once() -> None:
    data = project_workbook(organisation=filled()[0], as_of=TODAY)
    organisation, user = farm()
    other = MembershipFactory(organisation=organisation).user
    drafts = [
        (one, make_draft(organisation=organisation, user=one, data=data, filename="a.xlsx")) for one in (user, other)
    ]
    start, done = threading.Barrier(2), []

    def press(who, draft) -> None:
        try:
            start.wait()
            done.append(store_draft(organisation=organisation, user=who, draft=draft)[0])
        finally:
            connections.close_all()

    threads = [threading.Thread(target=press, args=pair) for pair in drafts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(done) == [False, True]
    lots = Lot.objects.of(organisation)
    assert lots.count() == Movement.objects.filter(lot__in=lots).count()
    assert House.objects.of(organisation).count() == 2
    assert Supplier.objects.of(organisation).count() == 1
