"""A cooperative with members who sign in, and sticks that it may open to them."""

from __future__ import annotations

from farmbuild.coop.common.services import open_lot
from farmbuild.stock.models import Lot
from tests.factories import (
    LotFactory,
    MaterialFactory,
    MemberFactory,
    MembershipFactory,
    MemberSignInFactory,
    PlaceFactory,
)


class Common:
    """Two members who sign in, and twenty sticks that cost their cooperative 11.00 each."""

    def __init__(self) -> None:
        person = MembershipFactory()
        self.organisation = person.organisation
        self.who = {"organisation": person.organisation, "user": person.user}
        self.ana, self.bo = (MemberFactory(organisation=self.organisation, name=name) for name in ("Ana", "Bo"))
        self.users = {member.pk: MemberSignInFactory(member=member).user for member in (self.ana, self.bo)}
        material = MaterialFactory(organisation=self.organisation)
        self.lot = LotFactory(material=material, place=PlaceFactory(organisation=self.organisation))

    def open(self, quantity=12, **more):
        return open_lot(**self.who, lot=self.lot, quantity=quantity, **more)

    def by(self, member):
        return {"member": member, "user": self.users[member.pk]}

    def now(self):
        lot = Lot.objects.get(pk=self.lot.pk)
        return lot.on_hand, lot.promised, lot.free
