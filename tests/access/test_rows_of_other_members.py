"""What is one member's, asked for by all others who have pages of a member: not found or refused, and never named."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from farmbuild.coop.charges.services import charge_damage
from farmbuild.coop.common.services import open_lot
from farmbuild.coop.joint.services import put_in
from farmbuild.coop.models import CommonWish, PipeLoan
from farmbuild.coop.pipe.services import NewPipe, NewReturn, record_pipe, record_return
from farmbuild.coop.statement.services import send_statement
from farmbuild.crew.models import BookingPhoto
from farmbuild.hoops.batches.measured.models import MeasuredHoop
from farmbuild.orgs.acts import Role
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.visitors import PAGES
from farmbuild.stock.owners.services import record_leave
from farmbuild.stock.services import receive_lot
from tests.factories import (
    BenderBookingFactory,
    BenderFactory,
    BenderRequestFactory,
    JointOrderFactory,
    LotFactory,
    MaterialFactory,
    MemberFactory,
    MemberFarmFactory,
    MembershipFactory,
    MemberSignInFactory,
    OrganisationFactory,
    PlaceFactory,
)
from tests.upgrades.addresses import patterns

pytestmark = pytest.mark.django_db
#: Stands on no page but by the name of the member.
NAME = "Zanzibar Orchard"
WHOM = "ring Zebedee"


class Other:
    """A member with a row of each kind that has an address of its own."""

    def __init__(self, organisation, user):
        who = {"organisation": organisation, "user": user}
        today = today_of(organisation=organisation)
        self.organisation = organisation
        self.member = MemberFactory(organisation=organisation, name=NAME, slug="zanzibar", contact=WHOM)
        given = {"bender__organisation": organisation, "member": self.member}
        open_one = BenderBookingFactory(**given, first=today, last=today + timedelta(days=1))
        back = BenderBookingFactory(
            **given, first=today - timedelta(days=9), last=today - timedelta(days=8), state="back"
        )
        late = BenderBookingFactory(
            **given, first=today - timedelta(days=5), last=today - timedelta(days=4), state="out"
        )
        asked = BenderRequestFactory(member=self.member, note=WHOM)
        damage = charge_damage(**who, booking=back, what="roller bent", amount=Decimal(40))
        photo = BookingPhoto.objects.create(
            organisation=organisation,
            booking=back,
            position=1,
            data=b"x",
            thumbnail=b"x",
            sha256="0" * 64,
            width=1,
            height=1,
        )
        statement = send_statement(**who, member=self.member, last=today)
        joint = JointOrderFactory(organisation=organisation)
        material = MaterialFactory(organisation=organisation)
        put_in(**who, joint=joint, member=self.member, material=material, length=Decimal(6000), quantity=7)
        need = joint.needs.get()
        third = MemberFactory(organisation=organisation, name="Third Farm")
        lot = receive_lot(
            **who,
            material=material,
            length=Decimal(6000),
            quantity=10,
            place=PlaceFactory(organisation=organisation),
            received_on=today,
            owner=self.member,
        )
        leave = record_leave(**who, lot=lot, quantity=1, told="zanzibar")
        told = {"material": material, "length": Decimal(6000), "quantity": 7, "day": today, "note": "zanzibar"}
        loan = record_pipe(**who, new=NewPipe(PipeLoan.Kind.LENT, self.member, third, **told))
        back = record_return(**who, loan=loan, new=NewReturn(2, today, note="zanzibar"))
        hoop = MeasuredHoop.objects.create(
            organisation=organisation,
            bender=late.bender,
            day=today - timedelta(days=5),
            member=self.member,
            booking=late,
            tube=MaterialFactory(organisation=organisation),
            **dict.fromkeys(("free_span", "rise", "pipe", "radius"), Decimal(1000)),
        )
        open_one_lot = LotFactory(material=material, place=PlaceFactory(organisation=organisation))
        offer = open_lot(**who, lot=open_one_lot, quantity=9, note="at the gate")
        wish = CommonWish.objects.create(
            organisation=organisation, offer=offer, member=self.member, quantity=2, price=Decimal(3), note=WHOM
        )
        #: By name of address, what it has beside the cooperative.
        self.rows = {
            "crew:own-booking": {"pk": open_one.pk},
            "crew:own-request": {"pk": asked.pk},
            "crew:own-withdraw": {"pk": asked.pk},
            "crew:own-hoop": {"pk": late.pk},
            "crew:own-hoop-back": {"pk": hoop.pk},
            "coop:seen-damage": {"pk": damage.pk},
            "coop:seen-photo": {"pk": photo.pk},
            "coop:seen-photo-small": {"pk": photo.pk},
            "coop:seen-statement-pdf": {"number": statement.number},
            "coop:seen-statement-workbook": {"number": statement.number},
            **{f"coop:seen-pipe{part}": {"pk": loan.pk} for part in LOAN},
            **{f"coop:seen-pipe-return{part}": {"pk": back.pk} for part in ("", "-agree", "-refuse")},
            **{f"coop:seen-lot{part}": {"pk": lot.pk} for part in ("", "-leave")},
            "coop:seen-lot-leave-end": {"pk": leave.pk},
            "coop:seen-joint-change": {"number": joint.number, "pk": need.pk},
            "coop:seen-joint-withdraw": {"number": joint.number, "pk": need.pk},
            "coop:seen-common-wish": {"pk": wish.pk},
        }
        #: Of the cooperative, open to members that take part, or to all.
        self.joint = {"number": joint.number}
        self.offer = {"pk": offer.pk}


#: Of a loan, by the end of the name of its page.
LOAN = ("", "-agree", "-refuse", "-return-new", "-return-other", "-return-money")
#: With a number in the address that is the cooperative's and no member's.
OF_ALL = {
    *("coop:seen-joint", "coop:seen-joint-need", "coop:seen-joint-plan", "coop:seen-joint-stock"),
    "coop:seen-common-offer",
}


def signed_in_as(user) -> Client:
    client = Client()
    client.force_login(user)
    return client


def lookers(organisation) -> dict[str, Client]:
    """Everybody who has pages of a member somewhere, and is not of the other member."""
    member = MemberFactory(organisation=organisation, name="Alder Patch", slug="alder")
    farm = MemberFarmFactory(member=member).farm
    elsewhere = MemberFarmFactory(member__organisation=OrganisationFactory())
    users = {"visitor": MemberSignInFactory(member=member).user}
    users |= {f"farm, {role}": MembershipFactory(organisation=farm, role=role).user for role in Role.values}
    users["visitor elsewhere"] = MemberSignInFactory(member__organisation=elsewhere.organisation).user
    users["farm elsewhere"] = MembershipFactory(organisation=elsewhere.farm).user
    users["cooperative elsewhere"] = MembershipFactory(organisation=elsewhere.organisation).user
    users["the cooperative itself"] = organisation.memberships.first().user
    return {name: signed_in_as(user) for name, user in users.items()}


def with_more() -> dict[str, set[str]]:
    """Pages of a member whose address names more than the cooperative."""
    found = {name: set(wanted) for name, _, wanted in patterns() if "lender" in wanted}
    assert len(found) > 15
    return {name: wanted for name, wanted in found.items() if wanted != {"lender"}}


def test_no_row_of_another_member_is_found_and_its_name_is_nowhere(organisation, user):
    other = Other(organisation, user)
    assert with_more().keys() == other.rows.keys() | OF_ALL, "make a row of the other member for these"
    own = signed_in_as(MemberSignInFactory(member=other.member).user)
    clients, lender = lookers(organisation), organisation.slug
    wrong = {}
    for name, row in other.rows.items():
        address = reverse(name, kwargs={"lender": lender} | row)
        # Else an address that is never found would pass.
        assert own.get(address).status_code in (200, 302, 405), name
        for who, client in clients.items():
            found = {client.get(address).status_code, client.post(address).status_code}
            if not found <= {403, 404, 405}:
                wrong[name, who] = found
    assert wrong == {}

    BenderFactory(organisation=organisation)
    read = 0
    for name, _, wanted in patterns():
        if name not in PAGES or "lender" not in wanted or name in other.rows:
            continue
        of_all = other.offer if "common" in name else other.joint
        given = {"lender": lender} | (of_all if name in OF_ALL else {})
        for who in ("visitor", "farm, owner", "farm, looks"):
            answer = clients[who].get(reverse(name, kwargs=given))
            if answer.status_code != 200 or not answer.headers["Content-Type"].startswith("text/html"):
                continue
            page = answer.content.decode()
            read += 1
            assert not [word for word in (NAME, WHOM, "zanzibar") if word in page], (name, who)
    assert read > 12
