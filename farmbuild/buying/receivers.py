"""What orders answer when organisations and stock ask."""

from __future__ import annotations

from typing import Any

from django.utils.translation import ngettext

from farmbuild.buying.incoming import coming_by_length
from farmbuild.buying.models import PurchaseOrder
from farmbuild.measure import format_count
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import Site
from farmbuild.stock.piles.selectors import Coming


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    orders = PurchaseOrder.objects.of(organisation).count()
    return [ngettext("%(count)s order", "%(count)s orders", orders) % {"count": format_count(orders)}] * bool(orders)


def tell_what_comes(sender: Any, *, organisation: Organisation, site: Site | None, **more: Any) -> list[Coming]:
    return coming_by_length(organisation=organisation, site=site)
