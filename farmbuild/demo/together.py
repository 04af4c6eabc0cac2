"""What invented members do together: joint orders, benders that are charged for, accounts, pieces of their own that lie
in the common yard or are lent, and stock that is open to them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from io import BytesIO
from typing import Any

from PIL import Image, ImageDraw, ImageFont

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.sending import send_order
from farmbuild.buying.services import Arrival, close_short, receive_goods
from farmbuild.catalogue.selectors import materials_of
from farmbuild.coop.charges.proposals import proposed_charges
from farmbuild.coop.charges.rates import set_charge_rate, set_free_days
from farmbuild.coop.charges.services import charge_damage, dispute_damage, post_charges
from farmbuild.coop.common.services import give_wish, open_lot, wish_for
from farmbuild.coop.joint import services as joint_orders
from farmbuild.coop.joint.handing import handing_of
from farmbuild.coop.joint.selectors import orders_of
from farmbuild.coop.models import CommonOffer, JointOrder, PipeLoan
from farmbuild.coop.pipe.services import NewPipe, NewReturn, record_pipe, record_return
from farmbuild.coop.statement.payments import record_payment
from farmbuild.coop.statement.services import send_statement
from farmbuild.crew.bookings.services import book, check_in, check_out
from farmbuild.crew.bookings.signins import sign_ins_of
from farmbuild.crew.models import BenderBooking, Member
from farmbuild.crew.problems.pictures import read_picture
from farmbuild.demo.bridge import read_length
from farmbuild.demo.diary import Diary
from farmbuild.demo.orders import bill_order
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House, Site
from farmbuild.stock.models import Lot
from farmbuild.stock.owners.services import record_leave
from farmbuild.stock.services import place_named, receive_lot

_PAPER, _INK, _RUST = "#f3efe4", "#2b3439", "#9a4a12"


def enter_together(diary: Diary, *, organisation: Organisation, user: User, rows: Mapping[str, Any]) -> None:
    """Write all of it into the diary."""
    members = {member.name: member for member in Member.objects.of(organisation)}
    coop = Together(diary, organisation, user, members)
    diary.at(coop.moment(rows["prices"]["since"], 8), lambda: coop.set_prices(rows["prices"]))
    coop.lend(rows["lent"])
    for row in rows["joint_orders"]:
        coop.order(row)
    coop.keep_accounts(rows)
    diary.on(rows["own_lot"]["on"], 16, lambda day: coop.bring_own(rows["own_lot"], day))
    diary.on(rows["loan"]["on"], 13, lambda day: coop.lend_pipe(rows["loan"], day))
    diary.on(rows["loan"]["some_back"], 13, lambda day: coop.bring_pipe_back(rows["loan"], day))
    diary.on(rows["common"]["opened"], 17, lambda day: coop.open_stock(rows["common"]))
    for wish in rows["common"]["wishes"]:
        diary.on(wish["on"], 18, lambda day, wish=wish: coop.wish(wish))


@dataclass
class Together:
    diary: Diary
    organisation: Organisation
    user: User
    members: Mapping[str, Member]

    @property
    def who(self) -> dict[str, Any]:
        return {"organisation": self.organisation, "user": self.user}

    def day(self, days: int) -> date:
        return self.diary.today + timedelta(days=days)

    def moment(self, days: int, hour: int) -> datetime:
        return datetime.combine(self.day(days), time(hour), self.diary.zone)

    def set_prices(self, row: Mapping[str, Any]) -> None:
        since = self.day(row["since"])
        for kind, each in row["each"].items():
            set_charge_rate(**self.who, kind=kind, since=since, each=Decimal(each))
        set_free_days(**self.who, since=since, days=row["free_days"])

    def lend(self, row: Mapping[str, Any]) -> None:
        """A bender goes out, comes back late and damaged, and is charged for; the member says that it was so before."""
        for days, hour, happened in (
            (row["first"], 9, self._goes_out),
            (row["back"], 17, self._comes_back),
            (row["charged"], 10, self._charge_for_benders),
            (row["charged"], 19, self._dispute),
        ):
            self.diary.at(self.moment(days, hour), lambda happened=happened: happened(row))

    def _goes_out(self, row: Mapping[str, Any]) -> None:
        bender = benders_of(organisation=self.organisation).get(slug=row["bender"])
        days = {"first": self.day(row["first"]), "last": self.day(row["last"])}
        booking = book(**self.who, bender=bender, member=self.members[row["member"]], **days)
        check_out(**self.who, booking=booking, condition=row["left"])

    def _booking(self, row: Mapping[str, Any]) -> BenderBooking:
        rows = BenderBooking.objects.of(self.organisation).select_related("bender", "member")
        return rows.get(bender__slug=row["bender"], first=self.day(row["first"]))

    def _comes_back(self, row: Mapping[str, Any]) -> None:
        booking, damage = self._booking(row), row["damage"]
        photos = [read_picture(_drawing(row["on_the_drawing"]))]
        check_in(**self.who, booking=booking, condition=row["came_back"], pulls=row["pulls"], photos=photos)
        charge_damage(**self.who, booking=booking, what=damage["what"], amount=Decimal(damage["amount"]))

    def _charge_for_benders(self, row: Mapping[str, Any]) -> None:
        seen = [one.token for one in proposed_charges(organisation=self.organisation)]
        post_charges(**self.who, seen=seen)

    def _dispute(self, row: Mapping[str, Any]) -> None:
        member = self.members[row["member"]]
        visitor = sign_ins_of(organisation=self.organisation).filter(member=member)[0].user
        damage = self._booking(row).damages.get()
        dispute_damage(member=member, user=visitor, damage=damage, why=row["damage"]["disputed"])

    def order(self, row: Mapping[str, Any]) -> None:
        """A joint order is filled; one that is closed goes on to the last piece handed out and the last cent split."""
        self.diary.at(self.moment(row["made"], 9), lambda: self._fill(row))
        if "closed" not in row:
            return
        self.diary.at(self.moment(row["closed"], 10), lambda: self._close(row))
        for days, hour, happened in (
            (row["sent"], 9, self._send),
            (row["came"], 11, self._receive),
            (row["handed_out"], 15, self._hand_out),
            (row["billed"], 15, self._bill),
            (row["charged"], 16, self._charge),
        ):
            self.diary.on(days, hour, lambda day, happened=happened: happened(row, day))

    def _joint(self, row: Mapping[str, Any]) -> JointOrder:
        return JointOrder.objects.of(self.organisation).get(title=row["title"])

    def _fill(self, row: Mapping[str, Any]) -> None:
        joint = joint_orders.create_joint(
            **self.who,
            title=row["title"],
            closes_on=self.day(row["closes"]),
            need_by=self.day(row["need"]),
            delivery_site=Site.objects.of(self.organisation).get(name=row["site"]),
            note=row["note"],
        )
        materials = {material.code: material for material in materials_of(organisation=self.organisation)}
        for thing in row["wanted"]:
            for name, count in thing["pieces"].items():
                joint_orders.put_in(
                    **self.who,
                    joint=joint,
                    member=self.members[name],
                    material=materials[thing["material"]],
                    length=read_length(thing["length"]),
                    quantity=count,
                )

    def _close(self, row: Mapping[str, Any]) -> None:
        joint_orders.close_joint(**self.who, joint=self._joint(row))

    def _orders(self, row: Mapping[str, Any]) -> list[PurchaseOrder]:
        return list(orders_of(self._joint(row)))

    def _send(self, row: Mapping[str, Any], day: date) -> None:
        for order in self._orders(row):
            send_order(**self.who, order=order, sent_on=day, how=row["how"])

    def _receive(self, row: Mapping[str, Any], day: date) -> None:
        """Some come damaged, which the supplier credits; nobody waits for others."""
        for order in self._orders(row):
            damaged = {line.pk: row["damaged"].get(line.material.code, 0) for line in order.lines.all()}
            receive_goods(
                **self.who,
                order=order,
                arrivals=[
                    Arrival(line.pk, line.quantity, damaged[line.pk], row["damage"] if damaged[line.pk] else "")
                    for line in order.lines.all()
                ],
                received_on=day,
                place=row["place"],
                token=f"demo-{order.number}",
                damage_credited=True,
            )
            if any(damaged.values()):
                close_short(**self.who, order=order, reason="The supplier credits them")

    def _hand_out(self, row: Mapping[str, Any], day: date) -> None:
        joint = self._joint(row)
        rows = handing_of(joint)
        for member in {one.need.member_id: one.need.member for one in rows}.values():
            pieces = {one.need.pk: one.left for one in rows if one.need.member_id == member.pk}
            given = {"joint": joint, "member": member, "pieces": pieces, "day": day, "press": f"demo-{member.pk}"}
            joint_orders.hand_out(**self.who, **given, signed=member.contact.split(",")[0])

    def _bill(self, row: Mapping[str, Any], day: date) -> None:
        for number, order in enumerate(self._orders(row), 1):
            bill_order(self.who, order, {"number": f"{row['bill']}-{number} (invented)", "pieces": {}}, day)

    def _charge(self, row: Mapping[str, Any], day: date) -> None:
        joint_orders.charge_members(**self.who, joint=self._joint(row), day=day)

    def keep_accounts(self, rows: Mapping[str, Any]) -> None:
        def pay(row: Mapping[str, Any], day: date) -> None:
            record_payment(
                **self.who,
                member=self.members[row["member"]],
                day=day,
                amount=Decimal(row["amount"]),
                how=row["how"],
                note=row["note"],
            )

        def send(row: Mapping[str, Any], day: date) -> None:
            send_statement(**self.who, member=self.members[row["member"]], last=day - timedelta(days=1))

        for happened, name in ((pay, "payments"), (send, "statements")):
            for row in rows[name]:
                self.diary.on(row["on"], 12, lambda day, row=row, happened=happened: happened(row, day))

    def bring_own(self, row: Mapping[str, Any], day: date) -> None:
        """A member's own pieces lie in the common yard, some of them with leave for a house."""
        lot = receive_lot(
            **self.who,
            material=materials_of(organisation=self.organisation).get(code=row["material"]),
            length=read_length(row["length"]),
            quantity=row["quantity"],
            place=place_named(
                **self.who, name=row["place"], site=Site.objects.of(self.organisation).get(name=row["site"])
            ),
            received_on=day,
            owner=self.members[row["member"]],
            reference=row["reference"],
        )
        house = House.objects.of(self.organisation).get(name=row["leave"]["house"])
        record_leave(**self.who, lot=lot, quantity=row["leave"]["quantity"], told=row["leave"]["told"], house=house)

    def lend_pipe(self, row: Mapping[str, Any], day: date) -> None:
        new = NewPipe(
            kind=PipeLoan.Kind.LENT,
            lender=self.members[row["lender"]],
            borrower=self.members[row["borrower"]],
            material=materials_of(organisation=self.organisation).get(code=row["material"]),
            length=read_length(row["length"]),
            quantity=row["quantity"],
            day=day,
            back_until=self.day(row["until"]),
            note=row["told"],
        )
        record_pipe(**self.who, new=new)

    def bring_pipe_back(self, row: Mapping[str, Any], day: date) -> None:
        loan = PipeLoan.objects.of(self.organisation).get()
        record_return(**self.who, loan=loan, new=NewReturn(row["back"], day, note=row["told"]))

    def open_stock(self, row: Mapping[str, Any]) -> None:
        lot = Lot.objects.of(self.organisation).get(reference=row["lot"])
        open_lot(**self.who, lot=lot, quantity=row["quantity"], price=Decimal(row["price"]), note=row["note"])

    def wish(self, row: Mapping[str, Any]) -> None:
        """Of whoever signs in for a member; it is answered at once, or not yet."""
        visitor = sign_ins_of(organisation=self.organisation)[0]
        offer = CommonOffer.objects.of(self.organisation).get()
        wish = wish_for(member=visitor.member, user=visitor.user, offer=offer, quantity=row["quantity"])
        if row["given"]:
            give_wish(**self.who, wish=wish)


def _drawing(words: list[str]) -> bytes:
    """PNG: the rollers of a bender on a board, and one that stands askew."""
    image = Image.new("RGB", (800, 600), _PAPER)
    pen = ImageDraw.Draw(image)
    pen.rectangle([60, 420, 740, 470], outline=_INK, width=8)
    for x in (180, 400):
        pen.ellipse([x - 60, 300, x + 60, 420], outline=_INK, width=14)
    pen.polygon([(560, 300), (690, 330), (660, 440), (540, 420)], outline=_RUST, width=14)
    for line, text in enumerate(words):
        pen.text((60, 40 + 52 * line), text, fill=_INK, font=ImageFont.load_default(40))
    out = BytesIO()
    image.save(out, "PNG", compress_level=1)
    return out.getvalue()
