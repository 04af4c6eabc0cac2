"""Plans of before, when pieces were rounded up to a sixteenth of an inch: what they hold still serves their houses."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from farmbuild.plans import bridge, services
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.balance import BalanceRow, balances
from farmbuild.plans.models import Plan
from farmbuild.plans.selectors import changes_since
from farmbuild.sites.models import House
from farmbuild.stock.cutting import cut_reserved
from farmbuild.stock.models import Lot, Reservation
from farmbuild.stock.services import issue_pieces
from tests.factories import INCH
from tests.plans.test_planning_again import again, send_and_receive, short

POST, ROUNDED = Decimal(1500), INCH * Decimal("59.0625")


def rounded_up(plain: Any) -> Any:
    """The stored result as an earlier version wrote it: posts of 59 1/16 in, with less left of each stick."""
    if isinstance(plain, list):
        return [rounded_up(item) for item in plain]
    if not isinstance(plain, dict):
        return plain
    out = {name: rounded_up(value) for name, value in plain.items()}
    if out.get("material") == "post" and "pieces" in out:
        spare = Decimal(out["remainder"]) - (ROUNDED - POST) * len(out["pieces"])
        out["remainder"] = bridge.snapshot.decimal_text(max(Decimal(0), spare))
        out["pieces"] = [piece | {"length": bridge.snapshot.decimal_text(ROUNDED)} for piece in out["pieces"]]
    if out.get("purpose") == "ground posts" and out.get("material") == "post":
        out["length"] = bridge.snapshot.decimal_text(ROUNDED)
    return out


@pytest.fixture
def older(season, user) -> Plan:
    """An accepted plan as it was stored before, of houses whose posts are a metre and a half long."""
    House.objects.update(post_length=POST)
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    result = rounded_up(plan.result)
    assert result != plan.result
    Plan.objects.filter(pk=plan.pk).update(result=result, result_digest=bridge.digest_of(result))
    plan.refresh_from_db()
    return accept_plan(organisation=plan.organisation, user=user, plan=plan)


def posts(organisation) -> list[BalanceRow]:
    found = balances(organisation=organisation, houses=list(House.objects.all()))
    return [row for balance in found.values() for row in balance.rows if row.purpose == "ground posts"]


def test_an_older_plan_is_not_out_of_date_and_its_pieces_serve(older, season):
    assert changes_since(plan=older) == []
    rows = posts(season.organisation)
    assert [(row.length, row.needed, row.to_find) for row in rows] == [(POST, 26, 0)] * 2
    found = balances(organisation=season.organisation, houses=list(House.objects.all()))
    assert not any(balance.held_too_much for balance in found.values())


def test_pieces_cut_as_they_were_held_serve_to_the_end(older, season, user):
    send_and_receive(older, user, 1)
    given = {"organisation": season.organisation, "user": user}
    for hold in Reservation.objects.filter(lot__material__code="post").order_by("pk"):
        cut_reserved(**given, reservation=hold, sticks=hold.quantity)
    assert {lot.length for lot in Lot.objects.filter(material__code="post", reserved__gt=0)} == {ROUNDED}
    assert [row.to_find for row in posts(season.organisation)] == [0, 0]
    # Planned again, what lies there is used as it is and nothing is bought.
    new = again(older, user)
    assert short(new, "post") == 0
    layouts = [layout for layout in new.snapshot()[1].layouts if layout.material == "post"]
    assert sum(layout.times for layout in layouts) == 52
    assert all(layout.uncut for layout in layouts)
    accept_plan(organisation=season.organisation, user=user, plan=new)
    holds = Reservation.objects.filter(lot__material__code="post").prefetch_related("pieces")
    assert {(hold.lot.length, piece.length) for hold in holds for piece in hold.pieces.all()} == {(ROUNDED, ROUNDED)}
    for hold in holds:
        issue_pieces(**given, lot=hold.lot, quantity=hold.quantity, reason="set", house=hold.house)
    rows = posts(season.organisation)
    assert [(row.in_house, row.to_find) for row in rows] == [(26, 0)] * 2
    assert short(again(new, user), "post") == 0
