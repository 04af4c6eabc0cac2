"""Pieces of one material opened to members at once, taken from the lots that came first."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext, ngettext

from farmbuild.catalogue.models import Material
from farmbuild.coop.common.selectors import lots_to_open
from farmbuild.coop.common.services import open_lot
from farmbuild.coop.models import CommonOffer
from farmbuild.crew.models import Member
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.models import Lot
from farmbuild.stock.services import check_count


@needs(Act.PLAN)
@transaction.atomic
def open_pieces(
    *,
    organisation: Organisation,
    user: User | None,
    material: Material,
    length: Decimal | None,
    quantity: int,
    price: Decimal | None = None,
    members: Collection[Member] = (),
    until: date | None = None,
    note: str = "",
) -> list[CommonOffer]:
    """An offer a lot, the oldest first, until it is so many pieces. Lots that are open already are passed over.

    ``price`` is that of one piece in all of them; None: what each lot cost. Raises ValidationError by field, and then
    nothing is opened.
    """
    check_count(quantity, field="quantity")
    if material.organisation_id != organisation.pk:
        raise ValidationError({"material": gettext("Choose a material of your own.")})
    if material.by_length != (length is not None):
        words = (
            gettext("Type the length of one piece.")
            if material.by_length
            else gettext("It is counted, so leave the length empty.")
        )
        raise ValidationError({"length": words})
    lock_currency(organisation=organisation)
    asked = [lot.pk for lot in lots_to_open(organisation=organisation, material=material, length=length)]
    list(Lot.objects.filter(pk__in=asked).select_for_update(of=("self",)).order_by("pk"))
    lots = lots_to_open(organisation=organisation, material=material, length=length)
    free = sum(lot.free for lot in lots)
    if quantity > free:
        words = ngettext(
            "%(count)s piece of it is free and not open yet, so %(quantity)s cannot be opened. Type a smaller number.",
            "%(count)s pieces of it are free and not open yet, so %(quantity)s cannot be opened. Type a smaller"
            " number.",
            free,
        )
        if not free:
            words = gettext("No piece of it is free and not open yet, so %(quantity)s cannot be opened.")
        words %= {"count": format_count(free), "quantity": format_count(quantity)}
        raise ValidationError({"quantity": words})
    opened, wanted = [], quantity
    for lot in lots:
        if not wanted:
            break
        part = min(wanted, lot.free)
        opened.append(
            open_lot(
                organisation=organisation,
                user=user,
                lot=lot,
                quantity=part,
                price=price,
                members=members,
                until=until,
                note=note,
            )
        )
        wanted -= part
    return opened
