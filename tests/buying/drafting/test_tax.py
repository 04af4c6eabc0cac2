"""Tax in the prices of suppliers or on top of them, and materials with a tax of their own, against sums by hand."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.buying import sending
from farmbuild.buying.bridge import order_sheet
from farmbuild.buying.drafting import services
from farmbuild.buying.files import fresh_file
from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.buying.progress import confirmed_totals, taxes_of
from farmbuild.measure import line_tax, places, tax_within
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.services import create_plan, work_out_plan
from tests.buying.drafting.sheets import order_rows
from tests.factories import OrganisationFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def terms(yard, **fields) -> None:
    organisation = yard.who["organisation"]
    for name, value in fields.items():
        setattr(organisation, name, value)
    organisation.save()


def own_tax(offer, percent: str) -> None:
    offer.material.tax_percent = Decimal(percent)
    offer.material.save()


def sums(order):
    order.refresh_from_db()
    return [str(amount) for amount in (order.goods, order.delivery, order.tax, order.total)]


def test_tax_that_prices_include_is_no_part_of_the_sum(yard):
    terms(yard, prices_include_tax=True)
    order = yard.order()
    yard.line(order, 30)
    yard.line(order, 333, offer=yard.screws)
    # 30 at 13.335 is 400.05, of which 400.05 x 6.25 / 106.25 = 23.5323…; 333 at 0.0725 is 24.14, of which 1.42.
    lines = order.lines.values_list("line_total", "tax", "tax_percent")
    assert list(lines) == [
        (Decimal("400.05"), Decimal("23.53"), Decimal("6.25")),
        (Decimal("24.14"), Decimal("1.42"), Decimal("6.25")),
    ]
    assert sums(order) == ["424.190", "85.000", "24.950", "509.190"]
    assert str(order.before_tax) == "484.240"


@pytest.mark.parametrize(
    ("included", "taxes", "total"),
    [
        # 400.05 at 6.25 % and 24.14 at 19 %: 25.003125 and 4.5866.
        (False, ["25.000", "4.590"], "538.780"),
        # Within: 23.5323… and 24.14 x 19 / 119 = 3.8542…
        (True, ["23.530", "3.850"], "509.190"),
    ],
)
def test_a_material_may_have_its_own_tax(signed_in, yard, included, taxes, total):
    terms(yard, prices_include_tax=included)
    own_tax(yard.screws, "19")
    order = yard.order()
    yard.line(order, 30)
    yard.line(order, 333, offer=yard.screws)
    lines = list(order.lines.all())
    assert [str(line.tax) for line in lines] == taxes
    assert sums(order)[3] == total
    # Across the sums and down the lines.
    added = Decimal(0) if included else order.tax
    assert order.total == order.goods + order.delivery + added
    assert order.total == sum(line.line_total + (0 if included else line.tax) for line in lines) + order.delivery
    parts = taxes_of(order=order)
    assert [(str(part.percent), part.tax) for part in parts] == [("19", Decimal(taxes[1])), ("6.25", Decimal(taxes[0]))]
    page = text_of(signed_in.get(f"/orders/{order.number}/"))
    assert "19 % of $24.14" in page and "6.25 % of $400.05" in page
    assert ("Tax, included" in page) is included and ("<dt>Before tax</dt>" in page) is included
    rows = order_rows(fresh_file(order=order))
    head = "Tax in it, USD" if included else "Tax, USD"
    share = "M{0}/(100+M{0})" if included else "M{0}/100"
    assert [row[head] for row in rows] == [f"=ROUND(K{at}*{share.format(at)},2)" for at in (9, 10)]
    assert [row["Tax, %"] for row in rows] == [6.25, 19]


def test_a_material_may_be_free_of_tax(yard):
    own_tax(yard.screws, "0")
    order = yard.order()
    assert yard.line(order, 100, offer=yard.screws).tax == 0
    assert order.lines.get().tax_percent == 0


@pytest.mark.parametrize(
    ("currency", "included", "expected"),
    [
        # 30 at 13.335 is 400.05: 400 yen, with 10 %: 40, or within 36.36…; delivery 85.
        ("JPY", False, ["400.000", "85.000", "40.000", "525.000"]),
        ("JPY", True, ["400.000", "85.000", "36.000", "485.000"]),
        # In dinars 400.050: 40.005, or within 36.3681…
        ("KWD", False, ["400.050", "85.000", "40.005", "525.055"]),
        ("KWD", True, ["400.050", "85.000", "36.368", "485.050"]),
    ],
)
def test_tax_is_rounded_to_the_coins_of_the_currency(yard, currency, included, expected):
    terms(yard, currency=currency, prices_include_tax=included, tax_percent=Decimal(10))
    order = yard.order()
    yard.line(order, 30)
    assert sums(order) == expected


def test_what_was_ordered_keeps_its_sums_and_a_draft_takes_the_new_terms_when_it_is_edited(yard):
    sent, draft = yard.order(), yard.order()
    yard.line(sent, 30)
    line = yard.line(draft, 30)
    sending.send_order(**yard.who, order=sent, sent_on=yard.day, how="")
    before = sums(sent)
    terms(yard, prices_include_tax=True, tax_percent=Decimal(20))
    own_tax(yard.rail, "10")
    assert sums(sent) == sums(draft) == before == ["400.050", "85.000", "25.000", "510.050"]
    assert not sent.tax_included and order_sheet(sent).buyer.tax_percent == Decimal("6.25")
    services.change_line(**yard.who, order=draft, line=line, quantity=40, need_by=yard.day)
    # 40 at 13.335 is 533.40, of which 533.40 / 11 = 48.4909…
    assert sums(draft) == ["533.400", "85.000", "48.490", "618.400"]
    assert "Prices now include the tax, as set for all orders." in draft.changes.last().what
    assert (draft.tax_included, draft.tax_percent, draft.lines.get().tax_percent) == (True, 20, 10)


@pytest.mark.parametrize(("included", "goods", "tax"), [(False, "300.00", "57.00"), (True, "300.00", "47.90")])
def test_what_the_supplier_confirmed_is_taxed_as_the_order_is(yard, included, goods, tax):
    """30 pieces at 10.00 and 19 %: 57.00 on top, or 300 x 19 / 119 = 47.899… within."""
    terms(yard, prices_include_tax=included)
    own_tax(yard.rail, "19")
    order = yard.order()
    line = yard.line(order, 30)
    sending.send_order(**yard.who, order=order, sent_on=yard.day, how="")
    PurchaseOrderLine.objects.filter(pk=line.pk).update(confirmed_price=Decimal(10))
    order.refresh_from_db()
    found = confirmed_totals(order=order)
    assert (found.goods, found.tax) == (Decimal(goods), Decimal(tax))
    assert found.total == found.goods + order.delivery + (0 if included else found.tax)


def test_lines_from_before_are_taxed_by_their_order(yard):
    """They hold no percent of their own."""
    order = yard.order()
    line = yard.line(order, 30)
    PurchaseOrderLine.objects.filter(pk=line.pk).update(tax_percent=None, confirmed_price=Decimal(10))
    order.refresh_from_db()
    assert confirmed_totals(order=order).tax == Decimal("18.75")
    assert taxes_of(order=order) == []
    assert order_rows(fresh_file(order=order))[0]["Tax, USD"] == "=ROUND(K9*$C$7/100,2)"


@pytest.mark.parametrize("included", [False, True])
def test_orders_of_a_plan_add_up_both_ways(season, user, included):
    organisation = season.organisation
    organisation.tax_percent, organisation.prices_include_tax = Decimal(19), included
    organisation.save()
    plan = create_plan(**season.ask(user)).plan
    work_out_plan(plan.pk)
    plan.refresh_from_db()
    # What is set later changes nothing of it.
    organisation.prices_include_tax = not included
    organisation.save()
    accept_plan(organisation=organisation, user=user, plan=plan)
    for order in plan.orders.all():
        lines = list(order.lines.all())
        assert order.tax_included is included and {line.tax_percent for line in lines} == {19}
        part = tax_within if included else line_tax
        assert [line.tax for line in lines] == [part(line.line_total, Decimal(19), "USD") for line in lines]
        assert order.tax == sum(line.tax for line in lines) > 0
        assert order.total == order.goods + order.delivery + (0 if included else order.tax)
        sheet = order_sheet(order)
        assert sheet.order.tax_included is included and sheet.order.total == order.total
        assert fresh_file(order=order).data


@given(
    coins=st.integers(0, 10**9),
    percent=st.decimals(0, 100, places=3),
    currency=st.sampled_from(["USD", "JPY", "KWD"]),
)
def test_the_tax_within_is_half_a_coin_from_exact_and_leaves_the_untaxed_price(coins, percent, currency):
    coin = Decimal(1).scaleb(-places(currency))
    total = coins * coin
    tax = tax_within(total, percent, currency)
    net = total - tax
    assert tax == tax.quantize(coin) and 0 <= tax <= total
    # Net with its tax on top is the total again, to the coin that rounding may cost.
    assert abs(net + (net * percent / 100).quantize(coin, ROUND_HALF_UP) - total) <= coin


def test_the_form_takes_it_and_a_new_organisation_adds_tax(signed_in, organisation):
    assert not OrganisationFactory().prices_include_tax
    page = signed_in.get("/organisation/")
    values = {name: field.initial for name, field in page.context["form"].fields.items()}
    sent = {name: page.context["form"][name].value() for name in values if name != "opened"}
    sent = {name: "" if value is None else value for name, value in sent.items()} | {"prices_include_tax": "on"}
    assert signed_in.post("/organisation/", sent).status_code == 302
    organisation.refresh_from_db()
    assert organisation.prices_include_tax


@pytest.mark.parametrize(
    ("typed", "kept"), [("7", Decimal(7)), ("", None), ("0", Decimal(0)), ("2.125", Decimal("2.125"))]
)
def test_the_form_of_a_material_takes_its_own_tax(signed_in, yard, typed, kept):
    material = yard.rail.material
    page = signed_in.get(f"/materials/{material.code}/edit/")
    form = page.context["form"]
    sent = {name: form[name].value() for name in form.fields if name != "opened"}
    sent = {name: "" if value in (None, False) else value for name, value in sent.items()} | {"tax_percent": typed}
    sent |= {"width": "35 mm", "thickness": "2 mm", "opened": form["opened"].value()}
    assert signed_in.post(f"/materials/{material.code}/edit/", sent).status_code == 302
    material.refresh_from_db()
    assert material.tax_percent == kept
    wrong = signed_in.post(f"/materials/{material.code}/edit/", sent | {"tax_percent": "101"})
    assert list(wrong.context["form"].errors) == ["tax_percent"]
