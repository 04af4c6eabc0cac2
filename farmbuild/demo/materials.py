"""Materials of a house as its work takes them: what it holds is cut when it is sawn, and issued when it is built in."""

from __future__ import annotations

from farmbuild.crew.bridge import USES, WorkKind
from farmbuild.hoops.batches.services import HOOPS
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House
from farmbuild.stock.cutting import cut_reserved, lengths_of
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.selectors import own_reservations_of, reservations_for_house
from farmbuild.stock.services import issue_pieces


def take_for(*, organisation: Organisation, user: User, house: House, kind: str) -> None:
    """What work of that kind uses of what the house holds in the yard; sticks of hoops go out with their batch."""
    given = {"organisation": organisation, "user": user}
    uses = USES[WorkKind(kind)] - {HOOPS}
    for row in reservations_for_house(house=house).filter(lot__isnull=False):
        if _to_cut(row) and any(piece.house_id == house.pk and piece.purpose in uses for piece in row.pieces.all()):
            cut_reserved(**given, reservation=row, sticks=row.quantity, reason=f"For {house}")
    if kind == WorkKind.SAW:
        return
    for row in own_reservations_of(house=house).filter(lot__isnull=False, purpose__in=uses):
        issue_pieces(**given, lot=row.lot, quantity=row.quantity, house=house, reason=WorkKind(kind).name.capitalize())


def _to_cut(row: Reservation) -> bool:
    lengths = lengths_of(row)
    return bool(lengths) and lengths != [row.lot.length]
