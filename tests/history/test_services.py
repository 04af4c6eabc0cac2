"""Each service that a person calls leaves an entry by that person, whoever called it: a page, a command, a test."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from inspect import signature

import pytest

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.services import archive_material, bring_back_material, change_supplier, save_offer
from farmbuild.crew.bookings.member_requests import archive_member
from farmbuild.crew.people.services import archive_crew, archive_person, bring_back_person, save_settings, save_skill
from farmbuild.history.act import current
from farmbuild.history.models import Entry
from farmbuild.history.presenters import changes_of
from farmbuild.history.recording import recorded
from farmbuild.hoops.batches.services import accept_trial
from farmbuild.hoops.benders.services import archive_bender, bring_back_bender
from farmbuild.hoops.recipes.services import archive_recipe, bring_back_recipe
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.services import save_organisation
from farmbuild.plans.accepting import release_plan
from farmbuild.sites.services import archive_house, archive_site, bring_back_house, bring_back_site, save_site
from tests.factories import (
    BenderFactory,
    CrewFactory,
    HouseFactory,
    MemberFactory,
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


def test_a_plan_accepted_and_released_and_its_order_sent_and_cancelled(organisation, user):
    from farmbuild.buying.models import PurchaseOrder
    from farmbuild.buying.sending import cancel_order, send_order
    from farmbuild.plans import services
    from farmbuild.plans.accepting import accept_plan

    given = {"organisation": organisation, "user": user}
    plan = services.create_plan(**small_season(organisation).ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    done(accept_plan, **given, plan=plan)
    entry = Entry.objects.get(kind="plan", deed="accepted")
    assert (entry.user, entry.record) == (user, plan.pk)
    assert Entry.objects.filter(act=entry.act, kind="order", deed="added").exists()
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
    assert Entry.objects.filter(kind="plan", record=plan.pk, deed__contains="released", user=user).exists()


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
