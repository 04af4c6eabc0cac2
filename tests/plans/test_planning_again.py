"""Planning again in the middle of the work buys what is still missing, and nothing twice."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.services import Arrival, receive_goods, send_order
from farmbuild.hoops.batches import services as batches
from farmbuild.plans import coverage, services
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.models import Plan
from farmbuild.plans.selectors import changes_since
from farmbuild.sites.models import House
from farmbuild.stock.cutting import cut_sticks
from farmbuild.stock.models import Lot, Movement
from farmbuild.stock.services import issue_pieces, return_pieces
from tests.factories import FOOT, INCH, BenderFactory, LotFactory
from tests.hoops.batches.making import rise_over

AS_OF = date(2027, 4, 2)
SPRING = INCH * Decimal("13.5")


@pytest.fixture
def accepted(ready, user):
    return accept_plan(organisation=ready.organisation, user=user, plan=ready)


def again(plan: Plan, user, as_of: date = AS_OF) -> Plan:
    new = services.plan_again(plan=plan, user=user, as_of=as_of).plan
    services.work_out_plan(new.pk)
    new.refresh_from_db()
    assert new.state == Plan.State.READY, new.problem
    return new


def short(plan: Plan, material: str = "rail") -> int:
    return sum(gap.quantity for gap in plan.snapshot()[1].shortfalls if gap.material == material)


def send_and_receive(plan: Plan, user, share: float) -> None:
    given = {"organisation": plan.organisation, "user": user}
    for order in PurchaseOrder.objects.filter(plan=plan):
        send_order(**given, order=order, sent_on=date(2027, 3, 2), how="by hand")
        arrivals = [Arrival(line.pk, max(1, int(line.quantity * share))) for line in order.lines.all()]
        receive_goods(
            **given, order=order, arrivals=arrivals, received_on=date(2027, 3, 20), token=str(uuid4()), place="Rack 1"
        )


def bend_all(house: House, user, sticks: int = 26):
    """A batch of thirteen hoops for the house, from trial hoop to done."""
    given = {"organisation": house.organisation, "user": user}
    bender = BenderFactory(organisation=house.organisation)
    batch = batches.create_batch(
        **given,
        recipe=house.recipe,
        bender=bender,
        quantity=13,
        shares={house: 13},
        data={"post_span": house.post_span, "spring_in": SPRING},
    )
    given["batch"] = batch

    def issue(quantity: int) -> None:
        rail = Lot.objects.filter(material=house.recipe.tube, on_hand__gt=0, offcut=False).order_by("pk")
        for lot in rail:
            if taken := min(quantity, lot.on_hand):
                batches.issue_sticks(**given, lot=lot, quantity=taken)
                quantity -= taken
        assert quantity == 0

    issue(2)
    span = house.post_span + SPRING
    trial = batches.record_trial(**given, data={"free_span": span, "rise": rise_over(span)})
    batches.accept_trial(**given, trial=trial)
    issue(sticks - 2)
    batches.record_bent(**given, hoops=12)
    batches.finish_batch(**given)
    return batch


def test_bent_hoops_are_not_bought_again(accepted, season, user):
    first = short(accepted)
    assert first == 52 - 20
    send_and_receive(accepted, user, 0.5)
    house = season.houses[0]
    bend_all(house, user)
    new = again(accepted, user)
    # 52 needed = 26 bent + what is left in the yard + what is on order.
    assert short(new) == 0
    assert new.snapshot()[1].orders == ()
    figures = {need.row.house: need for need in coverage.needs_of(*new.snapshot()) if need.row.purpose == "hoops"}
    assert (figures["north-1"].in_house, figures["north-1"].to_buy) == (26, 0)
    assert figures["creek-1"].in_house == 0 and figures["creek-1"].from_yard == 26
    assert changes_since(plan=accepted) == []


def test_one_hoop_more_buys_the_sticks_of_one_hoop(accepted, season, user):
    send_and_receive(accepted, user, 1)
    house = season.houses[0]
    bend_all(house, user)
    before = short(again(accepted, user))
    House.objects.filter(pk=house.pk).update(length=house.length + FOOT * 4)
    # 32 were short and 40 came: 8 lie over, so the yard has the two sticks.
    assert (before, short(again(accepted, user))) == (0, 0)
    House.objects.filter(pk=house.pk).update(length=house.length + FOOT * 4 * 6)
    assert short(again(accepted, user)) == 6 * 2 - 8


def test_a_house_that_shrinks_says_what_it_has_too_much_of(accepted, season, user):
    send_and_receive(accepted, user, 1)
    house = season.houses[0]
    bend_all(house, user)
    House.objects.filter(pk=house.pk).update(length=FOOT * 40)
    _, result = again(accepted, user).snapshot()
    assert [(one.house, one.purpose, one.quantity, one.bent) for one in result.too_much] == [
        ("north-1", "hoops", 4, True)
    ]


def test_issued_posts_and_cut_pieces_are_in_the_house(accepted, season, user):
    house = season.houses[0]
    given = {"organisation": house.organisation, "user": user}
    _, result = accepted.snapshot()
    posts = next(row for row in result.takeoff if row.house == house.slug and row.purpose == "ground posts")
    lot = Lot.objects.get(reference="L-2")
    done = cut_sticks(**given, lot=lot, sticks=1, pieces=[posts.length] * 4, house=house)
    assert done.cut
    new = again(accepted, user)
    need = next(
        need
        for need in coverage.needs_of(*new.snapshot())
        if (need.row.house, need.row.purpose) == (house.slug, "ground posts")
    )
    assert need.in_house == 4
    assert need.in_house + need.from_yard + need.to_buy + need.missing == posts.quantity


def test_what_comes_back_is_needed_again(accepted, season, user):
    house = season.houses[0]
    given = {"organisation": house.organisation, "user": user, "house": house}
    lot = Lot.objects.get(reference="L-1")
    issue_pieces(**given, lot=lot, quantity=6, reason="hoops")
    in_house = again(accepted, user).snapshot()[0].in_house
    assert [(one.material, one.quantity, one.purpose) for one in in_house] == [("rail", 6, "hoops")]
    return_pieces(**given, lot=lot, quantity=4, reason="too many")
    assert [one.quantity for one in again(accepted, user).snapshot()[0].in_house] == [2]
    movement = Movement.objects.filter(kind=Movement.Kind.ISSUE).get()
    assert -movement.quantity == 6


def test_pieces_from_free_stock_make_the_plan_out_of_date_and_its_own_do_not(accepted, season, user):
    house = season.houses[0]
    given = {"organisation": house.organisation, "user": user, "house": house}
    issue_pieces(**given, lot=Lot.objects.get(reference="L-1"), quantity=6, reason="hoops")
    assert changes_since(plan=accepted) == []
    free = LotFactory(material=house.recipe.tube, on_hand=5, place__name="Rack of its own")
    issue_pieces(**given, lot=free, quantity=5, reason="hoops")
    assert any("North 1 has more 1-3/8 rail in it" in said for said in changes_since(plan=accepted))


def test_a_house_that_gave_something_back_makes_the_plan_out_of_date(accepted, season, user):
    house = season.houses[0]
    given = {"organisation": house.organisation, "user": user, "house": house}
    lot = Lot.objects.get(reference="L-1")
    issue_pieces(**given, lot=lot, quantity=6, reason="hoops")
    plan = again(accepted, user)
    assert changes_since(plan=plan) == []
    return_pieces(**given, lot=lot, quantity=1, reason="too many")
    assert any("North 1 has less 1-3/8 rail in it" in said for said in changes_since(plan=plan))
