"""Two members of a cooperative who lend each other pipe."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.coop.models import MemberEntry, PipeLoan
from farmbuild.coop.pipe.selectors import owed_of, pipe_of
from farmbuild.coop.pipe.services import NewPipe
from farmbuild.orgs.clock import today_of
from farmbuild.stock.services import receive_lot
from tests.factories import (
    LotFactory,
    MaterialFactory,
    MemberFactory,
    MembershipFactory,
    MemberSignInFactory,
    PlaceFactory,
)


class Two:
    """A cooperative with two members, who each sign in, and ten sticks of the first in its common yard."""

    def __init__(self) -> None:
        person = MembershipFactory()
        self.organisation = person.organisation
        self.who = {"organisation": person.organisation, "user": person.user}
        self.ana, self.bo = (MemberFactory(organisation=self.organisation, name=name) for name in ("Ana", "Bo"))
        self.users = {member.pk: MemberSignInFactory(member=member).user for member in (self.ana, self.bo)}
        self.rail = MaterialFactory(organisation=self.organisation)
        self.pipe = MaterialFactory(organisation=self.organisation)
        self.like = LotFactory(material=self.rail, place=PlaceFactory(organisation=self.organisation))
        self.today = today_of(organisation=self.organisation)
        self.lot = receive_lot(
            **self.who,
            material=self.rail,
            length=self.like.length,
            quantity=10,
            place=self.like.place,
            received_on=self.today,
            owner=self.ana,
        )

    def new(self, quantity, *, lender=None, borrower=None, kind="lent", **more):
        given = {"note": "both were here", "day": self.today} | more
        return NewPipe(
            PipeLoan.Kind(kind),
            lender or self.ana,
            borrower or self.bo,
            self.rail,
            self.like.length,
            quantity,
            **given,
        )

    def by(self, member):
        return {"member": member, "user": self.users[member.pk]}

    def owes(self, member):
        rows = MemberEntry.objects.filter(member=member).values_list("amount", flat=True)
        return sum(rows, Decimal(0))

    def out(self):
        return [
            (row.borrower.name, row.lender.name, row.there, row.back, row.net)
            for row in owed_of(pipe_of(organisation=self.organisation))
        ]
