"""A cooperative with seven members, a supplier of rail and pipe, and the joint order of the worked example."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

from farmbuild.buying.invoices.services import LineBilled, Paper, record_invoice
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.services import Arrival, close_short, receive_goods, send_order
from farmbuild.catalogue.models import Offer, PriceBreak
from farmbuild.coop.joint import services
from farmbuild.coop.joint.handing import handing_of
from farmbuild.coop.models import JointOrder
from farmbuild.orgs.clock import today_of
from tests.coop.joint.worked import MEMBERS, PIPE, RAIL
from tests.factories import (
    MaterialFactory,
    MemberFactory,
    MembershipFactory,
    OrganisationFactory,
    SiteFactory,
    SupplierFactory,
)

D = Decimal


class Cooperative:
    """``members``: so many, in order. Rail is 14.60, from 50 on 13.40 and from 200 on 12.75; pipe 36.40, from 24 on
    34.00; delivery 85; tax 6.25 %."""

    def __init__(self, members: int = len(MEMBERS), **organisation: object) -> None:
        given = {"tax_percent": D("6.25"), "tax_name": "Sales tax"} | organisation
        self.organisation = OrganisationFactory(**given)
        self.user = MembershipFactory(organisation=self.organisation).user
        self.site = SiteFactory(organisation=self.organisation)
        self.members = [MemberFactory(organisation=self.organisation, name=f"Farm {n}") for n in range(1, members + 1)]
        self.supplier = SupplierFactory(organisation=self.organisation, delivery_charge=D(85))
        self.rail = self.thing("rail", RAIL[1], {1: "14.60", 50: "13.40", 200: "12.75"})
        self.pipe = self.thing("pipe", PIPE[1], {1: "36.40", 24: "34.00"}, swaged=False)

    @property
    def who(self) -> dict[str, object]:
        return {"organisation": self.organisation, "user": self.user}

    @property
    def today(self) -> date:
        return today_of(organisation=self.organisation)

    def thing(self, code: str, length: Decimal | None, prices: dict[int, str], **more: object):
        material = MaterialFactory(organisation=self.organisation, code=code, **more)
        self.offer(material, length, prices)
        return material

    def offer(self, material, length: Decimal | None, prices: dict[int, str], supplier=None, pack: int = 1) -> Offer:
        offer = Offer.objects.create(
            organisation=self.organisation,
            supplier=supplier or self.supplier,
            material=material,
            length=length,
            pack=pack,
            lead_days=3,
        )
        PriceBreak.objects.bulk_create(
            PriceBreak(offer=offer, from_quantity=count, unit_price=D(price)) for count, price in prices.items()
        )
        return offer

    def joint(self, **more: object) -> JointOrder:
        given = {
            "title": "Spring rails",
            "closes_on": self.today + timedelta(days=5),
            "need_by": self.today + timedelta(days=30),
            "delivery_site": self.site,
        }
        return services.create_joint(**self.who, **given | more)

    def put_in(self, joint: JointOrder, member: int, rails: int = 0, pipes: int = 0) -> None:
        for material, length, count in ((self.rail, RAIL[1], rails), (self.pipe, PIPE[1], pipes)):
            if count:
                services.put_in(
                    **self.who,
                    joint=joint,
                    member=self.members[member],
                    material=material,
                    length=length,
                    quantity=count,
                )

    def example(self, **more: object) -> JointOrder:
        """Open, with all that the members of the example want."""
        joint = self.joint(**more)
        for n, one in enumerate(MEMBERS):
            self.put_in(joint, n, one.ordered, one.pipes)
        return joint

    def close(self, joint: JointOrder, *, send: bool = True) -> list[PurchaseOrder]:
        orders = services.close_joint(**self.who, joint=joint)
        joint.refresh_from_db()
        if send:
            for order in orders:
                send_order(**self.who, order=order, sent_on=self.today, how="by e-mail")
        return orders

    def receive(
        self, order: PurchaseOrder, *came: int | tuple[int, int], credited: bool = True, short: bool = False
    ) -> None:
        """Pieces by line, or with those of them that are damaged; ``short``: the rest is not waited for."""
        arrivals = []
        for line, one in zip(order.lines.all(), came, strict=False):
            arrived, damaged = one if isinstance(one, tuple) else (one, 0)
            arrivals.append(Arrival(line.pk, arrived, damaged, "ends crushed" if damaged else ""))
        receive_goods(
            **self.who,
            order=order,
            arrivals=arrivals,
            received_on=self.today,
            token=str(uuid4()),
            place="Barn rack",
            damage_credited=credited,
        )
        if short:
            close_short(**self.who, order=order, reason="credited")

    def bill(
        self, order: PurchaseOrder, quantities: Sequence[int], number: str = "R-1", prices: Sequence[str] = (), **paper
    ):
        lines = [
            LineBilled(line.pk, count, D(price) if price else None)
            for line, count, price in zip(
                order.lines.all(), quantities, [*prices, *[""] * len(quantities)], strict=False
            )
            if count
        ]
        given = {"number": number, "invoiced_on": self.today}
        return record_invoice(
            **self.who, order=order, paper=Paper(**given | paper), lines=lines, token=str(uuid4())
        ).invoice

    def charge(self, joint: JointOrder):
        return services.charge_members(**self.who, joint=joint, day=self.today)

    def hand_out(self, joint: JointOrder, member: int, press: str = "", **pieces: int):
        """``rail`` and ``pipe``: so many; without any all that is left for the member."""
        rows = [row for row in handing_of(joint) if row.need.member == self.members[member]]
        wanted = {row.need.pk: pieces.get(row.need.material.code, 0) if pieces else row.left for row in rows}
        return services.hand_out(
            **self.who,
            joint=joint,
            member=self.members[member],
            pieces=wanted,
            day=self.today,
            press=press or str(uuid4()),
            signed="R. Ramos",
        )
