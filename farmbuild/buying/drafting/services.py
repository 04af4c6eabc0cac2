"""Orders made by hand, and drafts changed until they are sent. Each change is one transaction, worked out anew.

What lowers or delays what houses hold raises CoverChanges until it is called with just that agreed. Every function
raises ValidationError, by field where there is one, when the order has gone out meanwhile.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext

from farmbuild.buying.drafting.bridge import describe_item
from farmbuild.buying.drafting.cover import late_effects, look_at_cover
from farmbuild.buying.drafting.lines import (
    agree,
    check_own,
    check_quantity,
    close_gap,
    elsewhere,
    line_words,
    moved,
    said,
    tidy,
    with_line,
)
from farmbuild.buying.drafting.store import lines_to_work_out, lock_draft, lock_organisation, store
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.models import Material, Offer, Supplier, check_length, check_longest
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site

#: Before the numbers of orders made by hand; those of plans begin with a figure.
PREFIX = "H"


@needs(Act.PLAN)
@transaction.atomic
def create_draft(
    *,
    organisation: Organisation,
    user: User | None,
    supplier: Supplier,
    delivery_site: Site,
    need_by: date,
    note: str = "",
) -> PurchaseOrder:
    """An order of no plan, without lines yet, numbered H1, H2."""
    organisation = lock_organisation(organisation)
    check_own(organisation, supplier=supplier, delivery_site=delivery_site)
    numbers = PurchaseOrder.objects.of(organisation).filter(number__regex=rf"^{PREFIX}[0-9]+$")
    last = max((int(number[len(PREFIX) :]) for number in numbers.values_list("number", flat=True)), default=0)
    order = PurchaseOrder(
        organisation=organisation,
        number=f"{PREFIX}{last + 1}",
        supplier=supplier,
        delivery_site=delivery_site,
        order_by=need_by,
        need_by=need_by,
        currency=organisation.currency,
        goods=0,
        delivery=0,
        tax=0,
        total=0,
        note=tidy(note),
    )
    order.full_clean(exclude=["order_by"])
    order.save()
    return store(order=order, lines=[], user=user, what="Made by hand.")


@needs(Act.PLAN)
@transaction.atomic
def change_draft(
    *,
    organisation: Organisation,
    user: User | None,
    order: PurchaseOrder,
    delivery_site: Site,
    need_by: date,
    note: str = "",
    agreed: str = "",
) -> PurchaseOrder:
    """Where the order goes, when it is wanted, and its note. Lines without a site or day of their own follow."""
    current = lock_draft(organisation=organisation, order=order)
    check_own(organisation, delivery_site=delivery_site)
    lines = lines_to_work_out(current)
    follow = [line for line in lines if line.need_by == current.need_by]
    agree([words for line in follow for words in late_effects(line=line, due_on=need_by)], agreed)
    what = [moved("Goes to", current.delivery_site, delivery_site), moved("Wanted by", current.need_by, need_by)]
    what.append(moved("Note", current.note, tidy(note)))
    current.delivery_site, current.need_by, current.note = delivery_site, need_by, tidy(note)
    for line in follow:
        line.need_by = need_by
    for line in lines:
        line.delivery_site = elsewhere(current, line.delivery_site)
    PurchaseOrderLine.objects.bulk_update(lines, ["need_by", "delivery_site"], batch_size=200)
    return store(order=current, lines=lines, user=user, what=said(what))


@needs(Act.PLAN)
@transaction.atomic
def add_line(
    *,
    organisation: Organisation,
    user: User | None,
    order: PurchaseOrder,
    quantity: int,
    need_by: date,
    offer: Offer | None = None,
    material: Material | None = None,
    length: Decimal | None = None,
    unit_price: Decimal | None = None,
    delivery_site: Site | None = None,
) -> PurchaseOrderLine:
    """A line of an offer of the supplier, or of a material at a typed price."""
    current = lock_draft(organisation=organisation, order=order)
    check_own(organisation, material=material, offer=offer, delivery_site=delivery_site)
    if offer is not None:
        if offer.supplier_id != current.supplier_id:
            raise ValidationError(
                {"offer": gettext("Choose an offer of %(supplier)s.") % {"supplier": current.supplier}}
            )
        material, length = offer.material, offer.length
    elif material is None:
        raise ValidationError({"offer": gettext("Choose an offer, or a material with its price below.")})
    else:
        check_length(material, length)
        check_longest(material, length)
        if unit_price is None:
            raise ValidationError({"unit_price": gettext("Type the price of one piece, because no offer is chosen.")})
    line = PurchaseOrderLine(
        order=current,
        position=(current.lines.aggregate(last=Max("position"))["last"] or 0) + 1,
        material=material,
        description=describe_item(material, length, organisation),
        supplier_code=offer.supplier_code if offer else "",
        length=length,
        offer=offer,
        needed=quantity,
        pack=offer.pack if offer else 1,
        quantity=quantity,
        unit_price=unit_price if offer is None else 0,
        line_total=0,
        tax=0,
        need_by=need_by,
        delivery_site=elsewhere(current, delivery_site),
    )
    check_quantity(line, quantity)
    lines = lines_to_work_out(current)
    line.clean_fields(exclude=["order", "material", "offer", "delivery_site", "closed_by"])
    line.save()
    store(order=current, lines=[*lines, line], user=user, what=f"Added {line_words(line)}.", added=line)
    return line


@needs(Act.PLAN)
@transaction.atomic
def change_line(
    *,
    organisation: Organisation,
    user: User | None,
    order: PurchaseOrder,
    line: PurchaseOrderLine,
    quantity: int,
    need_by: date,
    delivery_site: Site | None = None,
    unit_price: Decimal | None = None,
    agreed: str = "",
) -> PurchaseOrderLine:
    """``unit_price`` counts only where no offer gives the price; None leaves it. More pieces than are held are free."""
    current = lock_draft(organisation=organisation, order=order)
    check_own(organisation, delivery_site=delivery_site)
    lines, row = with_line(current, line)
    check_quantity(row, quantity)
    cover = look_at_cover(line=row, quantity=quantity)
    late = late_effects(line=row, due_on=need_by) if need_by > row.need_by else []
    agree(cover.effects + late, agreed)
    cover.carry_out()
    site = elsewhere(current, delivery_site)
    price = row.unit_price if unit_price is None or row.offer_id else unit_price
    what = [
        moved("pieces", row.quantity, quantity),
        moved("goes to", row.deliver_to, site or current.delivery_site),
        moved("wanted by", row.need_by, need_by),
        moved("price of one", row.unit_price, price),
        *cover.effects,
    ]
    row.quantity, row.delivery_site, row.need_by, row.unit_price = quantity, site, need_by, price
    row.needed = quantity
    row.clean_fields(exclude=["order", "material", "offer", "delivery_site", "closed_by"])
    row.save(update_fields=["quantity", "needed", "delivery_site", "need_by", "unit_price"])
    store(order=current, lines=lines, user=user, what=f"{row.description}: {said(what)}")
    return row


@needs(Act.PLAN)
@transaction.atomic
def remove_line(
    *,
    organisation: Organisation,
    user: User | None,
    order: PurchaseOrder,
    line: PurchaseOrderLine,
    seen: int | None = None,
    agreed: str = "",
) -> PurchaseOrder:
    """Take the line out; the lines after it move up. ``seen``: the pieces that the page showed."""
    current = lock_draft(organisation=organisation, order=order)
    lines, row = with_line(current, line)
    if seen is not None and seen != row.quantity:
        raise ValidationError(
            gettext("Someone else changed this line meanwhile: %(seen)s → %(quantity)s pieces. Look, then take it out.")
            % {"seen": format_count(seen), "quantity": format_count(row.quantity)}
        )
    cover = look_at_cover(line=row, quantity=0)
    agree(cover.effects, agreed)
    cover.carry_out()
    what = " ".join([f"Took out {line_words(row)}.", *cover.effects])
    position = row.position
    row.delete()
    rest = [one for one in lines if one.position != position]
    close_gap(current, after=position)
    for one in rest:
        one.position -= one.position > position
    return store(order=current, lines=rest, user=user, what=what)
