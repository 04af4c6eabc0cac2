"""What an organisation has of its first season, asked anew each time: nothing is stored that could be wrong."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.models import Offer, Supplier
from farmbuild.orgs.acts import Act, acts_given
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.plans.models import Plan
from farmbuild.sites.models import House, Site
from farmbuild.stock.models import Lot

_OWN = Q(organisation=OuterRef("pk"))
_GIVEN = ("role", "without", "also")


@dataclass(frozen=True)
class Facts:
    """``supplier``: the code of the only one. ``plan``: the newest, of those neither accepted nor released.

    ``draft``: the number of the order that goes out first.
    """

    site: bool
    house: bool
    lots: bool
    suppliers: bool
    supplier: str | None
    offers: bool
    plan: int | None
    plan_state: str | None
    accepted: bool
    draft: str | None


def facts_of(*, organisation: Organisation, user: User) -> Facts | None:
    """None unless the user plans a season here of which no order has gone out yet. One query, cheap where it is None.

    Neither an order that was cancelled after it went out nor a plan that was released since brings it back. An invented
    season has no beginning.
    """
    if organisation.invented:
        return None
    mine = Membership.objects.filter(_OWN, user=user)
    row = _under_way(organisation, user).annotate(
        **{name: Subquery(mine.values(name)[:1]) for name in _GIVEN},
        **_things(),
        **_suppliers(today_of(organisation=organisation)),
        **_plans_and_orders(),
    )
    found = row.values(*_GIVEN, *Facts.__annotations__).first()
    given = {name: found.pop(name) for name in _GIVEN} if found else {}
    return Facts(**found) if found and Act.PLAN in acts_given(**given) else None


def _under_way(organisation: Organisation, user: User) -> QuerySet[Organisation]:
    # The day an order goes out stays with it; so does the acceptance of a plan that needed nothing bought.
    sent = PurchaseOrder.objects.filter(_OWN, sent_on__isnull=False)
    nothing_to_buy = Plan.objects.filter(_OWN, accepted_at__isnull=False, order_count=0, result__plan__unmet=[])
    belongs = Membership.objects.filter(_OWN, user=user)
    return Organisation.objects.filter(Exists(belongs), ~Exists(sent), ~Exists(nothing_to_buy), pk=organisation.pk)


def _things() -> dict[str, Exists]:
    houses = House.objects.filter(site__organisation=OuterRef("pk"), archived_at=None, site__archived_at=None)
    return {
        "site": Exists(Site.objects.filter(_OWN, archived_at=None)),
        "house": Exists(houses),
        "lots": Exists(Lot.objects.filter(_OWN)),
    }


def _suppliers(today: date) -> dict[str, Exists | Subquery]:
    rows = Supplier.objects.filter(_OWN)
    another = Supplier.objects.filter(organisation=OuterRef("organisation")).exclude(pk=OuterRef("pk"))
    valid = Q(valid_until=None) | Q(valid_until__gte=today)
    return {
        "suppliers": Exists(rows),
        "supplier": _first(rows.filter(~Exists(another)), "code"),
        "offers": Exists(Offer.objects.filter(_OWN, valid, material__archived_at=None)),
    }


def _plans_and_orders() -> dict[str, Exists | Subquery]:
    tried = Plan.objects.filter(_OWN, accepted_at=None).order_by("-number")
    lines = PurchaseOrderLine.objects.filter(order=OuterRef("pk"))
    drafts = PurchaseOrder.objects.filter(_OWN, Exists(lines), state=PurchaseOrder.State.DRAFT)
    return {
        "plan": _first(tried, "number"),
        "plan_state": _first(tried, "state"),
        "accepted": Exists(Plan.objects.filter(_OWN, accepted_at__isnull=False, released_at=None)),
        "draft": _first(drafts.order_by("order_by", "number"), "number"),
    }


def _first(rows: QuerySet, name: str) -> Subquery:
    return Subquery(rows.values(name)[:1])
