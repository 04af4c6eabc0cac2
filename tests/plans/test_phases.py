"""How far a plan is, said in the same words wherever it stands."""

from __future__ import annotations

from datetime import date
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.buying.services import Arrival, cancel_order, receive_goods, send_order
from farmbuild.crew.models import Task
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan, release_plan
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.phases.selectors import Phase, phases_of, phases_of_houses, standing_of
from farmbuild.plans.phases.words import next_step, sentence_of
from tests.crew.schedule.test_services import a_season, worked
from tests.factories import OrganisationFactory
from tests.plans.test_outdated import text_of
from tests.plans.test_planning_again import bend_all

DAY = date(2027, 3, 2)


@pytest.fixture
def accepted(ready, user):
    return accept_plan(organisation=ready.organisation, user=user, plan=ready)


def phase(plan):
    return phases_of(organisation=plan.organisation, plans=[plan.pk])[plan.pk]


def said(plan):
    return sentence_of(phase(plan), standing_of(plan=plan))


def step(plan):
    return next_step(phase(plan), standing_of(plan=plan))


def send_all(plan, user):
    for order in plan.orders.filter(state="draft").order_by("pk"):
        send_order(organisation=plan.organisation, user=user, order=order, sent_on=DAY, how="")


def receive(order, user, quantity=None):
    """All that is to come of each line, or ``quantity`` of the first."""
    lines = list(order.lines.order_by("position"))
    came = [Arrival(line=line.pk, arrived=line.to_come) for line in lines if line.to_come]
    if quantity:
        came = [Arrival(line=lines[0].pk, arrived=quantity)]
    receive_goods(
        organisation=order.organisation,
        user=user,
        order=order,
        arrivals=came,
        received_on=DAY,
        paper="",
        place="Rack 1",
        token=uuid4().hex,
    )


def a_task(house, state="open", kind="bend"):
    return Task.objects.create(organisation=house.organisation, house=house, kind=kind, count=1, state=state)


def test_from_tried_to_done(ready, season, user, signed_in):
    plan = ready
    pages = (reverse("plans:plan", args=[plan.number]), reverse("plans:plans"))

    def everywhere(word):
        for address in pages:
            assert word in text_of(signed_in.get(address)), (address, word)
        assert f"{plan}: {word.lower()}." in text_of(signed_in.get(season.houses[0].get_absolute_url()))

    assert phase(plan) == Phase.TRIED
    everywhere("Tried")
    assert "Accept this plan" in text_of(signed_in.get(pages[0]))

    accept_plan(organisation=plan.organisation, user=user, plan=plan)
    assert phase(plan) == Phase.ACCEPTED
    everywhere("Accepted")
    orders = list(plan.orders.order_by("order_by", "pk"))
    assert said(plan).startswith(f"{len(orders)} of {len(orders)} orders are not sent; order {orders[0].number} goes")
    assert step(plan).url == reverse("buying:send", args=[orders[0].number])

    send_order(organisation=plan.organisation, user=user, order=orders[0], sent_on=DAY, how="")
    assert phase(plan) == Phase.ACCEPTED
    assert step(plan).label == f"Send order {orders[1].number}"

    send_all(plan, user)
    assert phase(plan) == Phase.SENT
    everywhere("Sent")
    assert step(plan).label.startswith("Receive order")
    assert said(plan).startswith(f"All {len(orders)} orders are sent; ")

    sticks = plan.orders.get(supplier__code="a-pipe")
    first = sticks.lines.order_by("position").first()
    receive(sticks, user, 1)
    assert phase(plan) == Phase.PART
    everywhere("Part received")
    total = sum(sticks.lines.values_list("quantity", flat=True))
    assert said(plan).startswith(f"1 of {total} sticks is in; {total - 1} on order, due by 12 May 2027. ")
    assert first.quantity > 1

    for order in orders:
        order.refresh_from_db()
        receive(order, user)
    assert phase(plan) == Phase.RECEIVED
    everywhere("Received")
    assert said(plan) == f"All {total} sticks are in."
    assert step(plan).label == "Plan the work"

    tasks = [a_task(season.houses[0]), a_task(season.houses[1])]
    assert phase(plan) == Phase.RECEIVED
    assert step(plan).label == "See the work"
    Task.objects.filter(pk=tasks[0].pk).update(state="started")
    assert phase(plan) == Phase.WORK
    everywhere("In work")
    assert said(plan) == "0 of 2 tasks are done."
    Task.objects.filter(pk__in=[task.pk for task in tasks]).update(state="done")
    assert phase(plan) == Phase.DONE
    everywhere("Done")
    assert said(plan) == "All 2 tasks are done."
    assert step(plan).url == reverse("stock:season-end")


def test_the_page_begins_with_the_phase_and_has_one_main_button(accepted, signed_in, user):
    page = signed_in.get(accepted.get_absolute_url())
    content = page.content.decode()
    assert content.count('class="action"') == 1
    assert f"Accepted: {said(accepted)}" in text_of(page)
    assert f'<a class="action" href="{step(accepted).url}">{step(accepted).label}</a>' in content
    send_all(accepted, user)
    assert "Receive order" in signed_in.get(accepted.get_absolute_url()).content.decode()


def test_the_first_sentence_of_a_page_is_short(accepted, user):
    send_all(accepted, user)
    receive(accepted.orders.get(supplier__code="a-pipe"), user, 1)
    first, second = f"Part received: {said(accepted)}".split(". ")
    assert len(first.split()) <= 18
    assert second == "16 boards and 100 pieces on order, due by 12 May 2027."


def test_a_released_plan_is_to_be_accepted_again(accepted, user, signed_in):
    release_plan(organisation=accepted.organisation, user=user, plan=accepted)
    assert phase(accepted) == Phase.RELEASED
    page = text_of(signed_in.get(accepted.get_absolute_url()))
    assert "Released" in page and "Accept this plan" in page


def test_a_cancelled_order_is_not_waited_for(accepted, user):
    orders = list(accepted.orders.order_by("pk"))
    cancel_order(organisation=accepted.organisation, user=user, order=orders[0], reason="bought elsewhere")
    send_all(accepted, user)
    assert phase(accepted) == Phase.SENT
    for order in orders[1:]:
        order.refresh_from_db()
        receive(order, user)
    assert phase(accepted) == Phase.RECEIVED


def test_a_plan_that_is_not_worked_out(season, user, signed_in):
    plan = services.create_plan(**season.ask(user)).plan
    assert phase(plan) == Phase.NOT_READY
    assert plan.get_state_display() in text_of(signed_in.get(reverse("plans:plans")))


def test_orders_say_the_phase_of_their_plan(accepted, signed_in, user):
    order = accepted.orders.order_by("order_by", "pk").first()
    assert f"{accepted.name}: accepted" in text_of(signed_in.get(reverse("buying:orders")))
    for address in (order.get_absolute_url(), reverse("buying:send", args=[order.number])):
        assert f"lan {accepted.number}: {accepted.name}, accepted" in text_of(signed_in.get(address))


def test_houses_go_by_the_plan_that_builds_them(accepted, season, user):
    organisation, house = accepted.organisation, season.houses[0]
    later = services.create_plan(**season.ask(user, as_of=DAY)).plan
    services.work_out_plan(later.pk)
    found = phases_of_houses(organisation=organisation, houses=[house.pk])[house.pk]
    assert (found.plan, found.phase) == (accepted, Phase.ACCEPTED)
    release_plan(organisation=organisation, user=user, plan=accepted)
    found = phases_of_houses(organisation=organisation, houses=[house.pk])[house.pk]
    assert (found.plan, found.phase) == (later, Phase.TRIED)
    other = OrganisationFactory()
    assert phases_of_houses(organisation=other, houses=[house.pk]) == {}
    assert phases_of(organisation=other, plans=[accepted.pk]) == {}


def test_as_few_queries_for_many_plans_and_houses(organisation, accepted, season, user):
    for day in range(3, 6):
        services.work_out_plan(services.create_plan(**season.ask(user, as_of=date(2027, 3, day))).plan.pk)
    keys, houses = list(Plan.objects.values_list("pk", flat=True)), [house.pk for house in season.houses]
    with CaptureQueriesContext(connection) as queries:
        found = phases_of(organisation=organisation, plans=keys)
    assert len(queries) == 1 and len(found) == 4
    for some in (houses[:1], houses):
        with CaptureQueriesContext(connection) as queries:
            phases_of_houses(organisation=organisation, houses=some)
        assert len(queries) == 2


def test_the_list_is_sorted_by_phase(accepted, season, user, signed_in):
    services.work_out_plan(services.create_plan(**season.ask(user, as_of=DAY)).plan.pk)
    rows = signed_in.get(reverse("plans:plans") + "?sort=phase").context["table"].rows
    assert [row.record.phase for row in rows] == [Phase.TRIED, Phase.ACCEPTED]
    rows = signed_in.get(reverse("plans:plans") + "?sort=-phase").context["table"].rows
    assert [row.record.phase for row in rows] == [Phase.ACCEPTED, Phase.TRIED]


def test_hoops_that_are_bent_are_work(accepted, season, user, signed_in):
    house = season.houses[0]
    send_all(accepted, user)
    for order in accepted.orders.all():
        receive(order, user)
    assert phase(accepted) == Phase.RECEIVED
    batch = bend_all(house, user)
    assert phase(accepted) == Phase.WORK
    assert said(accepted).startswith("Hoops are bent.")
    # The batch says how far the plan of its house is.
    page = signed_in.get(batch.get_absolute_url())
    assert page.context["shares"].phases[house.pk].phase == "In work"
    assert "Its plan" in text_of(page) and "In work" in text_of(page)


def test_a_schedule_says_how_far_the_plan_of_each_house_is(organisation, user, signed_in):
    _, _, house, _ = a_season(organisation)
    schedule = worked(organisation, user)
    address = reverse("crew:schedule", args=[schedule.number])
    assert [row.phase for row in signed_in.get(address).context["table"].data] == [""]
    assert "No plan" in text_of(signed_in.get(address))
    plan = Plan.objects.create(
        organisation=organisation, number=1, name="Spring", as_of=DAY, delivery_site=house.site, state="ready",
        inputs={}, result={}, inputs_digest="x", result_digest="y",
    )  # fmt: skip
    PlanHouse.objects.create(plan=plan, house=house)
    assert [row.phase for row in signed_in.get(address).context["table"].data] == ["Tried"]
