"""A yard goes into stock: every pile a lot with its first movement, all of them or none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max, Sum
from django.utils.translation import gettext

from farmbuild.catalogue.models import Material
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import check_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site
from farmbuild.stock.models import Lot, Movement
from farmbuild.stock.services import NewLot, lock_references, place_named, receive_lots

REASON = "Opening count of the yard"


@dataclass(frozen=True)
class Piled:
    """Equal pieces that lie there. ``unit_cost`` is that of one of them."""

    material: Material
    quantity: int
    length: Decimal | None
    offcut: bool
    unit_cost: Decimal


def stand_of(*, organisation: Organisation, place: str) -> str:
    """Changes with whatever is put there or taken away."""
    there = Lot.objects.of(organisation).filter(place__name__iexact=" ".join(place.split()))
    return "{last}-{pieces}".format(**there.aggregate(last=Max("pk"), pieces=Sum("on_hand")))


@needs(Act.STOCK)
@transaction.atomic
def add_yard(
    *,
    organisation: Organisation,
    user: User | None,
    place: str,
    site: Site | None,
    piles: Sequence[Piled],
    seen: str | None = None,
) -> list[Lot]:
    """One lot a pile, counted today at the place of that name.

    ``seen`` is ``stand_of`` the place when the list was looked at: of two people who write down one yard at once the
    second is told. Raises ValidationError; nothing is stored then.
    """
    if not piles:
        raise ValidationError({"lines": gettext("There is nothing to add yet. Type what lies there, one line a pile.")})
    lock_references(organisation=organisation)
    if seen is not None and seen != stand_of(organisation=organisation, place=place):
        raise ValidationError(
            {
                "place_name": gettext(
                    "Something was put into stock or taken out at %(place)s while this page was open. Look "
                    "at its lots, leave out here what stands there already, and add the rest."
                )
                % {"place": place}
            }
        )
    if any(pile.unit_cost for pile in piles):
        check_currency(organisation=organisation)
    spot = place_named(organisation=organisation, user=user, name=place, site=site)
    today = today_of(organisation=organisation)
    lots = [
        NewLot(
            material=pile.material,
            quantity=pile.quantity,
            place=spot,
            received_on=today,
            length=pile.length,
            unit_cost=pile.unit_cost,
            offcut=pile.offcut,
            reason=REASON,
        )
        for pile in piles
    ]
    return receive_lots(organisation=organisation, user=user, lots=lots, kind=Movement.Kind.COUNT)
