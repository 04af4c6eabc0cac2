"""Long files of lots: read and put into stock by a worker, batch by batch, and in stock all at once or not at all."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from decimal import Decimal
from threading import Barrier

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from farmbuild.common import background
from farmbuild.common.long_work import SILENCE, State
from farmbuild.orgs.models import Membership
from farmbuild.orgs.services import save_organisation
from farmbuild.stock import import_work, importing
from farmbuild.stock.ledger_selectors import differences
from farmbuild.stock.models import ImportDraft, ImportLot, ImportPart, Lot, Movement, Place
from farmbuild.workbooks.reading import WorkbookError
from tests.factories import LotFactory, MaterialFactory, PlaceFactory, SiteFactory, SupplierFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db
TODAY = date(2027, 3, 1)
ROWS = 450


@pytest.fixture
def yard(organisation):
    MaterialFactory(organisation=organisation, code="rail", name="Fence top rail")
    SupplierFactory(organisation=organisation, code="bristlecone", name="Bristlecone Pipe")
    return organisation


@pytest.fixture(autouse=True)
def small(monkeypatch):
    """A file of some hundred rows is a long one, in several batches."""
    monkeypatch.setattr(importing, "PARTS_AT_ONCE", 1)
    monkeypatch.setattr(import_work, "PARTS_AT_ONCE", 1)
    monkeypatch.setattr(importing, "MAX_ROWS_AT_ONCE", 100)
    monkeypatch.setattr(importing, "_SHORT_TEXT", 1000)


def lines(rows: int, *more: str) -> bytes:
    own = [f"rail,10',{1 + at % 7},Rack {at % 3},12.5,bristlecone,{f'R-{at}' if at % 2 else ''}" for at in range(rows)]
    return "\n".join(["Material,Length,Quantity,Place,Cost,Supplier,Reference", *own, *more]).encode()


def sent(yard, user, data=None):
    data = lines(ROWS) if data is None else data
    return importing.keep_file(organisation=yard, user=user, data=data, filename="yard.csv", today=TODAY)


def read(yard, user, data=None):
    draft = sent(yard, user, data)
    import_work.work_on_import(draft.pk)
    draft.refresh_from_db()
    return draft


def confirmed(yard, user):
    draft = read(yard, user)
    importing.confirm_draft(organisation=yard, user=user, draft=draft)
    return draft


def looked_at(draft):
    draft.refresh_from_db()
    return draft


def test_it_is_read_confirmed_and_then_in_stock_with_every_column(yard, user):
    draft = sent(yard, user)
    assert (draft.state, draft.rows) == (State.WAITING, 0)
    import_work.work_on_import(draft.pk)
    draft.refresh_from_db()
    assert draft.is_read and (draft.rows, draft.bad_rows, draft.file) == (ROWS, 0, None)
    assert [len(part.rows) for part in draft.parts.all()] == [100] * 4 + [50]
    assert not Lot.objects.exists() and not ImportLot.objects.exists()
    importing.confirm_draft(organisation=yard, user=user, draft=draft)
    import_work.work_on_import(draft.pk)
    draft.refresh_from_db()
    assert draft.stored_at and draft.state == State.READY
    lots = list(Lot.objects.of(yard).order_by("pk").select_related("place", "supplier", "material"))
    assert [lot.reference for lot in lots[:4]] == ["L-0001", "R-1", "L-0002", "R-3"]
    lot = lots[3]
    assert (lot.material.code, lot.length, lot.place.name) == ("rail", Decimal("3048"), "Rack 0")
    assert (lot.supplier.code, lot.unit_cost, lot.received_on) == ("bristlecone", Decimal("12.5"), TODAY)
    assert (lot.on_hand, lot.reserved, lot.offcut) == (4, 0, False)
    [movement] = lot.movements.all()
    assert (movement.kind, movement.quantity, movement.by, movement.reason) == ("receive", 4, user, "")
    assert movement.at > timezone.now() - timedelta(minutes=5)
    assert len(lots) == Movement.objects.count() == ROWS and Place.objects.of(yard).count() == 3
    assert list(differences(organisation=yard)) == []
    # Nothing of the draft is left but what its page tells.
    assert not ImportLot.objects.exists() and not ImportPart.objects.exists()


def test_what_a_short_file_stores_a_worker_stores_too(yard, user):
    """Both ways give the same lots."""
    facts = ["reference", "material", "length", "place__name", "supplier", "unit_cost", "received_on", "on_hand"]
    short = importing.make_draft(organisation=yard, user=user, data=lines(120), filename="a.csv", today=TODAY)
    importing.store_draft(organisation=yard, user=user, draft=short)
    at_once = list(Lot.objects.order_by("pk").values_list(*facts))
    with connection.cursor() as cursor:
        # Movements are never deleted, so the second time the references are others.
        cursor.execute("UPDATE stock_lot SET reference = 'old ' || reference")
        cursor.execute("UPDATE stock_lotnumbers SET last = 0")
    draft = read(yard, user, lines(120))
    importing.confirm_draft(organisation=yard, user=user, draft=draft)
    import_work.work_on_import(draft.pk)
    assert list(Lot.objects.order_by("pk").values_list(*facts)[120:]) == at_once


def test_a_bad_row_or_a_file_that_is_no_table_is_told_on_its_page(yard, user, signed_in):
    draft = read(yard, user, lines(ROWS, "rail,10',0,Rack,1,bristlecone,"))
    page = reverse("stock:import-preview", args=[draft.pk])
    assert "1 of 451 rows has to be corrected" in text_of(signed_in.get(page))
    with pytest.raises(importing.ImportStale, match="not right yet"):
        importing.confirm_draft(organisation=yard, user=user, draft=draft)
    draft = read(yard, user, b"Nothing of the kind\n" * 100)
    told = text_of(signed_in.get(reverse("stock:import-preview", args=[draft.pk])))
    assert looked_at(draft).state == State.FAILED
    assert "Nothing of yard.csv is in stock" in told and "needs columns headed" in told


def test_nobody_sees_half_and_whoever_stops_it_has_the_rows_again(yard, user, monkeypatch):
    draft = confirmed(yard, user)
    seen = []

    def stop(done, rows):
        seen.append((Lot.objects.count(), ImportLot.objects.count()))
        if done == 300:
            assert importing.stop_draft(organisation=yard, user=user, draft=draft)
        return f"{done} of {rows} rows"

    monkeypatch.setattr(import_work, "_of", stop)
    import_work.work_on_import(draft.pk)
    assert seen == [(0, 100), (0, 200), (0, 300)]
    draft.refresh_from_db()
    assert draft.is_read and draft.parts.count() == 5
    assert not Lot.objects.exists() and not ImportLot.objects.exists() and not Place.objects.exists()
    monkeypatch.undo()
    importing.confirm_draft(organisation=yard, user=user, draft=draft)
    import_work.work_on_import(draft.pk)
    assert Lot.objects.count() == ROWS
    # What is in stock is stopped by nobody.
    assert not importing.stop_draft(organisation=yard, user=user, draft=draft)


def test_a_worker_that_fell_silent_is_relieved_and_the_next_goes_on_behind_its_last_batch(yard, user, monkeypatch):
    draft = confirmed(yard, user)

    def die(self, rows):
        if ImportLot.objects.count() == 200:
            raise KeyboardInterrupt
        return writes(self, rows)

    writes = import_work.Preparing.write
    monkeypatch.setattr(import_work.Preparing, "write", die)
    with pytest.raises(KeyboardInterrupt):
        import_work.work_on_import(draft.pk)
    monkeypatch.undo()
    draft.refresh_from_db()
    assert (draft.state, draft.prepared, ImportLot.objects.count()) == (State.WORKING, 2, 200)
    background.take_up_left_behind()
    assert not Lot.objects.exists(), "it may be at work still"
    ImportDraft.objects.update(heard_from_at=timezone.now() - SILENCE - timedelta(seconds=1))
    # Nobody opened its page.
    background.take_up_left_behind()
    assert Lot.objects.count() == ROWS and looked_at(draft).stored_at


def test_what_changed_meanwhile_stops_all_of_it_and_says_so(yard, user, signed_in):
    draft = confirmed(yard, user)
    LotFactory(material=MaterialFactory(organisation=yard), reference="R-3")
    import_work.work_on_import(draft.pk)
    draft.refresh_from_db()
    assert draft.state == State.FAILED and "A lot R-3 has come into stock" in draft.problem
    assert Lot.objects.count() == 1 and not ImportLot.objects.exists()
    told = text_of(signed_in.get(reverse("stock:import-preview", args=[draft.pk])))
    assert "Nothing of yard.csv is in stock" in told and "R-3" in told
    signed_in.post(reverse("stock:import-stop", args=[draft.pk]))
    assert looked_at(draft).is_read


@pytest.mark.parametrize("when", ["read", "prepared"])
def test_whose_leave_was_taken_puts_nothing_into_stock(yard, user, when, monkeypatch):
    draft = confirmed(yard, user)
    if when == "prepared":
        publish = import_work._publish

        def taken(**kwargs):
            Membership.objects.filter(user=user).update(role=Membership.Role.LOOKS)
            publish(**kwargs)

        monkeypatch.setattr(import_work, "_publish", taken)
    else:
        Membership.objects.filter(user=user).update(role=Membership.Role.LOOKS)
    import_work.work_on_import(draft.pk)
    assert looked_at(draft).state == State.FAILED and "may count and move stock" in draft.problem
    assert not Lot.objects.exists() and not ImportLot.objects.exists()


def test_a_site_archived_after_its_rows_were_prepared_keeps_all_of_it_out(yard, user, monkeypatch):
    site = SiteFactory(organisation=yard, name="North Field")
    draft = read(yard, user, b"Material,Length,Quantity,Place,Site\nrail,10',2,Rack,North Field\n")
    importing.confirm_draft(organisation=yard, user=user, draft=draft)
    publish = import_work._publish

    def archived(**kwargs):
        type(site).objects.filter(pk=site.pk).update(archived_at=timezone.now())
        publish(**kwargs)

    monkeypatch.setattr(import_work, "_publish", archived)
    import_work.work_on_import(draft.pk)
    assert looked_at(draft).state == State.FAILED and "Row 2: the site has changed" in draft.problem
    assert not Lot.objects.exists() and not ImportLot.objects.exists()


def test_a_currency_that_changes_meanwhile_keeps_all_of_it_out(yard, user, monkeypatch):
    draft = confirmed(yard, user)
    publish = import_work._publish

    def change(**kwargs):
        data = {"currency": "JPY"}
        save_organisation(organisation=yard, user=user, data=data)
        publish(**kwargs)

    monkeypatch.setattr(import_work, "_publish", change)
    import_work.work_on_import(draft.pk)
    assert looked_at(draft).state == State.FAILED and "currency was changed" in draft.problem
    assert not Lot.objects.exists() and not ImportLot.objects.exists() and not ImportPart.objects.exists()
    # Its rows were read in another currency: they do not come back.
    importing.stop_draft(organisation=yard, user=user, draft=draft)
    assert not ImportDraft.objects.filter(confirmed_at=None, state=State.READY).exists()


def test_another_file_waits_until_the_first_is_in_stock_or_stopped(yard, user):
    confirmed(yard, user)
    for send in (importing.keep_file, importing.make_draft):
        with pytest.raises(WorkbookError, match=r"yard\.csv is being put into stock"):
            send(organisation=yard, user=user, data=lines(3), filename="b.csv", today=TODAY)
    assert ImportDraft.objects.count() == 1


def test_the_numbers_of_a_file_are_not_given_to_its_other_rows(yard, user):
    text = "Material,Length,Quantity,Place,Reference\n" + "rail,10',1,Rack,\n" * 3 + "rail,10',1,Rack,L-0002\n"
    draft = importing.make_draft(organisation=yard, user=user, data=text.encode(), filename="a.csv", today=TODAY)
    importing.store_draft(organisation=yard, user=user, draft=draft)
    assert [lot.reference for lot in Lot.objects.order_by("pk")] == ["L-0001", "L-0003", "L-0004", "L-0002"]


def test_its_pages_from_the_file_to_the_stock(yard, user, signed_in):
    file = SimpleUploadedFile("yard.csv", lines(ROWS))
    form = text_of(signed_in.get(reverse("stock:import")))
    assert re.search(r"up to 60.000 rows and 20 MB", form)
    answer = signed_in.post(reverse("stock:import"), {"file": file})
    draft = ImportDraft.objects.get()
    page = reverse("stock:import-preview", args=[draft.pk])
    assert answer.url == page
    import_work.work_on_import(draft.pk)
    assert "450 rows are all right" in text_of(signed_in.get(page))
    assert signed_in.get(reverse("stock:import-progress", args=[draft.pk])).json()["state"] == "ready"
    answer = signed_in.post(reverse("stock:import-store", args=[draft.pk]))
    assert answer.url == page
    import_work.work_on_import(draft.pk)
    assert "450 lots are in stock from yard.csv" in text_of(signed_in.get(page))
    again = signed_in.post(reverse("stock:import-store", args=[draft.pk]), follow=True)
    assert "put into stock already" in text_of(again) and Lot.objects.count() == ROWS


@pytest.mark.parametrize("state", [State.WAITING, State.WORKING])
def test_the_page_of_a_file_under_way_says_how_far_it_is_and_stops_it(yard, user, signed_in, state):
    draft = confirmed(yard, user)
    if state == State.WORKING:
        ImportDraft.objects.update(
            state=state,
            worker="x",
            heard_from_at=timezone.now(),
            steps=ROWS,
            steps_done=200,
            step_note="200 of 450 rows",
        )
    page = reverse("stock:import-preview", args=[draft.pk])
    told = text_of(signed_in.get(page))
    assert "450 lots are being put into stock" in told
    assert ("200 of 450 rows" if state == State.WORKING else "Waiting for a worker") in told
    how_far = signed_in.get(reverse("stock:import-progress", args=[draft.pk])).json()
    assert how_far["state"] == state
    answer = signed_in.post(reverse("stock:import-stop", args=[draft.pk]), follow=True)
    assert "nothing of it is in stock" in text_of(answer) and looked_at(draft).is_read


def test_what_is_read_is_stopped_and_gone(yard, user, signed_in):
    draft = sent(yard, user)
    answer = signed_in.post(reverse("stock:import-stop", args=[draft.pk]), follow=True)
    assert "was stopped" in text_of(answer) and not ImportDraft.objects.exists()
    import_work.work_on_import(draft.pk)


def test_a_file_has_so_many_rows_new_places_and_bytes_and_no_more(yard, user, monkeypatch):
    monkeypatch.setattr(importing, "MAX_ROWS", ROWS)
    assert read(yard, user).rows == ROWS
    assert "more than 450 rows" in read(yard, user, lines(ROWS + 1)).problem
    monkeypatch.setattr(importing, "MAX_NEW_PLACES", 3)
    assert read(yard, user).rows == ROWS
    told = read(yard, user, lines(3, "rail,10',1,Shed,1,,")).problem
    assert "names 4 places" in told and "3 at once is the most" in told


@pytest.mark.django_db(transaction=True)
def test_confirmed_by_two_at_once_it_is_in_stock_once(yard, user):
    draft = read(yard, user)
    both = Barrier(2)

    def press(_):
        both.wait()
        try:
            importing.confirm_draft(organisation=yard, user=user, draft=draft)
            first = True
        except importing.ImportStale:
            first = False
        import_work.work_on_import(draft.pk)
        connection.close()
        return first

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(press, range(2))) == [False, True]
    assert Lot.objects.count() == Movement.objects.count() == ROWS and looked_at(draft).stored_at


@pytest.mark.django_db(transaction=True)
def test_others_write_between_any_two_batches(yard, user, monkeypatch):
    draft, waited = confirmed(yard, user), []

    def write(done):
        PlaceFactory(organisation=yard, name=f"Written at {done}")
        connection.close()

    def beside(done, rows):
        with ThreadPoolExecutor(1) as pool:
            waited.append(pool.submit(write, done).result())
        return f"{done} of {rows} rows"

    monkeypatch.setattr(import_work, "_of", beside)
    monkeypatch.setattr(import_work, "PAUSES", ())
    import_work.work_on_import(draft.pk)
    assert looked_at(draft).problem == "" and len(waited) == 5
    assert Lot.objects.count() == ROWS and Place.objects.filter(name__startswith="Written").count() == 5
