"""The worked example through pages alone: from needs that are typed to pieces that are handed out, to the cent."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.buying.models import PurchaseOrder
from farmbuild.catalogue.models import Supplier
from farmbuild.coop.joint import own
from farmbuild.coop.joint.plans import PlanNeed, PlanNeeds
from farmbuild.coop.joint.presenters import collecting
from farmbuild.coop.models import Handout, JointOrder, MemberEntry
from farmbuild.measure import format_money
from farmbuild.sites.yard.standing import next_steps_of
from tests.coop.joint.making import Cooperative
from tests.coop.joint.worked import MEMBERS, RAIL
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def coop(db):
    return Cooperative()


@pytest.fixture
def browser(client, coop):
    client.force_login(coop.user)
    return client


def at(name, *args):
    return reverse(f"coop:{name}", args=args)


def hidden(response, *names):
    html = response.content.decode()
    return {name: re.search(rf'name="{name}" value="([^"]*)"', html)[1] for name in names}


def begin(browser, coop, **more):
    data = {
        "title": "Spring rails",
        "closes_on": str(coop.today + timedelta(days=5)),
        "need_by": str(coop.today + timedelta(days=30)),
        "delivery_site": coop.site.pk,
        "damage_rule": "listed",
    }
    return browser.post(at("joint-new"), data | more)


def put_in(browser, coop, material, length, pieces):
    data = {f"pieces-{member.pk}": count for member, count in zip(coop.members, pieces, strict=True)}
    return browser.post(at("joint-put-in", 1), {"material": material.pk, "length": length} | data)


def test_from_needs_to_signatures(browser, coop):
    assert "No joint order is open." in text_of(browser.get(at("joints")))
    assert begin(browser, coop).status_code == 302
    joint = JointOrder.objects.get()
    assert "Nobody has put anything in yet" in text_of(browser.get(joint.get_absolute_url()))
    rails, pipes = [one.ordered for one in MEMBERS], [one.pipes or "" for one in MEMBERS]
    assert put_in(browser, coop, coop.rail, "10'", rails).status_code == 302
    assert put_in(browser, coop, coop.pipe, "20'", pipes).status_code == 302
    page = text_of(browser.get(joint.get_absolute_url()))
    assert "7 members need 224 pieces; it closes on" in page
    assert "Farm 1 61, Farm 2 37" in page

    page = text_of(browser.get(at("joint-prices", 1)))
    assert "14.60; from 50: 13.40; from 200: 12.75" in page

    shown = browser.get(at("joint-close", 1))
    assert "Members were told that they may change it until" in text_of(shown)
    answer = browser.post(at("joint-close", 1), hidden(shown, "seen"))
    assert answer.status_code == 302
    order = PurchaseOrder.objects.get()
    assert f"Send order {order.number}" in text_of(browser.get(joint.get_absolute_url()))
    browser.post(reverse("buying:send", args=[order.number]), {"sent_on": str(coop.today), "how": "by e-mail"})
    assert "0 of 224 pieces came whole for 7 members." in text_of(browser.get(joint.get_absolute_url()))

    receive = reverse("buying:receive", args=[order.number])
    by_material = {line.material_id: line.position for line in order.lines.all()}
    rail, pipe = by_material[coop.rail.pk], by_material[coop.pipe.pk]
    came = {
        f"arrived-{rail}": "200",
        f"damaged-{rail}": "3",
        f"damage_reason-{rail}": "crushed",
        f"arrived-{pipe}": "24",
    }
    head = {"received_on": str(coop.today), "place": "Barn rack"} | hidden(browser.get(receive), "token", "seen")
    assert browser.post(receive, head | came).status_code == 302
    browser.post(reverse("buying:close", args=[order.number]), {"reason": "credited"})
    page = text_of(browser.get(joint.get_absolute_url()))
    assert "221 of 224 pieces came whole; 7 members still to get theirs." in page
    assert "Split what it cost" in page

    shown = browser.get(at("joint-split", 1))
    page = text_of(shown)
    assert "$3,620.73 among 7 members, to the cent; 7 not charged yet." in page
    for one in MEMBERS:
        for amount in (one.goods, one.rail_tax + one.pipe_tax, one.delivery, one.owes, one.alone):
            assert format_money(amount, "USD").removeprefix("$") in page
    posted = browser.post(at("joint-split", 1), hidden(shown, "seen") | {"day": str(coop.today)})
    assert posted.status_code == 302
    charged = dict(MemberEntry.objects.values_list("member__name", "amount"))
    assert charged == {f"Farm {n}": one.owes for n, one in enumerate(MEMBERS, 1)}

    for member, one in zip(coop.members, MEMBERS, strict=True):
        shown = browser.get(at("joint-share", 1, member.slug))
        assert f"{one.rails + one.pipes} pieces of {member}" in text_of(shown)
        boxes = dict(re.findall(r'name="(pieces-\d+)" value="(\d+)"', shown.content.decode()))
        assert sorted(map(int, boxes.values())) == sorted(filter(None, (one.rails, one.pipes)))
        given = {"day": str(coop.today), "signed": "R. Ramos"} | hidden(shown, "press")
        assert browser.post(at("joint-share", 1, member.slug), boxes | given).status_code == 302
    page = text_of(browser.get(joint.get_absolute_url()))
    assert "All 7 members have theirs: 221 pieces, $3,620.73." in page
    assert sum(row.quantity for row in Handout.objects.all()) == 221

    for name in ("joint-split-pdf", "joint-list-pdf"):
        assert browser.get(at(name, 1)).content.startswith(b"%PDF-")
    assert browser.get(at("joint-list-workbook", 1)).content.startswith(b"PK")
    sheet = load_workbook(BytesIO(browser.get(at("joint-split-workbook", 1)).content), data_only=False).active
    rows = {row[0].value: [cell.value for cell in row] for row in sheet.iter_rows()}
    for n, one in enumerate(MEMBERS, 1):
        found = [Decimal(str(value)) for value in rows[f"Farm {n}"] if isinstance(value, (int, float))]
        assert {one.goods, one.delivery, one.owes, one.alone} <= set(found)
        assert "R. Ramos" in rows[f"Farm {n}"][-1]

    first = Handout.objects.order_by("pk").first()
    back = at("joint-handout-back", 1, first.pk)
    assert "Say why in a few words" in text_of(browser.post(back, {"reason": ""}))
    assert browser.post(back, {"reason": "the wrong pile"}).status_code == 302
    assert "1 member still to get theirs." in text_of(browser.get(joint.get_absolute_url()))


def test_what_cannot_be_is_said_where_it_stands_and_nothing_is_stored(browser, coop):
    answer = begin(browser, coop, title="", closes_on=str(coop.today - timedelta(days=1)))
    page = text_of(answer)
    assert (answer.status_code == 200 and "That day has passed." in page) or "Type the what it is for" in page
    assert not JointOrder.objects.exists()
    begin(browser, coop)
    wrong = text_of(put_in(browser, coop, coop.rail, "", [5, *[""] * 6]))
    assert "Not done yet." in wrong
    nothing = text_of(put_in(browser, coop, coop.rail, "10'", [""] * 7))
    assert "Type the pieces of one member at least." in nothing
    odd = text_of(put_in(browser, coop, coop.rail, "10'", ["five", "3", *[""] * 5]))
    assert "Farm 1" in odd and "Not done yet." in odd
    assert not JointOrder.objects.get().needs.exists()


def test_only_what_was_shown_is_ordered(browser, coop):
    joint = coop.example()
    shown = hidden(browser.get(at("joint-close", 1)), "seen")
    coop.put_in(joint, 0, rails=62)
    page = text_of(browser.post(at("joint-close", 1), shown))
    assert "changed while this page was open" in page
    assert not PurchaseOrder.objects.exists()
    again = hidden(browser.get(at("joint-close", 1)), "seen")
    assert browser.post(at("joint-close", 1), again).status_code == 302
    assert browser.get(at("joint-close", 1)).status_code == 302
    assert PurchaseOrder.objects.count() == 1


def test_what_a_smallest_order_brings_beyond_is_the_cooperatives_own(browser, coop):
    """One member alone wants three rails of a supplier who sells no less than 600; all of them come damaged."""
    Supplier.objects.update(minimum_order=600)
    joint = coop.joint()
    coop.put_in(joint, 1, rails=3)
    # 42 rails at 14.60 are 613.20, tax 38.33, delivery 85: three of 42 of it, to the cent, are 43.80, 2.74 and 6.07.
    for name in ("joint-prices", "joint-close"):
        page = text_of(browser.get(at(name, 1)))
        assert "Together $52.61, alone $736.53: members save $683.92." in page
        assert "$683.92 is the cooperative’s own, for 39 pieces more than members want." in page
    [order] = coop.close(joint)
    coop.receive(order, (42, 42), short=True)
    page = text_of(browser.get(at("joint-split", 1)))
    assert "$0.00 among 1 member" in page and "0 of 3 ×" in page


def test_a_need_is_changed_taken_out_and_no_more_once_it_is_closed(browser, coop):
    joint = coop.example()
    need = joint.needs.get(member=coop.members[1])
    assert "Farm 2 needs 37" in text_of(browser.get(at("joint-need", 1, need.pk)))
    browser.post(at("joint-need", 1, need.pk), {"quantity": "40"})
    need.refresh_from_db()
    assert need.quantity == 40
    browser.post(at("joint-need-remove", 1, need.pk))
    assert not joint.needs.filter(member=coop.members[1]).exists()
    coop.close(joint)
    other = joint.needs.first()
    answer = browser.post(at("joint-need", 1, other.pk), {"quantity": "1"}, follow=True)
    assert "is closed, so it stays as it is" in text_of(answer)


def test_it_is_called_off_or_opened_again(browser, coop):
    joint = coop.example()
    coop.close(joint, send=False)
    assert browser.post(at("joint-reopen", 1), {"reason": "one member is missing"}).status_code == 302
    joint.refresh_from_db()
    assert joint.closed_at is None
    assert browser.post(at("joint-call-off", 1), {"reason": "bought elsewhere"}).status_code == 302
    assert "Called off: bought elsewhere." in text_of(browser.get(joint.get_absolute_url()))


def test_members_are_listed_in_the_order_that_is_said(browser, coop):
    joint = coop.example()
    places = {f"place-{member.pk}": 8 - n for n, member in enumerate(coop.members, 1)}
    twice = text_of(browser.post(at("joint-members", 1), places | {f"place-{coop.members[0].pk}": 6}))
    assert "has this place already." in twice
    assert browser.post(at("joint-members", 1), places).status_code == 302
    assert [row.member for row in joint.members.all()] == coop.members[::-1]


def test_what_members_plans_buy_is_put_in_as_it_was_shown(browser, coop, monkeypatch):
    joint = coop.joint()
    assert "No member’s farm has an accepted plan" in text_of(browser.get(at("joint-collect", 1)))
    rows = (PlanNeed(coop.rail, RAIL[1], 29, "rail, 10'", 0),)
    for room in (collecting, own):
        monkeypatch.setattr(
            room,
            "plan_needs_of",
            lambda *, member, joint: (
                PlanNeeds(4, rows, (), "s1") if member == coop.members[2] else PlanNeeds(None, (), (), "")
            ),
        )
    shown = browser.get(at("joint-collect", 1))
    name = f"plan-{coop.members[2].pk}"
    assert "Farm 3, plan 4: rail, 10'" in text_of(shown).replace("&#x27;", "'").replace("\u00a0", " ")
    assert "Tick one member at least." in text_of(browser.post(at("joint-collect", 1), {"sent": "1"}))
    stale = browser.post(at("joint-collect", 1), {name: "on", f"seen-{name}": "other"})
    assert "changed while this page was open" in text_of(stale)
    assert not joint.needs.exists()
    assert browser.post(at("joint-collect", 1), {name: "on", f"seen-{name}": "s1"}).status_code == 302
    need = joint.needs.get()
    assert (need.member, need.quantity, need.plan) == (coop.members[2], 29, 4)
    assert "from plan 4" in text_of(browser.get(joint.get_absolute_url()))


def test_what_comes_next_is_the_closing_day_and_then_to_close_it(coop):
    joint = coop.joint()
    assert next_steps_of(organisation=coop.organisation) == []
    coop.put_in(joint, 0, rails=5)
    (step,) = next_steps_of(organisation=coop.organisation)
    assert (step.day, step.url) == (joint.closes_on, joint.get_absolute_url())
    assert step.says.startswith("Joint order 1 closes on ")
    JointOrder.objects.update(closes_on=coop.today - timedelta(days=1))
    (late,) = next_steps_of(organisation=coop.organisation)
    assert (late.label, late.url) == ("Close joint order 1", at("joint-close", 1))
