"""What is left after a season, whom it would serve, and throwing out short offcuts."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from io import BytesIO

import pytest
from django.core.exceptions import ValidationError
from django.utils.html import strip_tags
from openpyxl import load_workbook

from farmbuild.measure import round_money
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.seasonend.bridge import Part, Serving, serving_of
from farmbuild.plans.seasonend.selectors import left_after, left_totals, short_offcuts
from farmbuild.plans.seasonend.services import scrap_offcuts
from farmbuild.plans.seasonend.words import serves
from farmbuild.sites.models import House
from farmbuild.stock.models import Lot, Movement
from tests.factories import INCH, LotFactory, MembershipFactory
from tests.plans.small_season import AS_OF, small_season

pytestmark = pytest.mark.django_db
BETWEEN = date(2027, 5, 15)
PAGE = "/stock/season-end/"


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *args, **more: AS_OF)


@pytest.fixture
def season(organisation):
    return small_season(organisation)


@pytest.fixture
def accepted(season, user):
    """North 1, needed by 12 May, holds what its plan uses."""
    plan = services.create_plan(**season.ask(user, houses=season.houses[:1])).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    return accept_plan(organisation=season.organisation, user=user, plan=plan)


@pytest.fixture
def ends(season):
    """Offcuts shorter than two feet: 10 in and 20 in of post."""
    post = Lot.objects.get(reference="L-2").material
    lot = {"material": post, "place": Lot.objects.get(reference="L-2").place, "offcut": True}
    return [
        LotFactory(reference="E-1", length=INCH * 10, on_hand=4, unit_cost=Decimal("0.505"), **lot),
        LotFactory(reference="E-2", length=INCH * 20, on_hand=3, unit_cost=Decimal("1.20"), **lot),
    ]


def text_of(answer) -> str:
    return " ".join(strip_tags(re.sub(r"(?s)<(script|style|svg).*?</\1>", "", answer.content.decode())).split())


def test_what_this_season_holds_is_not_left(accepted):
    organisation = accepted.organisation
    held = {lot.reference: lot.reserved for lot in Lot.objects.all()}
    assert held["L-1"] > 0
    before = {lot.reference: lot.left for lot in left_after(organisation=organisation, day=date(2027, 5, 11))}
    after = {lot.reference: lot.left for lot in left_after(organisation=organisation, day=date(2027, 5, 12))}
    for lot in Lot.objects.all():
        assert before.get(lot.reference, 0) == lot.on_hand
        assert after.get(lot.reference, 0) == lot.on_hand - lot.reserved
    totals = left_totals(left_after(organisation=organisation, day=date(2027, 5, 12)), organisation=organisation)
    assert totals["pieces"] == sum(after.values())
    assert totals["worth"] == sum(
        round_money(after.get(lot.reference, 0) * lot.unit_cost, organisation.currency) for lot in Lot.objects.all()
    )


def test_the_planner_says_whom_a_lot_serves(accepted, season):
    """Creek 1 has 13 hoops of two sticks; it gets of the rail what North 1 does not hold."""
    organisation, creek = season.organisation, season.houses[1]
    rail = Lot.objects.get(reference="L-1")
    Lot.objects.filter(pk=rail.pk).update(on_hand=rail.reserved + 5)
    Movement.objects.create(lot=rail, kind="receive", quantity=rail.reserved + 5 - rail.on_hand)
    serving = serving_of(organisation=organisation, houses=[creek], as_of=AS_OF)
    assert (serving["L-1"].there, serving["L-1"].sticks) == (5, 5)
    [part] = serving["L-1"].parts
    assert (part.house, part.pieces, part.length) == ("Creek 1", 5, None)
    # Nothing serves more than there is, and the same lots are used by an ordinary plan of that house.
    for ref, row in serving.items():
        lot = Lot.objects.get(reference=ref)
        assert 0 < row.sticks <= row.there <= lot.on_hand - lot.reserved
    assert serving_of(organisation=organisation, houses=[], as_of=AS_OF) == {}


def test_pieces_are_summed_by_house_and_purpose(organisation):
    parts = [
        Part("Creek 1", "doors", INCH * 24, 2),
        Part("Creek 1", "doors", INCH * 30, 3),
        Part("Creek 1", "ground posts", INCH * 48, 1200),
        Part("North 1", "hoops", None, 4),
    ]
    said = serves(Serving(9, 9, parts), organisation)
    assert said == "Creek 1: 5 for doors, 1,200 of 4' for ground posts; North 1: 4 for hoops"
    assert serves(None, organisation) == "none"


def test_short_offcuts_come_by_value_without_what_is_held_or_serves(accepted, season, ends):
    organisation = season.organisation
    found, more = short_offcuts(organisation=organisation, below=INCH * 24, serving={})
    assert [(row.lot.reference, row.pieces, row.value) for row in found] == [
        ("E-2", 3, Decimal("3.60")),
        ("E-1", 4, Decimal("2.02")),
    ]
    assert more == 0
    assert [row.lot.reference for row in short_offcuts(organisation=organisation, below=INCH * 20, serving={})[0]] == [
        "E-1"
    ]
    # A five foot offcut would make a post of the next house.
    creek = season.houses[1]
    LotFactory(
        material=ends[0].material, place=ends[0].place, reference="E-5", length=INCH * 60, on_hand=2, offcut=True
    )
    serving = serving_of(organisation=organisation, houses=[creek], as_of=AS_OF)
    assert serving["E-5"].sticks == 1
    for used, pieces in ((serving, 1), ({}, 2)):
        rows, _ = short_offcuts(organisation=organisation, below=INCH * 61, serving=used)
        assert [row.pieces for row in rows if row.lot.reference == "E-5"] == [pieces]


def test_held_offcuts_are_never_proposed(accepted):
    lot = Lot.objects.get(reference="L-3")
    assert lot.reserved == 1 == lot.on_hand
    rows, _ = short_offcuts(organisation=accepted.organisation, below=INCH * 500, serving={})
    assert lot.pk not in {row.lot.pk for row in rows}
    with pytest.raises(ValidationError, match="North 1"):
        scrap_offcuts(
            organisation=accepted.organisation, user=accepted.created_by, takes=[(lot.pk, 1)], reason="too short"
        )
    assert Lot.objects.get(reference="L-3").on_hand == 1


def test_all_ticked_go_or_none(organisation, user, ends):
    takes = [(ends[0].pk, 4), (ends[1].pk, 4)]
    with pytest.raises(ValidationError, match="Nothing was taken out"):
        scrap_offcuts(organisation=organisation, user=user, takes=takes, reason="too short")
    assert [Lot.objects.get(pk=lot.pk).on_hand for lot in ends] == [4, 3]
    assert not Movement.objects.filter(kind="scrap").exists()
    made = scrap_offcuts(organisation=organisation, user=user, takes=[takes[0], (ends[1].pk, 3)], reason="too short")
    assert [(row.kind, row.quantity, row.reason) for row in made] == [
        ("scrap", -4, "too short"),
        ("scrap", -3, "too short"),
    ]
    assert [Lot.objects.get(pk=lot.pk).on_hand for lot in ends] == [0, 0]


@pytest.mark.parametrize("takes", [[], "twice", "whole", "foreign"])
def test_wrong_ticks_are_refused(organisation, user, ends, takes):
    if takes == "twice":
        takes = [(ends[0].pk, 1), (ends[0].pk, 1)]
    elif takes == "whole":
        takes = [(Lot.objects.get(reference="L-1").pk, 1)]
    elif takes == "foreign":
        takes = [(LotFactory(offcut=True).pk, 1)]
    with pytest.raises(ValidationError):
        scrap_offcuts(organisation=organisation, user=user, takes=takes, reason="too short")
    assert not Movement.objects.filter(kind="scrap").exists()


def test_the_page_answers(signed_in, season, ends):
    answer = signed_in.get(PAGE)
    said = text_of(answer)
    assert "After 1 March 2027, 5 lots with a value of" in said
    assert "would serve the 2 houses of the next season" in said and "North 1:" in said
    assert "7 offcuts" in said and "with a value of $5.62" in said
    assert "lot E-2 at Rack 1, 45 days old, value $3.60" in said
    one = text_of(signed_in.get(PAGE, {"day": "2027-05-15", "below": '15"', "houses": [season.houses[1].pk]}))
    assert "the 1 house of the next season" in one and "4 offcuts" in one and "E-2 at" not in one
    none = text_of(signed_in.get(PAGE, {"day": "2027-05-15", "below": '15"'}))
    assert "No house of the next season is chosen" in none


def test_a_late_house_counts_for_the_next_season_when_ticked(signed_in, accepted, season):
    north = season.houses[0]
    query = {"day": "2027-05-15", "below": "2'", "houses": [north.pk]}
    answer = signed_in.get(PAGE, query)
    rail = Lot.objects.get(reference="L-1")
    [row] = [lot for lot in answer.context["table"].data if lot.pk == rail.pk]
    assert rail.reserved == rail.on_hand == row.left == 20
    assert "North 1: 20 for hoops" in text_of(answer)
    without = signed_in.get(PAGE, query | {"houses": [season.houses[1].pk]})
    assert "L-1" not in [lot.reference for lot in without.context["table"].data]


def test_houses_after_a_day_are_ticked_at_once(signed_in, season):
    query = {"day": "2027-05-15", "below": "2'", "houses": [season.houses[0].pk], "after": "1"}
    answer = signed_in.get(PAGE, query, follow=True)
    assert answer.context["houses"] == [season.houses[1]]
    assert "after=" not in answer.request["QUERY_STRING"]


def test_what_cannot_be_read_is_said_at_the_field(signed_in, ends):
    said = text_of(signed_in.get(PAGE, {"day": "soon", "below": "x"}))
    assert "This day cannot be read" in said and "7 offcuts" in said


def test_a_house_that_cannot_be_planned_is_named(signed_in, season):
    House.objects.filter(pk=season.houses[0].pk).update(base_board_lengths=[])
    said = text_of(signed_in.get(PAGE))
    assert "not worked out" in said and "North 1:" in said


def test_too_many_houses_are_not_worked_out(signed_in, season, monkeypatch):
    monkeypatch.setattr("farmbuild.plans.seasonend.views.leftovers.MAX_HOUSES", 1)
    assert "2 houses are more than a page can work out. Tick 1 at most." in text_of(signed_in.get(PAGE))


def test_ticked_offcuts_go_after_a_second_look(signed_in, ends):
    takes = [f"{ends[0].pk}:4", f"{ends[1].pk}:3"]
    look = signed_in.post(f"{PAGE}scrap/", {"take": takes})
    assert "7 offcuts go" in text_of(look) and "$5.62" in text_of(look)
    assert not Movement.objects.filter(kind="scrap").exists()
    unsaid = signed_in.post(f"{PAGE}scrap/", {"take": takes, "confirm": "1", "reason": ""})
    assert "Say why in a few words" in text_of(unsaid)
    done = signed_in.post(f"{PAGE}scrap/", {"take": takes, "confirm": "1", "reason": "rust"}, follow=True)
    assert "7 offcuts of 2 lots scrapped" in text_of(done)
    assert set(Movement.objects.filter(kind="scrap").values_list("reason", flat=True)) == {"rust"}
    again = signed_in.post(f"{PAGE}scrap/", {"take": takes, "confirm": "1", "reason": "rust"})
    assert "Nothing was taken out" in text_of(again)


@pytest.mark.parametrize("take", ["", "1", "x:1", "1:x", "1:0", "²:1", "1:9999999999"])
def test_broken_ticks_do_nothing(signed_in, organisation, take):
    said = text_of(signed_in.post(f"{PAGE}scrap/", {"take": [take]}, follow=True))
    assert "A tick cannot be read" in said
    assert "Nothing was ticked" in text_of(signed_in.post(f"{PAGE}scrap/", {}, follow=True))


def test_the_file_adds_up_and_runs_nothing(signed_in, organisation, season, ends):
    Lot.objects.filter(pk=ends[0].pk).update(reference="=1+1")
    answer = signed_in.get(f"{PAGE}leftovers.xlsx")
    assert answer["Content-Disposition"] == 'attachment; filename="left-2027-03-01.xlsx"'
    sheet = load_workbook(BytesIO(answer.content)).active
    rows = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=4)]
    *lots, total = rows
    assert len(lots) == Lot.objects.count() == 5
    # Money alone: sticks are not added to screws.
    assert total[4] is None and total[9] == "=SUM(J4:J8)"
    kept = load_workbook(BytesIO(answer.content), data_only=True).active
    assert Decimal(str(kept.cell(9, 10).value)) == sum(Decimal(str(row[9])) for row in lots)
    [cell] = [row[6] for row in sheet.iter_rows(min_row=4, max_row=8) if str(row[6].value).endswith("=1+1")]
    assert cell.data_type != "f"


def test_nobody_sees_or_scraps_what_others_have(client, season, ends):
    client.force_login(MembershipFactory().user)
    said = text_of(client.get(PAGE, {"day": "2027-03-01", "below": "2'", "houses": [season.houses[0].pk]}))
    assert "There are no leftovers" in said and "is not yours" in said and "North 1" not in said
    look = text_of(client.post(f"{PAGE}scrap/", {"take": [f"{ends[0].pk}:4"]}))
    assert "E-1" not in look and "0 offcuts" in look
    client.post(f"{PAGE}scrap/", {"take": [f"{ends[0].pk}:4"], "confirm": "1", "reason": "rust"})
    assert Lot.objects.get(pk=ends[0].pk).on_hand == 4
