"""Plans are snapshots: asked once, worked out once, never rewritten."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import ProtectedError
from django.test.utils import CaptureQueriesContext

from farmbuild.buying.models import PurchaseOrder
from farmbuild.catalogue.models import PriceBreak
from farmbuild.common.long_work import MAX_REASONS, SILENCE, Claim, TakenOver, try_again
from farmbuild.plans import bridge, selectors, services
from farmbuild.plans.models import Plan
from farmbuild.sites.models import House
from tests.factories import (
    FOOT,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    MembershipFactory,
    OfferFactory,
    OrganisationFactory,
    SiteFactory,
    SupplierFactory,
)
from tests.plans.small_season import AS_OF, small_season

pytestmark = pytest.mark.django_db


def work(plan: Plan) -> Plan:
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    return plan


class TestAsking:
    def test_numbers_run_from_one(self, season, user):
        first = services.create_plan(**season.ask(user)).plan
        second = services.create_plan(**season.ask(user, houses=season.houses[:1])).plan
        assert [first.number, second.number] == [1, 2]

    def test_numbers_are_each_organisations_own(self, season, user):
        services.create_plan(**season.ask(user))
        other = small_season(OrganisationFactory())
        owner = MembershipFactory(organisation=other.organisation).user
        assert services.create_plan(**other.ask(owner)).plan.number == 1

    def test_the_same_question_has_the_same_plan(self, season, user, ready):
        again = services.create_plan(**season.ask(user, name="Another name"))
        assert again.same
        assert again.plan.pk == ready.pk
        assert Plan.objects.count() == 1

    def test_the_order_of_the_houses_does_not_matter(self, season, user, ready):
        assert services.create_plan(**season.ask(user, houses=season.houses[::-1])).same

    @pytest.mark.parametrize("change", ["house", "lot", "price", "organisation", "date", "fewer"])
    def test_another_question_has_another_plan(self, season, user, ready, change):
        ask = season.ask(user)
        if change == "house":
            House.objects.filter(slug="north-1").update(length=FOOT * 52)
        elif change == "lot":
            LotFactory(material=season.houses[0].recipe.tube, on_hand=1)
        elif change == "price":
            PriceBreak.objects.filter(offer__material__code="rail").update(unit_price=Decimal("13.34"))
        elif change == "organisation":
            season.organisation.kerf = Decimal("2")
            season.organisation.save()
        elif change == "date":
            ask["as_of"] = date(2027, 3, 2)
        else:
            ask["houses"] = season.houses[:1]
        asked = services.create_plan(**ask)
        assert not asked.same
        assert asked.plan.pk != ready.pk

    def test_what_the_houses_do_not_use_changes_nothing(self, season, user, ready):
        other = MaterialFactory(organisation=season.organisation)
        LotFactory(material=other)
        OfferFactory(supplier=SupplierFactory(organisation=season.organisation), material=other)
        assert services.create_plan(**season.ask(user)).same
        assert selectors.changes_since(plan=ready) == []

    def test_no_house(self, season, user):
        with pytest.raises(ValidationError, match="Tick at least one house"):
            services.create_plan(**season.ask(user, houses=[]))

    def test_a_house_of_another_organisation(self, season, user):
        with pytest.raises(ValidationError, match="not yours"):
            services.create_plan(**season.ask(user, houses=[*season.houses, HouseFactory()]))
        assert Plan.objects.count() == 0

    @pytest.mark.parametrize("day", [date.min, date(1999, 12, 31), date(2101, 1, 1), date.max])
    def test_a_day_that_is_a_slip_of_the_key(self, season, user, day):
        with pytest.raises(ValidationError, match="Type a date from 2000 to 2100"):
            services.create_plan(**season.ask(user, as_of=day))

    def test_a_delivery_site_of_another_organisation(self, season, user):
        with pytest.raises(ValidationError, match="your own sites"):
            services.create_plan(**season.ask(user, delivery_site=SiteFactory()))


class TestSeason:
    def test_nothing_of_another_organisation_comes_in(self, season, user):
        other = small_season(OrganisationFactory())
        assert other.organisation.pk != season.organisation.pk
        asked = bridge.season_for(
            organisation=season.organisation,
            houses=[*season.houses, *other.houses],
            delivery_site=season.north,
            as_of=AS_OF,
        )
        assert [house.ref for house in asked.houses] == ["creek-1", "north-1"]
        assert [lot.ref for lot in asked.lots] == ["L-1", "L-2", "L-3"]
        assert [supplier.code for supplier in asked.suppliers] == ["a-pipe", "b-yard"]
        assert [material.code for material in asked.materials] == ["board", "post", "rail", "screw"]
        assert len(asked.offers) == 5
        assert [site.code for site in asked.sites] == ["creek-bottom", "north-field"]

    def test_queries_do_not_grow_with_houses_or_lots(self, season, django_assert_num_queries):
        def ask():
            bridge.season_for(
                organisation=season.organisation,
                houses=list(House.objects.all()),
                delivery_site=season.north,
                as_of=AS_OF,
            )

        with CaptureQueriesContext(connection) as few:
            ask()
        for n in range(10):
            HouseFactory(site=season.north, recipe=season.houses[0].recipe, slug=f"more-{n}")
            LotFactory(material=season.houses[0].recipe.tube)
        with django_assert_num_queries(len(few)):
            ask()


class TestWorkingOut:
    def test_result_and_digest_are_stored_and_nothing_is_ordered(self, ready):
        result = bridge.season_plan_of(ready)
        assert ready.result_digest == bridge.digest_of(ready.result)
        assert bridge.pack_plan(result) == ready.result
        assert ready.steps_done == ready.steps > 0
        assert ready.worker == ""
        assert ready.order_count == len(result.orders) == 2
        assert ready.order_total == sum(order.total for order in result.orders)
        assert ready.first_order_by == min(order.order_by for order in result.orders)
        assert not PurchaseOrder.objects.exists()

    def test_the_same_season_gives_the_same_plan_to_the_letter(self, season, user, ready):
        later = services.create_plan(**season.ask(user, as_of=date(2027, 3, 2))).plan
        Plan.objects.filter(pk=later.pk).update(
            inputs=Plan.objects.get(pk=ready.pk).inputs, inputs_digest=ready.inputs_digest
        )
        later.refresh_from_db()
        assert work(later).result_digest == ready.result_digest
        assert later.result == ready.result

    def test_a_ready_plan_is_never_rewritten(self, season, ready):
        House.objects.filter(slug="north-1").update(length=FOOT * 96)
        before = Plan.objects.filter(pk=ready.pk).values().get()
        services.work_out_plan(ready.pk)
        try_again(ready)
        assert Plan.objects.filter(pk=ready.pk).values().get() == before

    def test_a_relieved_worker_cannot_store(self, season, user):
        plan = services.create_plan(**season.ask(user)).plan
        claim = Claim.of(Plan, plan.pk)
        Plan.objects.filter(pk=plan.pk).update(heard_from_at=plan.created_at - 2 * SILENCE)
        assert work(plan).state == Plan.State.READY
        stored = plan.result_digest, plan.order_total
        with pytest.raises(TakenOver):
            services._store(claim, bridge.season_plan_of(plan))
        plan.refresh_from_db()
        assert (plan.result_digest, plan.order_total) == stored

    def test_progress_is_written_as_it_goes(self, season, user, monkeypatch):
        plan = services.create_plan(**season.ask(user)).plan
        seen = []
        real = Claim.note

        def watch(claim, done, steps, words):
            real(claim, done, steps, words)
            seen.append(Plan.objects.values_list("state", "steps_done", "steps", "step_note").get(pk=plan.pk))

        monkeypatch.setattr(Claim, "note", watch)
        work(plan)
        assert len(seen) > 3
        assert {state for state, *_ in seen} == {"working"}
        assert [done for _, done, *_ in seen] == sorted(done for _, done, *_ in seen)
        assert any("Creek 1" in note for *_, note in seen)

    def test_a_house_that_cannot_be_built_stops_it_in_words(self, season, user):
        House.objects.filter(slug="north-1").update(post_span=FOOT * 40)
        plan = work(services.create_plan(**season.ask(user)).plan)
        assert plan.state == Plan.State.FAILED
        assert plan.problem.startswith("North 1: The hoop is")
        assert "Type a narrower span" in plan.problem
        assert plan.result is None
        assert not PurchaseOrder.objects.exists()

    def test_many_houses_that_cannot_be_built_are_counted(self, season, user):
        recipe = season.houses[0].recipe
        houses = [
            HouseFactory(site=season.north, recipe=recipe, post_span=FOOT * 40, slug=f"wide-{n}", name=f"Wide {n}")
            for n in range(25)
        ]
        plan = work(services.create_plan(**season.ask(user, houses=houses)).plan)
        lines = plan.problem.splitlines()
        assert len(lines) == MAX_REASONS + 1
        assert lines[-1] == "There are 5 more reasons like these."

    def test_a_fault_stores_nothing_and_can_be_tried_again(self, season, user, monkeypatch):
        plan = services.create_plan(**season.ask(user)).plan

        def fault(*_, **more):
            raise RuntimeError("disk on fire")

        with monkeypatch.context() as patch:
            patch.setattr(bridge, "work_out", fault)
            work(plan)
        assert plan.state == Plan.State.FAILED
        assert plan.problem == services.UNEXPECTED
        assert "disk" not in plan.problem
        assert plan.result is None
        try_again(plan)
        assert work(plan).state == Plan.State.READY
        assert plan.problem == ""
        assert plan.order_count == 2


class TestOutOfDate:
    def test_nothing_has_changed(self, ready):
        assert selectors.changes_since(plan=ready) == []

    def test_it_says_what_changed(self, season, ready):
        House.objects.filter(slug="north-1").update(length=FOOT * 52)
        (line,) = selectors.changes_since(plan=ready)
        assert "North 1" in line
        assert "52'" in line

    def test_an_archived_house_shows(self, season, ready):
        House.objects.filter(slug="creek-1").update(archived_at=ready.created_at)
        assert any("Creek 1" in line for line in selectors.changes_since(plan=ready))

    def test_planning_again_makes_a_new_plan_and_leaves_the_old(self, season, user, ready):
        House.objects.filter(slug="creek-1").update(archived_at=ready.created_at)
        asked = services.plan_again(plan=ready, user=user, as_of=AS_OF)
        assert not asked.same
        assert asked.plan.number == 2
        assert [house.slug for house in asked.plan.houses.all()] == ["north-1"]
        assert Plan.objects.get(pk=ready.pk).result == ready.result


class TestHolding:
    def test_a_house_in_a_plan_cannot_be_deleted(self, season, ready):
        with pytest.raises(ProtectedError):
            season.houses[0].delete()

    def test_a_supplier_with_orders_cannot_be_deleted(self, accepted):
        with pytest.raises(ProtectedError):
            accepted.orders.first().supplier.delete()


class TestTooLarge:
    def test_houses_past_what_one_plan_takes_are_refused_at_their_ticks(self, season, user, monkeypatch):
        monkeypatch.setattr("farmbuild.planning.season.size.MAX_HOOPS", 1)
        with pytest.raises(ValidationError) as refused:
            services.create_plan(**season.ask(user))
        assert "at most 1 hoops" in refused.value.message_dict["houses"][0]
        assert not Plan.objects.exists()

    def test_planned_again_it_says_the_same_and_nothing_of_archived_houses(self, client, user, ready, monkeypatch):
        monkeypatch.setattr("farmbuild.planning.season.size.MAX_HOOPS", 1)
        client.force_login(user)
        page = client.post(f"/plans/{ready.number}/again/", follow=True).content.decode()
        assert "Plan them in parts" in page and "archived" not in page.partition("Plan them in parts")[0][-300:]
        assert Plan.objects.count() == 1
