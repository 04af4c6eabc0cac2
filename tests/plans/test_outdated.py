"""A house that is saved says what no longer fits it, and each of these says so too."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import strip_tags

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.outdated import outdated_plans
from farmbuild.buying.selectors import first_to_send
from farmbuild.buying.services import cancel_order, send_order
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.models import Plan
from farmbuild.plans.outdated import changed_houses
from farmbuild.sites.outdated import outdated_of
from farmbuild.sites.services import archive_house, save_house
from tests.factories import FOOT, MembershipFactory
from tests.plans.small_season import small_season

DAY = date(2027, 3, 1)


@pytest.fixture
def accepted(ready, user):
    return accept_plan(organisation=ready.organisation, user=user, plan=ready)


@pytest.fixture
def north(season):
    return season.houses[0]


def saved(house, user, **data):
    return save_house(organisation=house.organisation, user=user, house=house, data=data)


def changed(plan):
    return changed_houses(organisation=plan.organisation, plans=[plan.pk]).get(plan.pk, [])


def text_of(response):
    return " ".join(strip_tags(response.content.decode()).split())


def a_draft(plan):
    return plan.orders.filter(state="draft").order_by("order_by", "pk").first()


def test_a_house_that_is_changed_and_changed_back(accepted, north, user):
    assert changed(accepted) == []
    saved(north, user, spacing_wanted=FOOT * 4)
    assert changed(accepted) == []
    saved(north, user, spacing_wanted=FOOT * 3)
    assert changed(accepted) == ["North 1"]
    saved(north, user, spacing_wanted=FOOT * 4)
    assert changed(accepted) == []
    saved(north, user, need_date=north.need_date + timedelta(days=1))
    assert changed(accepted) == ["North 1"]


def test_a_recipe_that_is_changed_changes_its_houses(accepted, north):
    north.recipe.sticks = 3
    north.recipe.save()
    assert changed(accepted) == ["Creek 1", "North 1"]


def test_an_archived_house(ready, north, user):
    archive_house(organisation=north.organisation, user=user, house=north)
    assert changed(ready) == ["North 1"]


def test_a_plan_that_an_earlier_version_stored_is_compared_as_values(ready, north, user):
    """Version 1 kept the doors of an end as one object."""
    inputs = ready.inputs
    for house in inputs["season"]["houses"]:
        spec = house["spec"]
        for end in ("front", "back"):
            spec[f"{end}_doors"] = {part: spec.pop(f"{end}_door_{part}") for part in ("count", "width", "height")}
    Plan.objects.filter(pk=ready.pk).update(inputs=inputs | {"version": 1})
    assert changed(ready) == []
    saved(north, user, spacing_wanted=FOOT * 3)
    assert changed(ready) == ["North 1"]
    Plan.objects.filter(pk=ready.pk).update(inputs=inputs | {"version": 999})
    assert changed(ready) == []


def test_no_more_queries_for_many_plans(organisation, season, user, ready, north):
    saved(north, user, spacing_wanted=FOOT * 3)
    plans = [ready.pk]
    for day in range(1, 4):
        plan = services.create_plan(**season.ask(user, as_of=DAY + timedelta(days=day))).plan
        services.work_out_plan(plan.pk)
        plans.append(plan.pk)
    saved(season.houses[1], user, spacing_wanted=FOOT * 3)
    with CaptureQueriesContext(connection) as one:
        changed_houses(organisation=organisation, plans=plans[:1])
    with CaptureQueriesContext(connection) as all_:
        found = changed_houses(organisation=organisation, plans=plans)
    assert len(one) == len(all_) == 5
    assert found == {plans[0]: ["Creek 1", "North 1"]} | {pk: ["Creek 1"] for pk in plans[1:]}


def test_plans_of_others_are_not_told_of(ready, north, user):
    other = small_season(MembershipFactory().organisation)
    saved(north, user, spacing_wanted=FOOT * 3)
    assert changed_houses(organisation=other.organisation, plans=[ready.pk]) == {}


# Orders


def test_an_order_of_such_a_plan_is_not_offered_as_next(accepted, north, user, signed_in):
    organisation = accepted.organisation
    assert first_to_send(organisation=organisation, today=DAY).plan_id == accepted.pk
    assert outdated_plans(organisation=organisation) == {}
    saved(north, user, spacing_wanted=FOOT * 3)
    outdated = outdated_plans(organisation=organisation)
    assert outdated == {accepted.pk: ["North 1"]}
    assert first_to_send(organisation=organisation, today=DAY, outdated=outdated) is None
    page = signed_in.get(reverse("buying:orders"))
    assert page.context["first"] is None
    assert "Draft; out of date" in text_of(page)
    assert "is out of date: plan again before it goes out" in text_of(page)
    order = a_draft(accepted)
    for address in (order.get_absolute_url(), reverse("buying:send", args=[order.number])):
        assert "Out of date. North 1 has changed since this order was worked out." in text_of(signed_in.get(address))
    for address in (accepted.get_absolute_url(), reverse("plans:orders", args=[accepted.number])):
        assert "Draft; out of date" in text_of(signed_in.get(address))


def test_it_is_sent_only_when_someone_says_so(accepted, north, user, signed_in):
    order = a_draft(accepted)
    send = reverse("buying:send", args=[order.number])
    assert "as_it_is" not in signed_in.get(send).context["form"].fields
    # Changed after the page was opened: the press is refused, and what it takes is asked.
    saved(north, user, spacing_wanted=FOOT * 3)
    page = signed_in.post(send, {"sent_on": "2027-03-02", "how": ""})
    assert "was worked out before North 1 changed" in page.context["form"].errors["as_it_is"][0]
    order.refresh_from_db()
    assert order.state == PurchaseOrder.State.DRAFT
    answer = signed_in.post(send, {"sent_on": "2027-03-02", "how": "", "as_it_is": "on"})
    assert (answer.status_code, answer.url) == (302, order.get_absolute_url())
    order.refresh_from_db()
    assert order.state == PurchaseOrder.State.SENT
    said = text_of(signed_in.get(order.get_absolute_url()))
    assert "It went out as the house was" in said
    assert "Sent; out of date" in text_of(signed_in.get(reverse("buying:orders")))


def test_the_service_asks_too(accepted, north, user):
    order = a_draft(accepted)
    saved(north, user, spacing_wanted=FOOT * 3)
    given = {"organisation": order.organisation, "user": user, "order": order, "sent_on": DAY, "how": ""}
    with pytest.raises(ValidationError) as refused:
        send_order(**given)
    assert set(refused.value.message_dict) == {"as_it_is"}
    assert send_order(**given, as_it_is=True).state == PurchaseOrder.State.SENT


def test_a_received_order_is_done_with(accepted, north, user, signed_in):
    for order in accepted.orders.all():
        cancel_order(organisation=order.organisation, user=user, order=order, reason="bought elsewhere")
    saved(north, user, spacing_wanted=FOOT * 3)
    assert outdated_plans(organisation=accepted.organisation) == {}
    assert "out of date" not in text_of(signed_in.get(reverse("buying:orders")))


# The house


def edit(client, house, **typed):
    address = reverse("sites:house-edit", args=[house.slug])
    form = client.get(address).context["form"]
    values = {field.html_name: field.value() for field in form if field.value() not in (None, [])}
    return client.post(address, values | typed, follow=True)


def test_the_message_of_a_saved_house_names_what_is_out_of_date(accepted, north, user, signed_in):
    order = a_draft(accepted)
    page = edit(signed_in, north, spacing_wanted="3'")
    assert next(iter(page.context["messages"])).message == "North 1 is saved."
    content = page.content.decode()
    assert f'<a class="line-link" href="{accepted.get_absolute_url()}">{accepted}</a> (plan again)' in content
    assert f'href="{order.get_absolute_url()}">Order {order.number}</a> (not sent; plan again first)' in content
    # Not said twice on one page; the next time it stands there as a notice.
    assert "Made before North 1 was changed" not in content
    assert "Made before North 1 was changed" in signed_in.get(north.get_absolute_url()).content.decode()
    page = edit(signed_in, north, spacing_wanted="4'")
    assert "No longer as it is" not in page.content.decode()
    assert "Out of date" not in page.content.decode()


def test_a_newer_plan_stands_for_the_house(season, ready, north, user):
    saved(north, user, spacing_wanted=FOOT * 3)
    north.refresh_from_db()
    assert outdated_of(house=north)[0].name == str(ready)
    plan = services.plan_again(plan=ready, user=user, as_of=DAY).plan
    services.work_out_plan(plan.pk)
    assert outdated_of(house=north) == []


def test_the_names_of_houses_are_escaped(accepted, north, user, signed_in):
    saved(north, user, name="<b>North</b>", spacing_wanted=FOOT * 3)
    for address in (north.get_absolute_url(), a_draft(accepted).get_absolute_url(), reverse("plans:plans")):
        assert "<b>North</b>" not in signed_in.get(address).content.decode()


def test_the_plan_list_says_so(accepted, north, user, signed_in):
    assert "out of date" not in text_of(signed_in.get(reverse("plans:plans")))
    saved(north, user, spacing_wanted=FOOT * 3)
    assert "out of date" in text_of(signed_in.get(reverse("plans:plans")))
