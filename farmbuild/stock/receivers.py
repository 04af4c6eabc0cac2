"""What stock answers when organisations ask, and what it does when they tell."""

from __future__ import annotations

from typing import Any

from farmbuild.measure import count_noun
from farmbuild.orgs.models import Organisation
from farmbuild.stock.models import CountFind, ImportDraft, Lot
from farmbuild.stock.services import lock_references


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    """Costs are stored under the lock of the lot numbers; one that is being stored is waited for."""
    if more.get("lock"):
        lock_references(organisation=organisation)
    lots = Lot.objects.of(organisation).filter(unit_cost__gt=0).count()
    finds = CountFind.objects.filter(count__organisation=organisation, unit_cost__gt=0).exists()
    return [f"the costs of {count_noun(lots, 'lot')}"] * bool(lots) + ["the costs of a stock count"] * finds


def drop_drafts(sender: Any, *, organisation: Organisation, **more: Any) -> None:
    """Files that were read and not stored yet: their costs were read in another currency."""
    ImportDraft.objects.of(organisation).delete()
