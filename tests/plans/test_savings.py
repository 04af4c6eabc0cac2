"""Small changes that save, from the plan's page to the houses."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from farmbuild.catalogue.models import Supplier
from farmbuild.orgs.models import Membership
from farmbuild.plans import bridge
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.models import Plan, PlanSavings
from farmbuild.plans.savings import services
from farmbuild.plans.savings.bridge import NoLeast, OneLength, Saving, Wait, change_of, packed_saving, saving_of
from farmbuild.plans.selectors import changes_since
from farmbuild.plans.services import create_plan, work_out_plan
from farmbuild.sites.models import House
from tests.factories import INCH, MembershipFactory, OrganisationFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db
#: 4 posts of 50 1/2 in come from 21 ft, and 5 of 50 1/4 in, with a saw cut of 1/8 in between.
OLD, NEW = INCH * Decimal("50.5"), INCH * Decimal("50.25")


@pytest.fixture
def plan(season, user) -> Plan:
    House.objects.update(post_length=OLD)
    found = create_plan(**season.ask(user)).plan
    work_out_plan(found.pk)
    return Plan.objects.get(pk=found.pk)


@pytest.fixture
def looked(plan, user) -> PlanSavings:
    search = services.ask_for_savings(organisation=plan.organisation, user=user, plan=plan)
    services.look_for_savings(search.pk)
    search.refresh_from_db()
    assert search.state == PlanSavings.State.READY, search.problem
    return search


def row_of(search: PlanSavings) -> int:
    return next(n for n, one in enumerate(search.found) if one["change"]["field"] == "post_length")


def tried(search: PlanSavings, user) -> Plan:
    asked = services.try_saving(organisation=search.organisation, user=user, plan=search.plan, row=row_of(search))
    work_out_plan(asked.plan.pk)
    return Plan.objects.get(pk=asked.plan.pk)


def test_the_page_looks_once_and_says_what_saves(client, plan, user):
    client.force_login(user)
    page = reverse("plans:savings", args=[plan.number])
    assert "Nobody has looked yet" in text_of(client.get(page))
    for _ in range(2):
        client.post(page)
    (search,) = PlanSavings.objects.all()
    services.look_for_savings(search.pk)
    text = unescape(text_of(client.get(page)))
    assert "4' 2 1/4\" instead of 4' 2 1/2\"" in text and "A shorter post holds less." in text
    assert "North 1" in text and "Creek 1" in text
    assert client.get(reverse("plans:savings-progress", args=[plan.number])).json()["state"] == "ready"


def test_what_is_told_is_the_difference_of_the_two_plans(looked, user):
    saving = saving_of(looked.found[row_of(looked)])
    other = tried(looked, user)
    assert (saving.change.old, saving.change.new) == (OLD, NEW)
    assert looked.plan.order_total - other.order_total == saving.saved > 0
    assert packed_saving(saving) == looked.found[row_of(looked)]


def test_trying_changes_no_house_and_twice_is_once(client, looked, user):
    client.force_login(user)
    address = reverse("plans:savings-try", args=[looked.plan.number, row_of(looked)])
    first = client.post(address)
    other = Plan.objects.latest("number")
    assert first["Location"].endswith(reverse("plans:plan", args=[other.number])) and other.pk != looked.plan_id
    client.post(address)
    assert Plan.objects.count() == 2 and {house.post_length for house in House.objects.all()} == {OLD}
    work_out_plan(other.pk)
    page = text_of(client.get(reverse("plans:plan", args=[other.number])))
    assert "Tried:" in page and "The houses themselves were not changed." in page


def test_houses_get_what_was_tried_and_the_plan_is_then_theirs(client, looked, user):
    other = tried(looked, user)
    assert changes_since(plan=other)
    client.force_login(user)
    asks = reverse("plans:houses-as-tried", args=[other.number])
    assert "Change the houses so" in client.get(asks).content.decode()
    before = House.objects.get(slug="north-1").post_depth
    for _ in range(2):
        client.post(asks)
    assert {house.post_length for house in House.objects.all()} == {NEW}
    assert House.objects.get(slug="north-1").post_depth == (before and before + NEW - OLD)
    assert changes_since(plan=other) == []
    assert accept_plan(organisation=other.organisation, user=user, plan=other).is_accepted


def test_a_house_that_changed_meanwhile_keeps_all_houses_as_they_are(client, looked, user):
    other = tried(looked, user)
    House.objects.filter(slug="creek-1").update(post_length=INCH * 60)
    client.force_login(user)
    answer = client.post(reverse("plans:houses-as-tried", args=[other.number]))
    assert "Creek 1 has another ground post length now" in text_of(answer)
    assert House.objects.get(slug="north-1").post_length == OLD
    House.objects.filter(slug="creek-1").update(archived_at=timezone.now())
    with pytest.raises(ValidationError, match="no longer there"):
        services.change_houses_as_tried(organisation=other.organisation, user=user, plan=other)


def test_a_plan_that_tried_nothing_has_no_such_page(client, plan, user):
    client.force_login(user)
    assert client.get(reverse("plans:houses-as-tried", args=[plan.number])).status_code == 404
    with pytest.raises(ValidationError, match="tried no change"):
        services.change_houses_as_tried(organisation=plan.organisation, user=user, plan=plan)


def test_a_row_that_is_not_there_is_refused(client, looked, user):
    client.force_login(user)
    answer = client.post(reverse("plans:savings-try", args=[looked.plan.number, 99]), follow=True)
    assert "This saving is not among those" in text_of(answer) and Plan.objects.count() == 1


def test_a_plan_that_is_not_worked_out_has_no_savings(client, season, user):
    plan = create_plan(**season.ask(user)).plan
    client.force_login(user)
    assert client.get(reverse("plans:savings", args=[plan.number])).status_code == 302
    with pytest.raises(ValidationError, match="worked out"):
        services.ask_for_savings(organisation=plan.organisation, user=user, plan=plan)


def test_a_search_whose_worker_fell_silent_is_taken_up_again(plan, user):
    search = services.ask_for_savings(organisation=plan.organisation, user=user, plan=plan)
    silent = timezone.now() - timedelta(hours=1)
    PlanSavings.objects.filter(pk=search.pk).update(state="working", worker="gone", heard_from_at=silent)
    services.look_for_savings(search.pk)
    search.refresh_from_db()
    assert search.state == PlanSavings.State.READY and search.worker == ""
    found = search.found
    services.look_for_savings(search.pk)
    search.refresh_from_db()
    assert search.found == found


def test_a_search_that_stopped_says_so_and_looks_again(client, plan, user):
    client.force_login(user)
    page = reverse("plans:savings", args=[plan.number])
    search = services.ask_for_savings(organisation=plan.organisation, user=user, plan=plan)
    PlanSavings.objects.filter(pk=search.pk).update(state="failed", problem=services.UNEXPECTED)
    assert "fault in the program" in text_of(client.get(page))
    client.post(page)
    search.refresh_from_db()
    assert search.state != PlanSavings.State.FAILED


def test_another_organisation_sees_and_tries_nothing(client, looked, user):
    other = OrganisationFactory()
    MembershipFactory(organisation=other, user=user, role=Membership.Role.OWNER)
    client.force_login(user)
    base = f"/of/{other.slug}/plans/{looked.plan.number}/savings/"
    assert client.get(base).status_code == 404
    assert client.post(f"{base}0/try/").status_code == 404
    with pytest.raises(ValidationError, match="not among"):
        services.try_saving(organisation=other, user=user, plan=looked.plan, row=0)


def test_a_change_is_stored_to_the_last_figure(looked):
    change = change_of(looked.found[row_of(looked)]["change"])
    assert change.old == OLD and change.new == NEW and set(change.houses) == {"north-1", "creek-1"}


@pytest.fixture
def looked_for_buying(season, user) -> PlanSavings:
    """What a search may find of buying, put there by hand; nobody takes an order below 150.00."""
    Supplier.objects.update(minimum_order=150)
    found = create_plan(**season.ask(user)).plan
    work_out_plan(found.pk)
    plan = Plan.objects.get(pk=found.pk)
    house = season.houses[0]
    material = cut_material(plan)
    supplier = plan.snapshot()[1].orders[0].supplier
    search = services.ask_for_savings(organisation=plan.organisation, user=user, plan=plan)
    changes = [
        OneLength(material, max(offered(plan, material))),
        Wait((house.slug,), (house.need_date,), house.need_date + timedelta(days=9)),
        NoLeast(supplier, Decimal("150.00")),
    ]
    PlanSavings.objects.filter(pk=search.pk).update(
        state=PlanSavings.State.READY,
        found=[],
        buying=[packed_saving(Saving(one, Decimal(n) - 1, Decimal(0), ())) for n, one in enumerate(changes)],
    )
    search.refresh_from_db()
    return search


def offered(plan: Plan, material: str) -> set[Decimal]:
    return {one.length for one in bridge.season_of(plan).offers if one.material == material}


def cut_material(plan: Plan) -> str:
    return next(layout.material for layout in plan.snapshot()[1].layouts)


def test_other_ways_to_buy_are_told_and_each_is_tried_as_a_plan(client, looked_for_buying, user, season):
    plan = looked_for_buying.plan
    client.force_login(user)
    page = reverse("plans:savings", args=[plan.number])
    text = text_of(client.get(page))
    assert "Buying only one length" in text and ": $1.00 more to pay" in text
    assert "Waiting for a later delivery" in text and "the same to pay, for North 1" in text
    assert "Orders of any size" in text and "now $150.00: $1.00 less to pay" in text
    numbers = []
    for row in range(3):
        answer = client.post(reverse("plans:savings-try", args=[plan.number, row]))
        tried = Plan.objects.latest("number")
        assert answer.url == reverse("plans:plan", args=[tried.number])
        numbers.append(tried.number)
        # Pressed again it is the same plan.
        assert client.post(reverse("plans:savings-try", args=[plan.number, row])).url == answer.url
    assert len(set(numbers)) == 3
    assert client.post(reverse("plans:savings-try", args=[plan.number, 3])).url == page
    lengths, wait, least = (Plan.objects.get(number=number) for number in numbers)
    offers = {(one.material, one.length) for one in bridge.season_of(lengths).offers}
    material = cut_material(plan)
    assert {length for code, length in offers if code == material} == {max(offered(plan, material))}
    waiting = season.houses[0]
    days = {house.ref: house.need_date for house in bridge.season_of(wait).houses}
    assert days[waiting.slug] == waiting.need_date + timedelta(days=9)
    assert {one.minimum_order for one in bridge.season_of(least).suppliers if one.code == supplier_of(plan)} == {0}


def supplier_of(plan: Plan) -> str:
    return plan.snapshot()[1].orders[0].supplier


def test_a_later_day_is_given_to_the_house_and_not_over_another(client, looked_for_buying, user, season):
    search = looked_for_buying
    plan = services.try_saving(organisation=search.organisation, user=user, plan=search.plan, row=1).plan
    client.force_login(user)
    page = reverse("plans:houses-as-tried", args=[plan.number])
    assert "materials on" in text_of(client.get(page))
    house = season.houses[0]
    day = house.need_date
    House.objects.filter(pk=house.pk).update(need_date=day + timedelta(days=2))
    assert "has another day now" in text_of(client.post(page))
    House.objects.filter(pk=house.pk).update(need_date=day)
    for _ in range(2):
        client.post(page)
        house.refresh_from_db()
        assert house.need_date == day + timedelta(days=9)


def test_orders_of_any_size_are_not_ordered_before_the_supplier_agrees(client, looked_for_buying, user):
    tried = services.try_saving(
        organisation=looked_for_buying.organisation, user=user, plan=looked_for_buying.plan, row=2
    ).plan
    work_out_plan(tried.pk)
    supplier = Supplier.objects.get(code=supplier_of(looked_for_buying.plan))
    with pytest.raises(ValidationError, match="takes none below"):
        accept_plan(organisation=tried.organisation, user=user, plan=tried)
    tried.refresh_from_db()
    assert tried.accepted_at is None
    Supplier.objects.filter(pk=supplier.pk).update(minimum_order=0)
    assert accept_plan(organisation=tried.organisation, user=user, plan=tried).accepted_at
    # No house follows from it.
    client.force_login(user)
    assert client.get(reverse("plans:houses-as-tried", args=[tried.number])).status_code == 404
