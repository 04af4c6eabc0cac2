"""Each service that a person calls leaves an entry by that person, whoever called it: a page, a command, a test."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from inspect import signature
from uuid import uuid4

import pytest
from django.utils import timezone

from farmbuild.access.people import set_acts, set_role
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.sending import cancel_order, send_order
from farmbuild.catalogue.models import Material
from farmbuild.catalogue.services import archive_material, bring_back_material, change_supplier, save_offer
from farmbuild.crew.actuals.services import record
from farmbuild.crew.bookings.member_requests import archive_member
from farmbuild.crew.models import Task
from farmbuild.crew.people.services import archive_crew, archive_person, bring_back_person, save_settings, save_skill
from farmbuild.history.act import current
from farmbuild.history.models import Entry
from farmbuild.history.presenters import changes_of
from farmbuild.history.recording import recorded
from farmbuild.hoops.batches.services import accept_trial
from farmbuild.hoops.benders.services import archive_bender, bring_back_bender
from farmbuild.hoops.recipes.services import archive_recipe, bring_back_recipe
from farmbuild.orgs.acts import Act, act_words, needs
from farmbuild.orgs.services import save_organisation
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan, release_plan
from farmbuild.plans.reserving.services import release
from farmbuild.sites.services import archive_house, archive_site, bring_back_house, bring_back_site, save_site
from farmbuild.stock.models import Reservation
from farmbuild.stock.services import issue_pieces
from tests.factories import (
    BenderFactory,
    CrewFactory,
    HouseFactory,
    MemberFactory,
    MembershipFactory,
    OfferFactory,
    PersonFactory,
    RecipeFactory,
    SiteFactory,
    SupplierFactory,
)
from tests.hoops.batches.making import TARGET, make_shop
from tests.plans.small_season import small_season

pytestmark = pytest.mark.django_db


def done(service, **given):
    """The service, of whoever asks for it; one that takes no user is told by the page that calls it."""
    with recorded(user=given["user"], organisation=given["organisation"]):
        return service(**{name: value for name, value in given.items() if name in signature(service).parameters})


def material(organisation):
    return OfferFactory(supplier__organisation=organisation).material


#: Of each kind: how a row is made, and the services that put it out of use and into use again.
ARCHIVED = {
    "site": (lambda org: SiteFactory(organisation=org), archive_site, bring_back_site),
    "house": (lambda org: HouseFactory(site__organisation=org), archive_house, bring_back_house),
    "recipe": (lambda org: RecipeFactory(organisation=org), archive_recipe, bring_back_recipe),
    "bender": (lambda org: BenderFactory(organisation=org), archive_bender, bring_back_bender),
    "material": (material, archive_material, bring_back_material),
    "person": (lambda org: PersonFactory(organisation=org), archive_person, bring_back_person),
    "crew": (lambda org: CrewFactory(organisation=org), archive_crew, None),
    "member": (lambda org: MemberFactory(organisation=org), archive_member, None),
}


@pytest.mark.parametrize("kind", ARCHIVED)
def test_archive_and_bring_back(organisation, user, kind):
    make, archive, bring_back = ARCHIVED[kind]
    row = make(organisation)
    done(archive, organisation=organisation, user=user, **{kind: row})
    expected = [(kind, row.pk, "archived")]
    if bring_back:
        row.refresh_from_db()
        done(bring_back, organisation=organisation, user=user, **{kind: row})
        expected.append((kind, row.pk, "brought back"))
    told = Entry.objects.filter(user=user).order_by("pk").values_list("kind", "record", "deed")
    assert [*told] == expected


def reprice(given, org):
    offer = OfferFactory(supplier__organisation=org)
    data = {name: getattr(offer, name) for name in ("material", "length", "pack", "lead_days", "valid_until")}
    done(save_offer, **given, supplier=offer.supplier, data=data, breaks=[(1, Decimal("99"))], offer=offer)


#: What is done, and what is told of it: kind, deed, label of one change.
CHANGES = {
    "settings": (
        lambda given, org: done(save_organisation, **given, data={"tax_percent": Decimal(7)}),
        ("organisation", "changed", "Tax percent"),
    ),
    "journeys": (
        lambda given, org: done(save_settings, **given, data={"travel_minutes": 41}),
        ("organisation", "changed", ""),
    ),
    "a price": (reprice, ("offer", "changed", "From 1, price of one piece")),
    "a supplier": (
        lambda given, org: done(
            change_supplier,
            **given,
            supplier=SupplierFactory(organisation=org),
            data={"name": "Another", "minimum_order": Decimal(5)},
        ),
        ("supplier", "changed", "Minimum order"),
    ),
    "a site": (
        lambda given, org: done(
            save_site, **given, site=SiteFactory(organisation=org), data={"name": "Moved", "address": "", "note": ""}
        ),
        ("site", "changed", "Name"),
    ),
    "a skill": (lambda given, org: done(save_skill, **given, name="Ladder"), ("skill", "added", "")),
}


@pytest.mark.parametrize("what", CHANGES)
def test_what_is_changed(organisation, user, what):
    do, (kind, deed, label) = CHANGES[what]
    do({"organisation": organisation, "user": user}, organisation)
    entry = Entry.objects.get()
    assert (entry.user, entry.kind, entry.deed) == (user, kind, deed)
    labels = [change.label for change in changes_of(entry, organisation, costs=True)]
    assert not label or label in labels, labels


def test_an_accepted_trial(organisation, user):
    shop = make_shop(organisation, user)
    shop.issue(2)
    trial = shop.measure(TARGET)
    done(accept_trial, organisation=organisation, user=user, batch=shop.batch, trial=trial)
    entry = Entry.objects.get(kind="batch", deed__contains="accepted a trial hoop of")
    assert (entry.user, entry.record) == (user, shop.batch.pk)


def accepted_plan(organisation, user):
    plan = services.create_plan(**small_season(organisation).ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    done(accept_plan, organisation=organisation, user=user, plan=plan)
    return plan


def test_a_plan_accepted_and_released_and_its_order_sent_and_cancelled(organisation, user):
    given = {"organisation": organisation, "user": user}
    plan = accepted_plan(organisation, user)
    entry = Entry.objects.get(kind="plan", deed="accepted")
    assert (entry.user, entry.record) == (user, plan.pk)
    assert Entry.objects.filter(act=entry.act, kind="order", deed="added").exists()
    assert entry.first, "what one presses stands for all that it changes"
    holds = Reservation.objects.filter(house__slug="north-1")
    told = held_of(organisation, entry.act)
    assert len(told) == holds.count() and all(change.before == "nothing" for change in told)
    hold = holds.exclude(lot=None).first()
    assert f"{hold.quantity} of {hold.lot.material} for {hold.purpose}, {hold.lot}" in {change.after for change in told}
    done(release, **given, reservation=hold, quantity=1)
    by_hand = Entry.objects.order_by("pk").last()
    (change,) = changes_of(by_hand, organisation, costs=True)
    assert (by_hand.kind, by_hand.name, change.after) == ("house", hold.house.name, str(hold.quantity - 1))
    assert change.label.endswith("pieces held")
    order = PurchaseOrder.objects.of(organisation).order_by("pk").first()
    done(send_order, **given, order=order, sent_on=date(2027, 5, 3), how="by post", as_it_is=True)
    sent = Entry.objects.get(kind="order", deed="sent")
    assert (sent.user, sent.record) == (user, order.pk)
    done(cancel_order, **given, order=order, reason="bought elsewhere")
    cancelled = Entry.objects.get(kind="order", deed="cancelled", record=order.pk)
    assert ("Why", "bought elsewhere") in [
        (change.label, change.after) for change in changes_of(cancelled, organisation, costs=True)
    ]
    done(release_plan, **given, plan=plan)
    released = Entry.objects.get(kind="plan", record=plan.pk, deed__contains="released", user=user)
    assert all(change.after == "nothing" for change in held_of(organisation, released.act))


def held_of(organisation, act):
    """What one act changed in what the first house holds."""
    entry = Entry.objects.get(act=act, kind="house", name="North 1")
    return [change for change in changes_of(entry, organisation, costs=True) if change.label == "Held"]


def test_pieces_that_are_taken_from_a_hold_are_told_by_their_movement_alone(organisation, user):
    plan = accepted_plan(organisation, user)
    hold = Reservation.objects.filter(plan=plan, pieces=None).exclude(lot=None).first()
    before = Entry.objects.count()
    issue = {"quantity": 1, "reason": "set", "house": hold.house}
    done(issue_pieces, organisation=organisation, user=user, lot=hold.lot, **issue)
    assert Entry.objects.count() == before


def test_how_far_a_task_is(organisation, user):
    person = PersonFactory(crew__organisation=organisation)
    house = HouseFactory(site__organisation=organisation)
    task = Task.objects.create(organisation=organisation, house=house, kind="posts", crew=person.crew, count=4)
    given = {"organisation": organisation, "user": user, "task": task, "person": person}
    record(**given, key=uuid4(), what="start", at=timezone.now())
    entry = Entry.objects.get(kind="task")
    (change,) = changes_of(entry, organisation, costs=True)
    assert (entry.user, entry.record, change.sentence) == (user, task.pk, "How far: To do to Started")


def test_what_one_may_is_told_in_words(organisation, user):
    person = MembershipFactory(organisation=organisation, role="yard")
    given = {"organisation": organisation, "user": user, "person": person}
    done(set_acts, **given, acts=["see", "record", "stock", "costs"])
    said = [change.sentence for change in changes_of(Entry.objects.get(), organisation, costs=True)]
    assert said == [
        "May not: nothing to run benders and their bookings",
        "May as well: nothing to see prices, costs and wages",
    ]
    done(set_role, **given, role="crew")
    entry = Entry.objects.order_by("pk").last()
    assert (entry.kind, entry.deed) == ("role", "gave a role to")
    assert "Role: Yard to Crew" in [change.sentence for change in changes_of(entry, organisation, costs=True)]
    assert act_words(["see", "fly"]) == "see the pages; fly"


def test_the_machine_leaves_none(organisation):
    row = material(organisation)
    done(bring_back_material, organisation=organisation, user=None, material=row)
    Material.objects.filter(pk=row.pk).update(note="By a loader")
    assert not Entry.objects.exists()


def test_every_service_that_asks_for_an_act_is_told_as_one(organisation, user):
    """Whatever it is: the decorator that each of them carries begins what is told."""
    seen = []

    @needs(Act.SEE)
    def look(*, organisation, user):
        seen.append(current())

    look(organisation=organisation, user=user)
    look(organisation=organisation, user=None)
    (act, nobodys) = seen
    assert (act.user, act.organisation, nobodys, current()) == (user, organisation, None, None)
