"""Joint orders typed on pages in other units, decimal signs and currencies, from needs to statements, to the coin."""

from __future__ import annotations

import io
import re
import subprocess
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db.models import Sum
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.buying.models import PurchaseOrder
from farmbuild.catalogue.models import Supplier
from farmbuild.coop.law import faults_of as faults_of_members
from farmbuild.coop.models import MemberEntry
from farmbuild.costs.law import faults_of
from farmbuild.measure import format_money, places
from farmbuild.orgs.clock import zone_in_force
from tests.coop.joint.making import Cooperative
from tests.coop.joint.outside import Line, Told, rows_of
from tests.factories import BenderBookingFactory, BenderFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db
D, F = Decimal, Fraction


@dataclass(frozen=True)
class Case:
    """``settings`` of the organisation; prices, lengths and amounts as they are typed there."""

    settings: dict[str, object]
    told: Told
    #: Millimetres of rail and pipe as the catalogue has them, and as they are typed.
    lengths: tuple[tuple[int, str], tuple[int, str]]
    prices: tuple[dict[int, str], dict[int, str]]
    charge: str
    bill: dict[str, str]
    rate: str
    days: int
    paid: str


METRIC = ((3050, "3,05 m"), (6100, "610 cm"))
CASES = {
    # More damaged than there are members with two; one gets none, one wanted no pipe. The bill taxes the delivery too.
    "euros": Case(
        {"currency": "EUR", "decimal_sign": ",", "unit_system": "metric", "tax_percent": D(19)},
        Told(
            [
                Line([9, 1, 14, 3, 28], {1: F(1335), 50: F(1210)}, damaged=7),
                Line([4, 0, 0, 5, 2], {1: F(3425), 10: F(31905, 10)}),
            ],
            rule="listed",
            credited=True,
            delivery=9275,
            charge=8550,
            tax=F(19),
            # 48 rails are 580.80, 11 pipes 350.96 (350.955), 19 % of both 110.35 and 66.68, and 17.62 of the delivery.
            bill_tax=19465,
        ),
        METRIC,
        ({1: "13.35", 50: "12.10"}, {1: "34.25", 10: "31.905"}),
        "85.50",
        {"delivery": "92,75", "tax": "194,65", "total": "1.219,16"},
        "7,255",
        3,
        "100,5",
    ),
    # Whole yen, with the tax in the prices; what came damaged is paid all the same, by the pieces that each wants.
    "yen": Case(
        {"currency": "JPY", "unit_system": "metric", "tax_percent": D(10), "prices_include_tax": True},
        Told(
            [
                Line([9, 1, 14, 3, 28], {1: F(1333), 50: F(1211)}, damaged=4),
                Line([4, 0, 0, 5, 2], {1: F(3425), 10: F(3191)}),
            ],
            rule="shared",
            credited=False,
            delivery=5003,
            charge=5000,
        ),
        ((3050, "3.05 m"), (6100, "6100 mm")),
        ({1: "1333", 50: "1211"}, {1: "3425", 10: "3191"}),
        "5000",
        {"delivery": "5003", "tax": "9246", "total": "106709", "tax_included": "on"},
        "725",
        3,
        "20000",
    ),
    # Three decimals, tax that comes back, and a cooperative that bears what is damaged.
    "dinars": Case(
        {
            "currency": "KWD",
            "decimal_sign": ",",
            "unit_system": "metric",
            "tax_percent": D("7.5"),
            "recovers_tax": True,
        },
        Told(
            [
                Line([9, 1, 14, 3, 28], {1: F(4335), 50: F(41255, 10)}, damaged=5),
                Line([4, 0, 0, 5, 2], {1: F(11425), 10: F(10905)}),
            ],
            rule="coop",
            credited=False,
            delivery=26125,
            charge=26125,
        ),
        METRIC,
        ({1: "4.335", 50: "4.1255"}, {1: "11.425", 10: "10.905"}),
        "26.125",
        # 226.903 (226.9025) and 119.955, 26.014 of tax and the delivery.
        {"delivery": "26,125", "tax": "26,014", "total": "398,997", "recovered": "on"},
        "2,1255",
        3,
        "40,125",
    ),
}


class Pages:
    """The pages of a cooperative as its manager types on them."""

    def __init__(self, client, case: Case) -> None:
        self.case, self.client = case, client
        self.coop = Cooperative(members=len(case.told.lines[0].wanted), **case.settings)
        Supplier.objects.update(delivery_charge=D(case.charge))
        (rail, rail_typed), (pipe, pipe_typed) = case.lengths
        self.things = [
            (self.coop.thing("rail-metric", D(rail), case.prices[0]), rail_typed),
            (self.coop.thing("pipe-metric", D(pipe), case.prices[1], swaged=False), pipe_typed),
        ]
        client.force_login(self.coop.user)

    @property
    def today(self) -> str:
        return str(self.coop.today)

    def see(self, name: str, *args: object, query: str = ""):
        answer = self.client.get(reverse(name, args=args) + query)
        assert answer.status_code == 200, (name, answer.status_code)
        return answer

    def send(self, name: str, *args: object, hidden: tuple[str, ...] = (), **data: object):
        """With what the form of the page brings along; sent on, or what was wrong is told."""
        if hidden:
            html = self.see(name, *args).content.decode()
            data |= {key: re.search(rf'name="{key}" value="([^"]*)"', html)[1] for key in hidden}
        answer = self.client.post(reverse(name, args=args), data)
        problems = re.findall(r'class="(?:error|problem)[^"]*"[^>]*>([^<]*)', answer.content.decode())
        assert answer.status_code == 302, (name, problems)
        return answer

    def from_needs_to_the_bill(self) -> None:
        coop, case = self.coop, self.case
        closes, need_by = coop.today + timedelta(days=5), coop.today + timedelta(days=30)
        self.send(
            "coop:joint-new",
            title="Spring",
            closes_on=closes,
            need_by=need_by,
            delivery_site=coop.site.pk,
            damage_rule=case.told.rule,
        )
        for (material, length), line in zip(self.things, case.told.lines, strict=True):
            pieces = {
                f"pieces-{member.pk}": count or "" for member, count in zip(coop.members, line.wanted, strict=True)
            }
            self.send("coop:joint-put-in", 1, material=material.pk, length=length, **pieces)
        self.send("coop:joint-close", 1, hidden=("seen",))
        order = PurchaseOrder.objects.get()
        self.send("buying:send", order.number, sent_on=self.today, how="by e-mail")
        came, billed = {}, {}
        for line in order.lines.all():
            told = case.told.lines[[thing.pk for thing, _ in self.things].index(line.material_id)]
            assert line.quantity == sum(told.wanted), "no more is bought than they want"
            came[f"arrived-{line.position}"] = line.quantity
            if told.damaged:
                came |= {f"damaged-{line.position}": told.damaged, f"damage_reason-{line.position}": "bent"}
            billed[f"quantity-{line.position}"] = line.quantity - (told.damaged if case.told.credited else 0)
        paid = {} if case.told.credited else {"damaged_paid": "on"}
        self.send(
            "buying:receive",
            order.number,
            hidden=("token", "seen"),
            received_on=self.today,
            place="Rack",
            **came,
            **paid,
        )
        self.send("buying:close", order.number, reason="none will come for the damaged ones")
        self.send(
            "buying:invoice-new",
            order.number,
            hidden=("token",),
            number="R-1",
            invoiced_on=self.today,
            **billed,
            **case.bill,
        )


def pdf_text(body: bytes) -> str:
    out = subprocess.run(["pdftotext", "-layout", "-", "-"], input=body, capture_output=True, check=True)
    return plain(out.stdout.decode())


def plain(text: str) -> str:
    """With one kind of space, however numbers and lengths are kept together."""
    return re.sub(r"\s+", " ", re.sub("[\u00a0\u202f\u2009]", " ", text))


@pytest.mark.parametrize("name", CASES)
def test_a_joint_order_comes_to_the_coin_on_every_page_and_paper(client, name):
    case = CASES[name]
    pages = Pages(client, case)
    coop, currency = pages.coop, pages.coop.organisation.currency
    scale = 10 ** places(currency)
    expected, own = rows_of(case.told)
    pages.from_needs_to_the_bill()
    assert bool(own) == (case.told.rule == "coop" and not case.told.credited)

    def said(coins: int) -> str:
        with zone_in_force(coop.organisation):
            return plain(format_money(D(coins) / scale, currency))

    split = plain(text_of(pages.see("coop:joint-split", 1)))
    whole = sum(row.owes for row in expected) + own
    assert f"{said(whole)} among {len(expected)} members" in split
    sheet = load_workbook(io.BytesIO(pages.see("coop:joint-split-workbook", 1).content)).active
    rows = {row[0].value: row for row in sheet.iter_rows()}
    paper = pdf_text(pages.see("coop:joint-split-pdf", 1).content)
    for member, row in zip(coop.members, expected, strict=True):
        share = plain(text_of(pages.see("coop:joint-share", 1, member.slug)))
        for amount in (row.goods, row.delivery, row.tax, row.owes, row.alone):
            assert said(amount) in share, (member, row)
        numbers = [cell.value for cell in rows[member.name] if isinstance(cell.value, (int, float))]
        assert numbers[-5:] == [amount / scale for amount in (row.goods, row.delivery, row.tax, row.owes, row.alone)]
        assert said(row.owes) in paper
    pages.send("coop:joint-split", 1, hidden=("seen",), day=pages.today)
    owes = dict(MemberEntry.objects.values_list("member", "amount"))
    assert owes == {
        member.pk: D(row.owes) / scale for member, row in zip(coop.members, expected, strict=True) if row.owes
    }

    # The same member brought a bender back, and pays a part.
    first = coop.members[0]
    day = coop.today - timedelta(days=case.days)
    zone = coop.today.strftime("%Y-%m-%dT12:00+00:00")
    BenderBookingFactory(
        bender=BenderFactory(organisation=coop.organisation),
        member=first,
        first=day,
        last=coop.today,
        state="back",
        out_at=day.strftime("%Y-%m-%dT12:00+00:00"),
        out_condition="sound",
        back_at=zone,
        back_condition="sound",
    )
    pages.send("coop:charge-rate-new", kind="day", each=case.rate, since=day)
    pages.send("coop:charges-post", seen=_seen(pages))
    pages.send("coop:payment-new", first.slug, paid_out="0", day=pages.today, amount=case.paid, how="cash")
    rate, paid = (F(typed.replace(",", ".")) for typed in (case.rate, case.paid))
    days = int((case.days + 1) * rate * scale + F(1, 2))
    left = expected[0].owes + days - int(paid * scale)

    pages.send("coop:statement-send", first.slug, last=pages.today)
    shown = plain(text_of(pages.see("coop:statement", 1)))
    paper = pdf_text(pages.see("coop:statement-pdf", 1).content)
    assert sum(MemberEntry.objects.filter(member=first).values_list("amount", flat=True)) == D(left) / scale
    for amount in (expected[0].owes, days, -int(paid * scale), left):
        assert said(amount) in paper, (amount, paper)
    assert f"To pay, {said(left)}" in shown
    book = load_workbook(io.BytesIO(pages.see("coop:statement-workbook", 1).content)).active
    numbers = [cell.value for row in book.iter_rows() for cell in row if isinstance(cell.value, (int, float))]
    assert {expected[0].owes / scale, days / scale, float(-paid)} <= set(numbers)
    whole_books = MemberEntry.objects.aggregate(sum=Sum("amount"))["sum"]
    assert round(whole_books, 3) == D(whole - own + days - int(paid * scale)) / scale
    assert [*faults_of(organisation=coop.organisation), *faults_of_members(organisation=coop.organisation)] == []


def _seen(pages: Pages) -> str:
    return pages.see("coop:charges").context["proposed"].seen
