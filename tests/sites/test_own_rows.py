"""Rows of a house's own on its pages: typed, corrected, removed, copied, and saved by two people."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.catalogue.services import archive_material, bring_back_material
from farmbuild.planning.house.own_rows import MAX_QUANTITY, PLACES
from farmbuild.planning.house.part import WORK_NAMES
from farmbuild.sites import services
from farmbuild.sites.bridge import house_input, take_off_of
from farmbuild.sites.models import House, HouseOwnRow
from tests.factories import HouseFactory, MaterialFactory, SiteFactory
from tests.reading import text_of
from tests.sites.posting import sent_by

pytestmark = pytest.mark.django_db
INCH = Decimal("25.4")


@pytest.fixture
def house(organisation):
    return HouseFactory(site=SiteFactory(organisation=organisation), name="North 1", slug="north-1")


@pytest.fixture
def strap(organisation):
    return MaterialFactory(organisation=organisation, code="strap", name="Strap", kind="hardware", width=None)


@pytest.fixture
def lath(organisation):
    return MaterialFactory(organisation=organisation, code="lath", name="Lath", kind="lumber")


def edit_address(house) -> str:
    return reverse("sites:house-edit", args=[house.slug])


def opened(client, house) -> dict[str, str]:
    """What the browser would send of the page as it was opened."""
    page = client.get(edit_address(house)).context
    return sent_by(page["form"]) | rows_sent(page["rows"])


def rows_sent(rows) -> dict[str, str]:
    data = sent_by(rows.management_form)
    for form in rows:
        data |= sent_by(form)
    return data


def typed(n: int, **values: object) -> dict[str, str]:
    return {f"rows-{n}-{name}": str(value) for name, value in values.items()}


def stored(house) -> list[tuple[object, ...]]:
    return [
        (row.material.code, row.quantity, row.per, row.length, row.step, row.note)
        for row in HouseOwnRow.objects.filter(house=house).select_related("material")
    ]


def add(house, user, *rows: dict[str, object]) -> None:
    services.save_house(organisation=house.organisation, user=user, house=house, data={}, own_rows=rows)


def row(material, **values: object) -> dict[str, object]:
    usual = {"quantity": Decimal(1), "per": "house", "length": Decimal(0), "step": "", "note": ""}
    return {"material": material} | usual | values


def test_a_row_is_typed_shown_changed_and_removed(signed_in, house, strap, lath):
    data = opened(signed_in, house) | typed(0, material=strap.pk, quantity="1.5", per="hoop", note="over <the> tape")
    assert signed_in.post(edit_address(house), data).status_code == 302
    assert stored(house) == [("strap", Decimal("1.5"), "hoop", 0, "", "over <the> tape")]
    page = text_of(signed_in.get(house.get_absolute_url()))
    assert "Strap: 1.5 for each hoop (over &lt;the&gt; tape)" in page
    takeoff = text_of(signed_in.get(reverse("sites:takeoff", args=[house.slug])))
    assert "over &lt;the&gt; tape: 1.5 for each hoop x 13 hoops = 19.5, rounded up = 20" in takeoff
    assert signed_in.get(reverse("sites:takeoff-spreadsheet", args=[house.slug])).status_code == 200

    data = opened(signed_in, house)
    assert data["rows-0-quantity"] == "1.5"
    data |= typed(0, quantity="2") | typed(1, material=lath.pk, quantity="3", length='18"', step="film")
    assert signed_in.post(edit_address(house), data).status_code == 302
    assert stored(house) == [
        ("strap", 2, "hoop", 0, "", "over <the> tape"),
        ("lath", 3, "house", 18 * INCH, "film", ""),
    ]

    data = opened(signed_in, house) | typed(0, remove="on", quantity="nonsense")
    assert signed_in.post(edit_address(house), data).status_code == 302
    assert [code for code, *_ in stored(house)] == ["lath"]
    # Emptied, a row goes as well.
    data = opened(signed_in, house) | typed(0, material="", quantity="", length="", step="", note="")
    assert signed_in.post(edit_address(house), data).status_code == 302
    assert stored(house) == []


def test_a_new_house_takes_its_rows_with_it(signed_in, organisation, user, strap):
    site = SiteFactory(organisation=organisation)
    signed_in.post(reverse("sites:house-new"), {"starter": "12-ft-house"})
    address = reverse("sites:house-create", args=["12-ft-house"])
    page = signed_in.get(address).context
    data = sent_by(page["form"]) | rows_sent(page["rows"])
    data |= {"site": str(site.pk), "name": "South 1", "need_date": "2027-05-03"}
    wrong = signed_in.post(address, data | typed(0, material=strap.pk, quantity="0"))
    assert wrong.status_code == 200 and not House.objects.filter(name="South 1").exists()
    assert signed_in.post(address, data | typed(0, material=strap.pk, quantity="4", per="end")).status_code == 302
    assert stored(House.objects.get(name="South 1")) == [("strap", 4, "end", 0, "", "")]


def test_more_empty_rows_are_added_without_script_and_nothing_typed_is_lost(signed_in, house, strap):
    data = opened(signed_in, house) | typed(0, material=strap.pk, quantity="lots") | {"name": "Renamed", "length": "x"}
    answer = signed_in.post(edit_address(house), data | {"more_rows": "1"})
    assert answer.status_code == 200
    page = text_of(answer)
    assert "Not done yet" not in page and "cannot be read" not in page
    rows = answer.context["rows"]
    assert len(rows.forms) == int(data["rows-TOTAL_FORMS"]) + 1
    assert 'value="lots"' in page and 'value="Renamed"' in page
    house.refresh_from_db()
    assert house.name == "North 1"
    # And what that page sends is stored.
    sent = sent_by(answer.context["form"]) | rows_sent(rows) | {"length": "48'"}
    sent |= typed(0, quantity="2") | typed(1, material=strap.pk, quantity="3")
    assert signed_in.post(edit_address(house), sent).status_code == 302
    assert [quantity for _, quantity, *_ in stored(house)] == [2, 3]


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"quantity": "0"}, "quantity", "above 0"),
        ({"quantity": "-2"}, "quantity", "above 0"),
        ({"quantity": ""}, "quantity", "above 0"),
        ({"quantity": "two"}, "quantity", "plain number"),
        ({"quantity": "1000000000"}, "quantity", "at most 100,000"),
        ({"quantity": "9" * 30}, "quantity", "smaller quantity"),
        ({"quantity": "0.0001"}, "quantity", "3 decimals"),
        ({"quantity": "nan"}, "quantity", "plain number"),
        ({"quantity": "9000", "per": "hoop"}, "quantity", "100,000 is the most"),
        ({"material": ""}, "material", "Choose the material"),
        ({"material": "999999"}, "material", "not on the list any more"),
        ({"per": "fortnight"}, "per", "not on the list any more"),
        ({"step": "paint"}, "step", "not on the list any more"),
        ({"length": "6 in"}, "length", "is counted and has no length"),
        ({"length": "long"}, "length", "cannot be read"),
        ({"note": "x" * 201}, "note", "200"),
    ],
)
def test_what_is_wrong_stands_at_its_row_and_nothing_is_lost(signed_in, house, strap, wrong, field, words):
    data = opened(signed_in, house) | {"name": "Renamed"}
    data |= typed(0, material=strap.pk, quantity="2", note="kept") | typed(0, **wrong)
    answer = signed_in.post(edit_address(house), data)
    assert answer.status_code == 200
    (told,) = answer.context["rows"].forms[0].errors[field]
    assert words in told
    page = text_of(answer)
    assert f"Row 1, {answer.context['rows'].forms[0].fields[field].label}: " in page
    assert 'value="Renamed"' in page and (field == "note" or 'value="kept"' in page)
    assert stored(house) == []
    house.refresh_from_db()
    assert house.name == "North 1"


def test_the_row_of_an_error_is_that_row_though_empty_ones_stand_before_it(signed_in, house, user, strap, lath):
    add(house, user, row(strap), row(strap, note="second"))
    data = opened(signed_in, house) | typed(0, remove="on") | typed(2, material=lath.pk, quantity="1")
    answer = signed_in.post(edit_address(house), data)
    assert [list(form.errors) for form in answer.context["rows"].forms] == [[], [], ["length"]]
    assert "Lath is bought by length" in text_of(answer)
    assert len(stored(house)) == 2


def test_both_unit_systems(signed_in, organisation, house, lath):
    type(organisation).objects.filter(pk=organisation.pk).update(unit_system="metric")
    data = opened(signed_in, house) | typed(0, material=lath.pk, quantity="1", per="metre", length="450")
    assert signed_in.post(edit_address(house), data).status_code == 302
    assert stored(house) == [("lath", 1, "metre", Decimal(450), "", "")]
    assert "Lath: 1 for each metre of house length, 450 mm long" in text_of(signed_in.get(house.get_absolute_url()))
    takeoff = text_of(signed_in.get(reverse("sites:takeoff", args=[house.slug])))
    assert "x 14.63 metres = 14.6310, rounded up = 15" in takeoff


def test_material_of_another_organisation_never_gets_in(signed_in, house, user):
    theirs = MaterialFactory(name="Theirs", kind="hardware")
    data = opened(signed_in, house) | typed(0, material=theirs.pk, quantity="1")
    answer = signed_in.post(edit_address(house), data)
    assert "not on the list any more" in text_of(answer) and "Theirs" not in text_of(answer)
    with pytest.raises(ValidationError) as refused:
        add(house, user, row(theirs))
    assert list(refused.value.message_dict) == ["own_rows"]
    assert stored(house) == []


def test_an_archived_material_stays_where_it_is_and_is_taken_for_no_new_row(signed_in, house, user, strap, lath):
    data = opened(signed_in, house) | typed(0, material=strap.pk, quantity="2")
    archive_material(organisation=house.organisation, user=user, material=strap)
    answer = signed_in.post(edit_address(house), data)
    assert "not on the list any more" in text_of(answer) and stored(house) == []
    with pytest.raises(ValidationError, match="Strap is archived") as refused:
        add(house, user, row(lath, length=INCH), row(strap))
    assert list(refused.value.message_dict) == ["own_rows"]
    bring_back_material(organisation=house.organisation, user=user, material=strap)
    add(house, user, row(strap))
    archive_material(organisation=house.organisation, user=user, material=strap)
    data = opened(signed_in, house) | typed(0, quantity="3")
    assert signed_in.post(edit_address(house), data).status_code == 302
    assert stored(house) == [("strap", 3, "house", 0, "", "")]


def test_a_page_opened_before_there_were_rows_leaves_them_as_they_are(signed_in, house, user, strap):
    add(house, user, row(strap))
    data = {name: value for name, value in opened(signed_in, house).items() if not name.startswith("rows-")}
    assert signed_in.post(edit_address(house), data | {"name": "Renamed"}).status_code == 302
    assert len(stored(house)) == 1 and House.objects.get().name == "Renamed"


def test_the_same_press_twice_stores_the_rows_once(signed_in, house, strap):
    page = signed_in.get(edit_address(house))
    data = sent_by(page.context["form"]) | rows_sent(page.context["rows"]) | typed(0, material=strap.pk, quantity="2")
    data |= {"once": "a" * 32}
    for _ in range(2):
        assert signed_in.post(edit_address(house), data).status_code == 302
    assert len(stored(house)) == 1


# Two people


def test_rows_that_someone_else_changed_are_told_and_taken_where_the_reader_changed_none(signed_in, house, user, strap):
    data = opened(signed_in, house) | {"name": "Renamed"}
    add(house, user, row(strap, quantity=Decimal(5)))
    answer = signed_in.post(edit_address(house), data)
    assert answer.status_code == 409
    page = text_of(answer)
    assert "Rows of its own" in page and "Strap: 5 for each house" in page
    again = sent_by(answer.context["form"]) | rows_sent(answer.context["rows"])
    assert again["rows-0-quantity"] == "5"
    assert signed_in.post(edit_address(house), again).status_code == 302
    assert stored(house) == [("strap", 5, "house", 0, "", "")]
    assert House.objects.get().name == "Renamed"


def test_rows_that_both_changed_stay_as_typed_until_they_are_saved_again(signed_in, house, user, strap):
    data = opened(signed_in, house) | typed(0, material=strap.pk, quantity="7")
    add(house, user, row(strap, quantity=Decimal(5)))
    answer = signed_in.post(edit_address(house), data)
    assert answer.status_code == 409
    assert "yours: Strap: 7 for each house" in " ".join(text_of(answer).split())
    assert stored(house) == [("strap", 5, "house", 0, "", "")]
    again = sent_by(answer.context["form"]) | rows_sent(answer.context["rows"])
    assert signed_in.post(edit_address(house), again).status_code == 302
    assert stored(house) == [("strap", 7, "house", 0, "", "")]


def test_rows_sent_without_what_the_page_was_opened_with_do_not_replace_what_is_stored(signed_in, house, user, strap):
    data = opened(signed_in, house) | typed(0, material=strap.pk, quantity="7")
    add(house, user, row(strap, quantity=Decimal(5)))
    answer = signed_in.post(edit_address(house), data | {"opened": "torn"})
    assert answer.status_code == 409
    assert "Rows of its own" in [change.label for change in answer.context["conflict"].changes]
    assert stored(house) == [("strap", 5, "house", 0, "", "")]


def test_rows_that_nobody_else_changed_are_no_conflict(signed_in, house, user, strap):
    add(house, user, row(strap, quantity=Decimal("0.125"), note="a"))
    data = opened(signed_in, house) | typed(0, quantity="0.25")
    assert signed_in.post(edit_address(house), data).status_code == 302
    assert stored(house)[0][1] == Decimal("0.25")


# Copies, and what rests on a house


def test_copies_of_a_house_and_of_a_site_have_its_rows(house, user, strap, lath):
    add(
        house,
        user,
        row(strap, note="first"),
        row(lath, length=6 * INCH, step="ends", per="door", quantity=Decimal("0.5")),
    )
    who = {"organisation": house.organisation, "user": user}
    made = services.copy_house(
        **who, house=house, site=house.site, name="North 2", need_date=date(2027, 6, 1), copies=3
    )
    site = services.copy_site(**who, site=house.site, name="South", with_houses=True)
    for copy in [*made, *site.houses.all()]:
        assert stored(copy) == stored(house) != []
    add(made[0], user)
    assert stored(made[0]) == [] and len(stored(house)) == 2


def test_copying_asks_as_much_for_few_rows_as_for_many(house, user, strap):
    def asked(name: str, copies: int) -> int:
        with CaptureQueriesContext(connection) as seen:
            services.copy_house(
                organisation=house.organisation,
                user=user,
                house=house,
                site=house.site,
                name=name,
                need_date=date(2027, 6, 1),
                copies=copies,
            )
        return len(seen)

    add(house, user, row(strap))
    few = asked("A 1", 1)
    add(house, user, *[row(strap, note=str(n)) for n in range(20)])
    assert asked("B 1", 10) == few


def test_pages_ask_as_much_for_one_row_as_for_many(signed_in, house, user, strap):
    pages = [house.get_absolute_url(), edit_address(house), reverse("sites:takeoff", args=[house.slug])]

    def asked() -> list[int]:
        counts = []
        for page in pages:
            with CaptureQueriesContext(connection) as seen:
                assert signed_in.get(page).status_code == 200
            counts.append(len(seen))
        return counts

    add(house, user, row(strap))
    asked()
    few = asked()
    add(house, user, *[row(strap, note=str(n)) for n in range(40)])
    asked()
    assert asked() == few


def test_a_changed_row_is_a_changed_house(house, user, strap):
    """So every plan that was made of it is out of date."""
    before = house_input(House.objects.get(pk=house.pk))
    add(house, user, row(strap))
    added = house_input(House.objects.get(pk=house.pk))
    add(house, user, row(strap, note="why"))
    noted = house_input(House.objects.get(pk=house.pk))
    add(house, user)
    assert len({before, added, noted}) == 3
    assert house_input(House.objects.get(pk=house.pk)) == before


def test_what_was_saved_without_its_rows_keeps_them(house, user, strap):
    add(house, user, row(strap))
    saved = services.save_house(organisation=house.organisation, user=user, house=house, data={"name": "Other"})
    assert len(stored(house)) == 1
    assert [one.material for one in take_off_of(saved, "imperial") if one.purpose == "own rows"] == ["strap"]


# The database


@pytest.mark.parametrize(
    "wrong",
    [{"quantity": 0}, {"quantity": -1}, {"length": -1}, {"per": "fortnight"}, {"position": 0}],
)
def test_the_database_keeps_what_must_not_be(house, strap, wrong):
    HouseOwnRow.objects.create(house=house, position=0, material=strap, quantity=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        HouseOwnRow.objects.create(**({"house": house, "position": 1, "material": strap, "quantity": 1} | wrong))
    assert HouseOwnRow.objects.count() == 1


def test_the_table_holds_every_quantity_that_may_be_typed(house, strap):
    most = HouseOwnRow.objects.create(house=house, position=0, material=strap, quantity=MAX_QUANTITY)
    least = HouseOwnRow.objects.create(house=house, position=1, material=strap, quantity=Decimal(10) ** -PLACES)
    for made, quantity in ((most, MAX_QUANTITY), (least, Decimal("0.001"))):
        made.refresh_from_db()
        assert made.quantity == quantity
    longest = HouseOwnRow._meta.get_field("step").max_length
    assert max(len(kind.value) for kind in WORK_NAMES) <= longest
