"""A draft for houses at several sites: each line goes to the sites of the houses that hold it, split in whole packs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Sum
from django.utils.translation import gettext

from farmbuild.buying.drafting.joining import split_line
from farmbuild.buying.drafting.services import change_line
from farmbuild.buying.drafting.store import lock_draft
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site
from farmbuild.stock.models import Reservation


@dataclass(frozen=True)
class SiteMove:
    """``quantity`` pieces of the line go to ``site``: all of them, or a part that is split off."""

    line: PurchaseOrderLine
    site: Site
    quantity: int


def moves_by_site(*, order: PurchaseOrder) -> list[SiteMove]:
    """What would go elsewhere, by three queries; empty where every line goes to its houses already.

    What no house holds stays with the rest of its line, and so does less than a pack that the rest cannot spare.
    """
    held: dict[int, dict[int, int]] = defaultdict(dict)
    rows = Reservation.objects.filter(order_line__order=order).values_list("order_line", "house__site")
    for line, site, pieces in rows.annotate(sum=Sum("quantity")).order_by("order_line", "house__site"):
        held[line][site] = pieces
    sites = {site.pk: site for site in Site.objects.filter(pk__in={site for some in held.values() for site in some})}
    lines = order.lines.select_related("delivery_site", "order__delivery_site").order_by("position")
    return [move for line in lines for move in _moves(line, held[line.pk], sites)]


def _moves(line: PurchaseOrderLine, held: Mapping[int, int], sites: Mapping[int, Site]) -> Iterator[SiteMove]:
    home = line.deliver_to.pk
    elsewhere = sorted(((pieces, site) for site, pieces in held.items() if site != home), reverse=True)
    left, stay = line.quantity, held.get(home, 0)
    if not stay and elsewhere:
        # The line itself goes to the site that holds most of it, with what nobody holds.
        stay, home = elsewhere.pop(0)
    for pieces, site in elsewhere:
        spare = (left - stay) // line.pack * line.pack
        if part := min(-(-pieces // line.pack) * line.pack, spare):
            left -= part
            yield SiteMove(line, sites[site], part)
    if home != line.deliver_to.pk:
        yield SiteMove(line, sites[home], left)


@needs(Act.PLAN)
@transaction.atomic
def deliver_by_site(*, organisation: Organisation, user: User | None, order: PurchaseOrder) -> int:
    """Send each line to the sites of the houses that hold it; gives how many parts go elsewhere than before.

    Raises ValidationError where there is none, or the order is no draft any more.
    """
    current = lock_draft(organisation=organisation, order=order)
    moves = moves_by_site(order=current)
    if not moves:
        raise ValidationError(
            gettext("Every line of order %(current_number)s goes to the site of its houses already.")
            % {"current_number": current.number}
        )
    given = {"organisation": organisation, "user": user, "order": current}
    left = {move.line.pk: move.line.quantity for move in moves}
    for move in moves:
        to = {"line": move.line, "need_by": move.line.need_by, "delivery_site": move.site, "quantity": move.quantity}
        (change_line if move.quantity == left[move.line.pk] else split_line)(**given, **to)
        left[move.line.pk] -= move.quantity
    return len(moves)
