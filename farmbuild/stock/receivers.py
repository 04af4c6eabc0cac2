"""What stock answers when organisations ask, and what it does when they tell."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.db.models import Exists, OuterRef, Q
from django.urls import ResolverMatch

from farmbuild.common.long_work import State
from farmbuild.measure import count_noun
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import sentence
from farmbuild.orgs.models import Organisation
from farmbuild.stock.models import CountFind, ImportDraft, ImportLot, ImportPart, Lot, Movement
from farmbuild.stock.services import lock_references

OTHER_CURRENCY = "The currency was changed, so nothing was stored. Look at the costs in your file and send it again."


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    """Costs are stored under the lock of the lot numbers; one that is being stored is waited for."""
    if more.get("lock"):
        lock_references(organisation=organisation)
    # What went out keeps its cost, whatever a piece costs now.
    moved = Exists(Movement.objects.filter(lot=OuterRef("pk")).exclude(amount=0))
    lots = Lot.objects.of(organisation).filter(Q(unit_cost__gt=0) | moved).count()
    finds = CountFind.objects.filter(count__organisation=organisation, unit_cost__gt=0).exists()
    costs = sentence("the costs of %(lots)s", lots=count_noun(lots, _("lot"), _("lots")))
    return [costs] * bool(lots) + [_("the costs of a stock count")] * finds


def tell_who_has(sender: Any, *, match: ResolverMatch, organisations: Collection[int], **more: Any) -> set[int]:
    """A printed label names a lot by the number that it has in its organisation."""
    if match.view_name != "stock:lot-short":
        return set()
    lots = Lot.objects.filter(organisation__in=organisations, reference=match.kwargs["reference"])
    return set(lots.values_list("organisation", flat=True))


def drop_drafts(sender: Any, *, organisation: Organisation, **more: Any) -> None:
    """Files that were read and not stored yet: their costs were read in another currency."""
    drafts = ImportDraft.objects.of(organisation)
    under_way = drafts.filter(state__in=[State.WAITING, State.WORKING])
    ImportLot.objects.filter(draft__in=under_way).delete()
    ImportPart.objects.filter(draft__in=under_way).delete()
    # Its page says why; its worker finds that it is no longer his.
    kept = list(under_way.values_list("pk", flat=True))
    under_way.update(state=State.FAILED, worker="", problem=OTHER_CURRENCY, confirmed_at=None, prepared=0)
    drafts.exclude(pk__in=kept).delete()
