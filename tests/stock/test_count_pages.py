"""Pages of counts: what they show and refuse, and whose rows they never show."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from farmbuild.measure import THIN_SPACE
from farmbuild.stock import services as stock
from farmbuild.stock.counts import services
from farmbuild.stock.counts.services import Counted
from farmbuild.stock.counts.views.places import BOXES
from farmbuild.stock.models import CountDraft, CountEntry, CountFind, StockCount
from tests.factories import FOOT, LotFactory, MaterialFactory, MembershipFactory, PlaceFactory
from tests.reading import text_of
from tests.stock.files import workbook
from tests.workbooks.books import recalculated

pytestmark = pytest.mark.django_db
HEAD = ("Lot", "Counted")


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def rail(organisation):
    return MaterialFactory(organisation=organisation, code="rail", name="1-3/8 rail")


@pytest.fixture
def rack(organisation):
    return PlaceFactory(organisation=organisation, name="Barn rack")


@pytest.fixture
def shed(organisation):
    return PlaceFactory(organisation=organisation, name="Creek shed")


@pytest.fixture
def lot(rail, rack):
    return LotFactory(material=rail, place=rack, reference="RACK-1", on_hand=20, unit_cost=Decimal("12.90"))


@pytest.fixture
def other(rail, shed):
    return LotFactory(material=rail, place=shed, reference="SHED-1", on_hand=7, length=FOOT * 8)


@pytest.fixture
def count(who, lot, other, rack, shed):
    return services.start_count(**who, places=[rack, shed], look_again=Decimal(25))


def url(name, *more):
    return reverse(f"stock:{name}", args=[1, *more])


def boxes(*pairs, was=()):
    """A place's sheet as sent: (lot, typed)."""
    sent = {f"lot_{lot.pk}": typed for lot, typed in pairs}
    return sent | {f"was_{lot.pk}": shown for lot, shown in was} | {"counted_at": ""}


def send(client, data, name="sheet.xlsx", **more):
    return client.post(url("count-import"), {"file": SimpleUploadedFile(name, data), **more})


def test_a_count_is_started_on_a_page(signed_in, organisation, rack, shed, lot):
    page = signed_in.get(reverse("stock:count-start"))
    assert "Barn rack (1 lot)" in text_of(page)
    signed_in.post(reverse("stock:count-start"), {"places": [rack.pk], "blind": "on", "look_again": "25"})
    count = StockCount.objects.get()
    assert (count.blind, count.look_again, count.lines.count()) == (True, Decimal(25), 1)
    refused = signed_in.post(reverse("stock:count-start"), {"look_again": "25"})
    assert "Choose at least one place to count." in text_of(refused)


def test_a_place_is_counted_and_the_next_one_offered(signed_in, count, lot, other, rack, shed):
    assert "0 of 2 lots counted in 2 places" in text_of(signed_in.get(url("count")))
    answer = signed_in.post(url("count-place", rack.pk), boxes((lot, "18")))
    assert answer.url == url("count-place", shed.pk)
    answer = signed_in.post(url("count-place", shed.pk), boxes((other, "7")))
    assert answer.url == url("count")
    page = text_of(signed_in.get(url("count-review")))
    assert "1 difference: $0.00 more and $25.80 less" in page.replace("\u00a0", " ")
    done = text_of(signed_in.post(url("count-post"), {"stand": stand_in(page)}, follow=True)).replace("\u00a0", " ")
    lot.refresh_from_db()
    assert lot.on_hand == 18
    assert "1 lot corrected, -$25.80 in all" in done
    line = count.lines.get(lot=lot)
    assert "−2 was corrected" in text_of(signed_in.get(url("count-line", line.pk)))
    assert "1 difference: $0.00 more and $25.80 less" in text_of(signed_in.get(url("count-review"))).replace(
        "\u00a0", " "
    )
    assert "No count is open." in text_of(signed_in.get(reverse("stock:counts")))


def stand_in(page: str) -> str:
    return page.split('name="stand" value="')[1].split('"')[0]


def test_only_what_was_typed_is_entered(signed_in, who, count, lot, rack):
    """A page that was opened earlier does not put its old number over a newer one."""
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 18)])
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 19)])
    signed_in.post(url("count-place", rack.pk), boxes((lot, "18"), was=[(lot, "18")]))
    assert count.lines.get(lot=lot).counted == 19
    signed_in.post(url("count-place", rack.pk), boxes((lot, ""), was=[(lot, "18")]))
    assert count.lines.get(lot=lot).counted == 19
    assert CountEntry.objects.count() == 2


def test_what_cannot_be_read_is_said_at_its_lot_and_nothing_is_lost(signed_in, count, lot, rack, rail):
    second = LotFactory(material=rail, place=rack, reference="RACK-2")
    answer = signed_in.post(url("count-place", rack.pk), boxes((lot, "about 18"), (second, "4")))
    page = text_of(answer)
    assert "Type a whole number from 0 to" in page
    assert 'value="about 18"' in page
    assert 'value="4"' in page
    assert not CountEntry.objects.exists()


def many(rail, place, number):
    return [LotFactory(material=rail, place=place, reference=f"MANY-{n:03}") for n in range(number)]


def test_a_place_is_counted_a_sheet_at_a_time_and_nothing_is_lost_on_the_way(signed_in, who, rail, rack):
    lots = many(rail, rack, BOXES * 2 + 1)
    count = services.start_count(**who, places=[rack])
    here = url("count-place", rack.pk)
    page = text_of(signed_in.get(here))
    assert 'action="?page=1"' in page
    assert page.count("data-count-box") == BOXES
    on = signed_in.post(f"{here}?page=1", boxes((lots[0], "3")))
    assert on.url == f"{here}?page=2"
    # To another sheet by its number: what is typed is saved on the way, back as well as on.
    assert signed_in.post(f"{here}?page=2", boxes((lots[BOXES], "4")) | {"to": "1"}).url == f"{here}?page=1"
    assert signed_in.post(f"{here}?page=1", boxes((lots[1], "5")) | {"to": "999"}).url == f"{here}?page=3"
    assert dict(count.lines.filter(times=1).values_list("lot__reference", "counted")) == {
        "MANY-000": 3,
        f"MANY-{BOXES:03}": 4,
        "MANY-001": 5,
    }
    # What cannot be read stays on its sheet, wherever one wanted to go.
    refused = text_of(signed_in.post(f"{here}?page=1", boxes((lots[2], "some"), (lots[3], "6")) | {"to": "2"}))
    assert 'value="some"' in refused
    assert 'value="6"' in refused


def test_a_place_opens_where_counting_goes_on(signed_in, who, rail, rack):
    lots = many(rail, rack, BOXES + 1)
    count = services.start_count(**who, places=[rack])
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 1) for lot in lots[:BOXES]])
    assert f"MANY-{BOXES:03}" in text_of(signed_in.get(url("count-place", rack.pk)))


def test_lots_that_come_in_meanwhile_move_no_box_to_another_sheet(signed_in, who, rail, rack):
    lots = many(rail, rack, BOXES + 1)
    count = services.start_count(**who, places=[rack])
    early = LotFactory(material=rail, place=rack, reference="AAA")
    services.record_counts(**who, count=count, counted=[Counted(early.pk, 2)])
    # The last lot of the first sheet is on the second by now.
    signed_in.post(f"{url('count-place', rack.pk)}?page=1", boxes((lots[BOXES - 1], "7")))
    assert count.lines.get(lot=lots[BOXES - 1]).counted == 7


def test_a_time_is_typed_to_the_minute(signed_in, count, lot, rack):
    """The minute of the start began before the count; what was there then is what was there at the start."""
    minute = timezone.localtime(count.started_at).strftime("%Y-%m-%dT%H:%M")
    signed_in.post(url("count-place", rack.pk), boxes((lot, "18")) | {"counted_at": minute})
    line = count.lines.get(lot=lot)
    assert (line.counted, line.expected, line.counted_at) == (18, 20, count.started_at)
    page = signed_in.post(url("count-place", rack.pk), boxes((lot, "17")) | {"counted_at": "yesterday"})
    assert "This time cannot be read." in text_of(page)
    assert CountEntry.objects.count() == 1


def test_blind_sheets_are_without_the_numbers_of_the_books(signed_in, who, lot, rack):
    stock.scrap(**who, lot=lot, quantity=3, reason="bent")
    services.start_count(**who, places=[rack], blind=True)
    for name, more in (("count-place", [rack.pk]), ("count-sheets", [])):
        page = text_of(signed_in.get(url(name, *more)))
        assert "RACK-1" in page
        assert "Stock record" not in page
    book = load_workbook(io.BytesIO(signed_in.get(url("count-xlsx")).content))
    values = [cell.value for row in book.active.iter_rows() for cell in row]
    assert "RACK-1" in values
    assert 17 not in values
    assert "Stock record" not in values


def test_sheets_are_in_the_order_of_the_walk(signed_in, count, rail, rack, other):
    LotFactory(material=rail, place=rack, reference="LONG", length=FOOT * 20)
    services.cancel_count(organisation=rail.organisation, user=None, count=count)
    services.start_count(organisation=rail.organisation, user=None, places=[rack, other.place])
    page = text_of(signed_in.get(reverse("stock:count-sheets", args=[2])))
    places = [page.index(text) for text in ("LONG", "RACK-1", "SHED-1")]
    assert places == sorted(places)


def test_something_found_is_written_down_and_taken_back(signed_in, count, rack, rail):
    given = {"material": rail.pk, "length": "12'", "quantity": "3", "unit_cost": "", "note": "behind the door"}
    signed_in.post(url("count-find", rack.pk), given)
    found = CountFind.objects.get()
    assert (found.quantity, found.length) == (3, FOOT * 12)
    assert "3 of 1-3/8 rail" in text_of(signed_in.get(url("count-place", rack.pk)))
    refused = signed_in.post(url("count-find", rack.pk), given | {"length": ""})
    assert "field wrong" in text_of(refused)
    signed_in.post(url("count-take-back", found.pk))
    found.refresh_from_db()
    assert found.taken_back


def test_large_differences_are_counted_again(signed_in, who, count, lot, other):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 18), Counted(other.pk, 6)])
    page = text_of(signed_in.get(url("count-review")))
    assert "Count 1 lot again" in page
    signed_in.post(url("count-again"), {"limit": "25"})
    assert count.lines.get(lot=lot).again
    assert not count.lines.get(lot=other).again
    # The box is empty for whoever counts the second time.
    assert 'value="18"' not in text_of(signed_in.get(url("count-place", lot.place_id)))
    assert "Count 1 lot again" in text_of(signed_in.get(url("count-review")))
    signed_in.post(url("count-again"), {"stand": "1"})
    assert not count.lines.get(lot=lot).again


def test_a_line_shows_what_moved_since(signed_in, who, count, lot):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 18)])
    stock.issue_pieces(**who, lot=lot, quantity=5, reason="gate")
    line = count.lines.get(lot=lot)
    page = text_of(signed_in.get(url("count-line", line.pk)))
    assert "Moved since it was counted" in page
    assert "Issued −5, gate" in page
    signed_in.post(url("count-line", line.pk), boxes((lot, "18")))
    assert line.entries.count() == 2


def test_the_exported_sheet_comes_back_filled_in(signed_in, count, lot, other):
    answer = signed_in.get(url("count-xlsx"))
    book = load_workbook(io.BytesIO(answer.content))
    sheet = book.active
    for row in sheet.iter_rows(min_row=4):
        row[-1].value = {"RACK-1": 18, "SHED-1": 7}[row[1].value]
    out = io.BytesIO()
    book.save(out)
    answer = send(signed_in, out.getvalue())
    page = text_of(signed_in.get(answer.url))
    assert "2 rows are all right; nothing is entered yet." in page
    assert not CountEntry.objects.exists()
    draft = CountDraft.objects.get()
    signed_in.post(url("count-import-store", draft.pk))
    assert {line.lot.reference: line.counted for line in count.lines.all()} == {"RACK-1": 18, "SHED-1": 7}
    assert set(CountEntry.objects.values_list("source", flat=True)) == {"file"}
    again = signed_in.post(url("count-import-store", draft.pk), follow=True)
    assert "entered already" in text_of(again)
    assert CountEntry.objects.count() == 2


def test_rows_that_are_not_right_hold_the_whole_sheet_back(signed_in, count, lot, other, rail, organisation):
    LotFactory(material=rail, reference="FAR-1", place=PlaceFactory(organisation=organisation, name="Far yard"))
    rows = [
        ("RACK-1", "18 or so"),
        ("RACK-9", 4),
        ("FAR-1", 4),
        ("SHED-1", 7),
        ("SHED-1", 8),
        ("", 3),
        ("RACK-1", None),
    ]
    answer = send(signed_in, workbook(*rows, head=HEAD))
    page = text_of(signed_in.get(answer.url))
    assert "5 of 6 rows have to be corrected" in page
    for sentence in (
        "Row 2, Counted:</strong> “18 or so” cannot be read as a number",
        "Row 3, Lot:</strong> There is no lot “RACK-9”. Did you mean RACK-1",
        "Row 4, Lot:</strong> Lot FAR-1 lies at Far yard, which is not part of count 1. Take this row out.",
        "Row 6, Lot:</strong> Row 5 has lot SHED-1 too. Add the two up and take one row out.",
        "Row 7, Lot:</strong> This cell is empty. Type the reference of the lot that was counted.",
    ):
        assert sentence in page, sentence
    signed_in.post(url("count-import-store", CountDraft.objects.get().pk))
    assert not CountEntry.objects.exists()


def test_a_sheet_is_read_by_the_decimal_sign_and_shown_as_understood(signed_in, count, organisation):
    organisation.decimal_sign = ","
    organisation.save()
    answer = send(signed_in, "Lot;Counted\nRACK-1;1.200\nSHED-1;7\n".encode("utf-16"), "sheet.csv")
    page = text_of(signed_in.get(answer.url))
    assert "2 rows are all right" in page and f"1{THIN_SPACE}200" in page
    answer = send(signed_in, b"Lot;Counted\nRACK-1;1,200\nSHED-1;2,5\n", "sheet.csv")
    page = text_of(signed_in.get(answer.url))
    assert "Row 2, Counted:</strong> “1,200” could be 1,200 or 1200" in page
    assert "Row 3, Counted:</strong> “2,5” is not a whole number" in page
    assert not CountEntry.objects.exists()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (workbook(("RACK-1", None), head=HEAD), "Nothing is filled in under Counted"),
        (
            workbook((), ("Lot", "Counted"), ("RACK-1", 3), head=("Count 7",)),
            "is the sheet of count 7. Send that of count 1.",
        ),
        (workbook(("RACK-1", 3), head=("Lot", "Pieces")), "needs a column headed “Counted”"),
        (b"no workbook", "is not a spreadsheet"),
    ],
    ids=["empty", "another count", "no column", "no workbook"],
)
def test_what_is_no_sheet_of_this_count_is_refused(signed_in, count, data, said):
    assert said in text_of(send(signed_in, data))
    assert not CountDraft.objects.exists()


def test_a_sheet_in_plain_text_is_read_too(signed_in, count, lot):
    answer = send(signed_in, b"Lot;Counted\nRACK-1;18\n", name="sheet.csv")
    signed_in.post(url("count-import-store", CountDraft.objects.get().pk))
    assert answer.status_code == 302
    assert count.lines.get(lot=lot).counted == 18


def test_a_refused_posting_says_which_lot(signed_in, who, count, lot):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 3)])
    stock.issue_pieces(**who, lot=lot, quantity=15, reason="gate")
    page = text_of(signed_in.get(url("count-review")))
    answer = text_of(signed_in.post(url("count-post"), {"stand": stand_in(page)}))
    assert "Nothing was posted." in answer
    assert "Lot RACK-1: counted were 3, and more than that was taken out since." in answer


def test_an_ended_count_offers_nothing_to_change(signed_in, who, count, lot, rack):
    services.record_counts(**who, count=count, counted=[Counted(lot.pk, 18)])
    signed_in.post(url("count-drop"))
    assert "Cancelled on" in text_of(signed_in.get(url("count")))
    page = text_of(signed_in.get(url("count-place", rack.pk)))
    assert "lot_" not in page
    answer = signed_in.post(url("count-post"), {"stand": ""})
    assert "Count 1 is cancelled; nothing of it changes any more." in text_of(answer)


def test_pages_of_another_organisation_are_not_found(client, user, count, lot, rack):
    client.force_login(MembershipFactory().user)
    line = count.lines.get(lot=lot)
    for name, *more in (
        ("count",),
        ("count-sheets",),
        ("count-xlsx",),
        ("count-place", rack.pk),
        ("count-find", rack.pk),
        ("count-line", line.pk),
        ("count-review",),
        ("count-drop",),
        ("count-import",),
    ):
        assert client.get(url(name, *more)).status_code == 404, name
    draft = CountDraft.objects.create(
        organisation=count.organisation, count=count, user=user, filename="sheet.xlsx", rows=[], bad_rows=0
    )
    assert client.get(url("count-import-preview", draft.pk)).status_code == 404
    assert client.post(url("count-import-store", draft.pk)).status_code == 404
    for name in ("count-post", "count-again", "count-drop"):
        assert client.post(url(name)).status_code == 404, name
    assert "Barn rack" not in text_of(client.get(reverse("stock:count-start")))
    assert "Count 1" not in text_of(client.get(reverse("stock:counts")))


@pytest.mark.office
def test_the_sheet_opens_in_libreoffice(tmp_path, signed_in, count):
    book = recalculated(signed_in.get(url("count-xlsx")).content, tmp_path)
    rows = [[cell.value for cell in row] for row in book.active.iter_rows()]
    assert rows[0][0] == "Count 1"
    assert rows[2] == ["Place", "Lot", "Material", "Length of one", "Stock record", "Counted"]
    assert rows[3][:2] == ["Barn rack", "RACK-1"]
    assert rows[3][4:] == [20, None]
    assert rows[4][:2] == ["Creek shed", "SHED-1"]
