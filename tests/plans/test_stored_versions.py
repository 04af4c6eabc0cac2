"""Plans that an earlier version stored, or a newer one: read as they stand, never rewritten, never a false alarm."""

from __future__ import annotations

import copy
from decimal import Decimal

import pytest
from django.db.models import Field
from django.urls import NoReverseMatch, reverse

from farmbuild.demo.services import load_demo
from farmbuild.plans import bridge, selectors, services
from farmbuild.plans.models import Plan
from farmbuild.plans.urls import urlpatterns
from farmbuild.sites.bridge import FIELDS
from farmbuild.sites.models import House
from tests.planning.stored.versions import PARTS, as_version_1, demo_season_v1

PRESSED = {"run", "end", "retry", "again", "accept", "savings-run", "savings-end"}


def put_back_to_version_1(plan: Plan) -> Plan:
    """As if it had been stored by the program before."""
    packed = Plan.objects.get(pk=plan.pk)
    inputs, result = as_version_1(packed.inputs), packed.result and as_version_1(packed.result, "plan")
    Plan.objects.filter(pk=plan.pk).update(
        inputs=inputs,
        inputs_digest=bridge.digest_of(inputs),
        result=result,
        result_digest=bridge.digest_of(result) if result else "",
    )
    plan.refresh_from_db()
    return plan


def later_fields() -> list[Field]:
    """Of a house, that version 1 did not have."""
    known = demo_season_v1()["inputs"]["season"]["houses"][0]["spec"]
    doors = {f"{end}_door_{part}" for end in ("front", "back") for part in PARTS}
    return [House._meta.get_field(row.name) for row in FIELDS if row.name not in {*known, *doors}]


def addresses(plan: Plan) -> list[str]:
    """Of every page and file of a plan that is asked for with GET."""
    found = []
    for pattern in urlpatterns:
        for more in ({}, {"ref": bridge.season_of(plan).houses[0].ref}):
            if pattern.name not in PRESSED:
                try:
                    found.append(reverse(f"plans:{pattern.name}", kwargs={"number": plan.number} | more))
                except NoReverseMatch:
                    continue
    return found


@pytest.mark.django_db(transaction=True)
def test_every_page_of_the_demo_plan_works_as_version_1_stored_it(client):
    demo = load_demo()
    # Version 1 does not hold what the houses have of later fields, so they have none of it here.
    House.objects.update(**{field.attname: field.get_default() for field in later_fields()})
    plain = services.plan_again(plan=demo.plan, user=demo.user, as_of=demo.plan.as_of).plan
    told = selectors.changes_since(plan=plain)
    assert selectors.changes_since(plan=put_back_to_version_1(plain)) == told
    # Offers are known by keys that differ from one database to the next, so of this one no change can be told.
    stored = demo_season_v1()
    Plan.objects.filter(pk=demo.plan.pk).update(**stored)
    demo.plan.refresh_from_db()
    client.force_login(demo.user)
    pages = addresses(demo.plan)
    assert len(pages) > 12
    # Nobody looked for its savings, and it tried no change of its houses.
    absent = {f"/plans/{demo.plan.number}/savings/progress/", f"/plans/{demo.plan.number}/houses/"}
    assert {page for page in pages if client.get(page).status_code == 404} == absent
    for page in set(pages) - absent:
        # What the change of its houses means leads back to a plan that is accepted already.
        assert client.get(page).status_code == (302 if "/change" in page else 200), page
    kept = Plan.objects.get(pk=demo.plan.pk)
    assert {name: getattr(kept, name) for name in stored} == stored


def test_a_plan_stored_before_is_not_out_of_date_and_answers_the_same_question(ready, season, user):
    old = put_back_to_version_1(ready)
    assert old.inputs_digest != bridge.digest_of(bridge.pack_season(bridge.season_of(old)))
    assert selectors.changes_since(plan=old) == []
    asked = services.create_plan(**season.ask(user))
    assert (asked.plan, asked.same) == (old, True)
    season.houses[0].front_door_width = Decimal(900)
    season.houses[0].save()
    assert selectors.changes_since(plan=old) == ['House North 1: front door width was 0", is 2\' 11 7/16".']
    assert not services.create_plan(**season.ask(user)).same


def test_a_waiting_plan_that_was_stored_before_is_worked_out(season, user):
    plan = put_back_to_version_1(services.create_plan(**season.ask(user)).plan)
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem


@pytest.mark.parametrize("added", ["version", "field"])
def test_what_a_newer_version_stored_is_said_on_the_page(signed_in, ready, season, user, added):
    inputs = copy.deepcopy(Plan.objects.get(pk=ready.pk).inputs)
    if added == "version":
        inputs["version"] += 1
    else:
        inputs["season"]["houses"][0]["spec"]["heating"] = "2"
    Plan.objects.filter(pk=ready.pk).update(inputs=inputs, inputs_digest=bridge.digest_of(inputs))
    for page in ("plans:plan", "plans:cutting", "plans:cut-list"):
        answer = signed_in.get(reverse(page, args=[ready.number]))
        assert answer.status_code == 503
        assert "made by a newer version of the program" in answer.content.decode()
    assert signed_in.get(reverse("plans:plans")).status_code == 200
    # It is not the same plan to this program, and another can be made beside it.
    asked = services.create_plan(**season.ask(user))
    assert not asked.same
    Plan.objects.filter(pk=asked.plan.pk).update(inputs=inputs, inputs_digest=bridge.digest_of(inputs))
    services.work_out_plan(asked.plan.pk)
    asked.plan.refresh_from_db()
    assert asked.plan.state == Plan.State.FAILED
    assert asked.plan.problem == services.NEWER
