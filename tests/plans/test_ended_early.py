"""A plan or a search for savings that is ended early keeps the best so far, and is no answer to who asks in full."""

from __future__ import annotations

import pytest
from django.urls import reverse

from farmbuild.common.long_work import AskedToEnd, end_early
from farmbuild.plans.models import Plan, PlanSavings
from farmbuild.plans.savings import services as savings
from farmbuild.plans.services import create_plan, work_out_plan
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def looked_at_once(monkeypatch) -> None:
    monkeypatch.setattr(AskedToEnd, "SECONDS", 0)


@pytest.fixture
def plan(season, user) -> Plan:
    return create_plan(**season.ask(user)).plan


def worked_out(plan: Plan) -> Plan:
    work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    return plan


def test_a_plan_ended_early_is_whole_and_asked_again_another_is_made(client, season, plan, user):
    client.force_login(user)
    page = reverse("plans:plan", args=[plan.number])
    assert "End it and keep the best so far" in text_of(client.get(page))
    for _ in range(2):
        assert client.post(reverse("plans:end", args=[plan.number])).url == page
    assert "The search is being ended" in text_of(client.get(page))
    early = worked_out(plan)
    assert "The search was ended early" in text_of(client.get(page))
    again = create_plan(**season.ask(user))
    assert not again.same
    full = worked_out(again.plan)
    # What is asked a third time was answered in full.
    assert create_plan(**season.ask(user)).plan == full
    assert "ended early" not in text_of(client.get(reverse("plans:plan", args=[full.number])))
    cut_short, in_full = (one.snapshot()[1] for one in (early, full))
    assert cut_short.takeoff == in_full.takeoff and not cut_short.unmet
    assert early.order_total >= full.order_total


def test_pressed_when_it_is_worked_out_nothing_changes(client, plan, user):
    worked_out(plan)
    client.force_login(user)
    client.post(reverse("plans:end", args=[plan.number]))
    plan.refresh_from_db()
    assert not plan.ends_early


def test_savings_ended_early_are_looked_for_again_in_full(client, plan, user):
    worked_out(plan)
    search = savings.ask_for_savings(organisation=plan.organisation, user=user, plan=plan)
    client.force_login(user)
    page = reverse("plans:savings", args=[plan.number])
    assert "End it and keep the best so far" in text_of(client.get(page))
    client.post(reverse("plans:savings-end", args=[plan.number]))
    savings.look_for_savings(search.pk)
    search.refresh_from_db()
    assert (search.state, search.found, search.ends_early) == (PlanSavings.State.READY, [], True)
    text = text_of(client.get(page))
    assert "The search was ended early: not every change was tried." in text and "Look again" in text
    for _ in range(2):
        client.post(page)
    search.refresh_from_db()
    assert (search.state, search.ends_early) == (PlanSavings.State.WAITING, False)
    savings.look_for_savings(search.pk)
    search.refresh_from_db()
    assert search.state == PlanSavings.State.READY and not end_early(search)
    assert "ended early" not in text_of(client.get(page))
