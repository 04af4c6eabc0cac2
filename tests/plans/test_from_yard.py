"""What the yard gives without buying, from the plan's page to a plan of those houses."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from farmbuild.catalogue.models import Material, Offer
from farmbuild.common.long_work import let_go
from farmbuild.orgs.models import Membership
from farmbuild.plans import bridge
from farmbuild.plans.accepting import accept_plan, release_house
from farmbuild.plans.from_yard import services
from farmbuild.plans.from_yard.bridge import builders_from, found_from, held_from, pack_asked, pack_found
from farmbuild.plans.models import Plan, PlanFromYard
from farmbuild.plans.services import create_plan, work_out_plan
from farmbuild.stock.models import Lot, Place
from tests.factories import FOOT, CrewFactory, LotFactory, MembershipFactory, OrganisationFactory, PersonFactory
from tests.reading import text_of
from tests.waiting import comes_second

pytestmark = pytest.mark.django_db
State = PlanFromYard.State


@pytest.fixture
def plan(season, user) -> Plan:
    """The yard has all for one of the two equal houses."""
    rack = Place.objects.get()
    for code, length, many in (("rail", FOOT * 10, 40), ("post", FOOT * 21, 12), ("board", FOOT * 12, 8)):
        LotFactory(material=Material.objects.get(code=code), length=length, on_hand=many, place=rack)
    LotFactory(material=Material.objects.get(code="screw"), length=None, on_hand=500, place=rack)
    found = create_plan(**season.ask(user)).plan
    work_out_plan(found.pk)
    return Plan.objects.get(pk=found.pk)


def asked(plan: Plan, user, by: str = "day") -> PlanFromYard:
    return services.ask_what_the_yard_gives(organisation=plan.organisation, user=user, plan=plan, by=by)


def looked(plan: Plan, user, by: str = "day") -> PlanFromYard:
    search = asked(plan, user, by)
    services.look_in_yard(search.pk)
    search.refresh_from_db()
    assert search.state == State.READY, search.problem
    return search


def page_of(plan: Plan, by: str = "") -> str:
    return reverse("plans:from-yard", args=[plan.number]) + (f"?by={by}" if by else "")


def test_the_page_says_what_the_yard_gives_and_what_one_more_takes(client, plan, user):
    client.force_login(user)
    assert "Nobody has looked yet" in text_of(client.get(page_of(plan)))
    for _ in range(2):
        client.post(page_of(plan))
    (search,) = PlanFromYard.objects.all()
    services.look_in_yard(search.pk)
    text = text_of(client.get(page_of(plan)))
    assert "1 of 2 houses can be built from the yard alone." in text and "North 1. No other choice" in text
    assert (
        "One more with them" in text
        and "$" in text.partition("One more with them")[2]
        and "No crew is written down" in text
        and "No bender is written" in text
    )
    progress = reverse("plans:from-yard-progress", args=[plan.number, "day"])
    assert client.get(progress).json()["state"] == "ready"


def test_by_value_it_says_what_they_are_worth(client, plan, user):
    client.force_login(user)
    client.post(page_of(plan, "value"))
    (search,) = PlanFromYard.objects.all()
    services.look_in_yard(search.pk)
    search.refresh_from_db()
    values = dict(found_from(search.found).values)
    alone = bridge.season_of(plan)
    text = text_of(client.get(page_of(plan, "value")))
    assert search.by == "value" and set(values) == {house.ref for house in alone.houses}
    assert "Their material would cost $" in text and "No other choice is worth more." in text
    assert client.get(page_of(plan, "name")).status_code == 404


def test_the_houses_are_tried_as_a_plan_that_buys_nothing_and_twice_is_once(client, plan, user):
    looked(plan, user)
    client.force_login(user)
    address = reverse("plans:from-yard-try", args=[plan.number, "day"])
    first = client.post(address)
    tried = Plan.objects.latest("number")
    assert first["Location"].endswith(reverse("plans:plan", args=[tried.number])) and tried.pk != plan.pk
    work_out_plan(tried.pk)
    tried.refresh_from_db()
    assert [house.slug for house in tried.houses.all()] == ["north-1"]
    assert (tried.state, tried.order_count, tried.snapshot()[1].unmet) == (Plan.State.READY, 0, ())
    client.post(address)
    assert Plan.objects.count() == 2


def test_what_another_house_of_the_plan_holds_stays_its_own(client, season, plan, user):
    """Creek 1 holds by a plan of its own all that the yard has; North 1, needed first, would have to buy."""
    own = create_plan(**season.ask(user, houses=[season.houses[1]])).plan
    work_out_plan(own.pk)
    accept_plan(organisation=plan.organisation, user=user, plan=Plan.objects.get(pk=own.pk))
    both = create_plan(**season.ask(user)).plan
    work_out_plan(both.pk)
    plan = Plan.objects.get(pk=both.pk)
    search = looked(plan, user)
    assert held_from(search.asked) and found_from(search.found).houses == ("creek-1",)
    tried = services.try_houses(organisation=plan.organisation, user=user, plan=plan, by="day").plan
    work_out_plan(tried.pk)
    assert Plan.objects.get(pk=tried.pk).order_count == 0
    # Once it lets go, that is another yard.
    release_house(organisation=plan.organisation, user=user, house=season.houses[1])
    client.force_login(user)
    assert "Work it out again" in text_of(client.get(page_of(plan)))


@pytest.mark.parametrize("what", ["stock", "price", "house"])
def test_what_changed_since_makes_no_plan_and_is_said(client, plan, user, what):
    looked(plan, user)
    if what == "stock":
        Lot.objects.filter(material__code="screw").update(on_hand=499)
    elif what == "price":
        Offer.objects.filter(material__code="board").first().breaks.update(unit_price=Decimal(9))
    else:
        plan.houses.filter(slug="north-1").update(length=FOOT * 60)
    client.force_login(user)
    page = text_of(client.get(page_of(plan)))
    assert "Out of date." in page and "Try these houses" not in page
    answer = client.post(reverse("plans:from-yard-try", args=[plan.number, "day"]), follow=True)
    assert f"have changed since plan {plan.number}. Plan again first." in text_of(answer)
    assert Plan.objects.count() == 1


def test_crews_that_changed_since_make_no_plan_and_the_next_press_looks_again(client, plan, user):
    search = looked(plan, user)
    crew = CrewFactory(organisation=plan.organisation)
    PersonFactory(organisation=plan.organisation, crew=crew)
    client.force_login(user)
    assert "Work it out again" in text_of(client.get(page_of(plan)))
    with pytest.raises(ValidationError, match="Crews, benders or their work have changed"):
        services.try_houses(organisation=plan.organisation, user=user, plan=plan, by="day")
    before = search.starts_at
    client.post(page_of(plan))
    search.refresh_from_db()
    assert (search.state, search.found) == (State.WAITING, None) and search.starts_at > before
    services.look_in_yard(search.pk)
    search.refresh_from_db()
    # A step takes two people, and there is one.
    assert found_from(search.found).houses == ()
    text = text_of(client.get(page_of(plan)))
    assert "No house of this plan can be built from the yard alone." in text and "No crew has" in text


def test_the_next_day_it_is_worked_out_anew(plan, user):
    search = looked(plan, user)
    PlanFromYard.objects.filter(pk=search.pk).update(starts_at=search.starts_at - timedelta(days=1))
    again = asked(plan, user)
    assert again.pk == search.pk and again.state == State.WAITING


def test_who_could_build_and_what_is_found_are_stored_to_the_last_figure(plan, user):
    search = looked(plan, user)
    assert pack_asked(builders_from(search.asked), held_from(search.asked)) == search.asked
    assert pack_found(found_from(search.found)) == search.found


def test_nobody_needs_to_open_the_page(plan, user):
    """A worker fell silent; another takes it up, and a third changes nothing."""
    search = asked(plan, user)
    silent = timezone.now() - timedelta(hours=1)
    PlanFromYard.objects.filter(pk=search.pk).update(state="working", worker="gone", heard_from_at=silent)
    assert let_go(PlanFromYard) == [search.pk]
    services.look_in_yard(search.pk)
    search.refresh_from_db()
    found = search.found
    assert search.state == State.READY and search.worker == ""
    services.look_in_yard(search.pk)
    search.refresh_from_db()
    assert search.found == found


def test_ended_early_it_gives_what_is_found_and_looks_again_in_full(client, plan, user):
    search = asked(plan, user)
    client.force_login(user)
    client.post(reverse("plans:from-yard-end", args=[plan.number, "day"]))
    services.look_in_yard(search.pk)
    search.refresh_from_db()
    assert search.state == State.READY and not found_from(search.found).proven
    assert "Work it out again" in text_of(client.get(page_of(plan)))
    client.post(page_of(plan))
    services.look_in_yard(search.pk)
    search.refresh_from_db()
    assert found_from(search.found).proven and found_from(search.found).houses == ("north-1",)


def test_a_search_that_stopped_says_so_and_looks_again(client, plan, user):
    client.force_login(user)
    search = asked(plan, user)
    PlanFromYard.objects.filter(pk=search.pk).update(state="failed", problem=services.UNEXPECTED)
    assert "fault in the program" in text_of(client.get(page_of(plan)))
    client.post(page_of(plan))
    search.refresh_from_db()
    assert search.state != State.FAILED and search.problem == ""


def test_a_plan_that_is_not_worked_out_and_a_search_without_houses_are_refused(client, season, user):
    plan = create_plan(**season.ask(user)).plan
    client.force_login(user)
    assert client.get(page_of(plan)).status_code == 302
    with pytest.raises(ValidationError, match="worked out"):
        asked(plan, user)
    with pytest.raises(ValidationError, match="No house was found"):
        services.try_houses(organisation=plan.organisation, user=user, plan=plan, by="day")


def test_another_organisation_sees_and_tries_nothing(client, plan, user):
    looked(plan, user)
    other = OrganisationFactory()
    MembershipFactory(organisation=other, user=user, role=Membership.Role.OWNER)
    client.force_login(user)
    base = f"/of/{other.slug}/plans/{plan.number}/yard/"
    assert client.get(base).status_code == 404
    assert client.post(f"{base}day/try/").status_code == 404
    with pytest.raises(ValidationError, match="No house was found"):
        services.try_houses(organisation=other, user=user, plan=plan, by="day")


def test_the_page_asks_the_same_number_of_queries_however_many_houses(
    client, plan, user, django_assert_max_num_queries
):
    looked(plan, user)
    client.force_login(user)
    client.get(page_of(plan))
    with django_assert_max_num_queries(75):
        client.get(page_of(plan))


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_who_ask_or_try_at_once_the_second_gets_what_the_first_made(plan, user):
    first = comes_second(lambda: asked(plan, user), lambda: asked(plan, user))
    assert first.pk == PlanFromYard.objects.get().pk
    looked(plan, user)
    who = {"organisation": plan.organisation, "user": user, "plan": plan, "by": "day"}
    second = comes_second(lambda: services.try_houses(**who), lambda: services.try_houses(**who))
    assert second.same and Plan.objects.count() == 2
