"""What the catalogue answers when organisations ask."""

from __future__ import annotations

from typing import Any

from django.db.models import Q

from farmbuild.catalogue.models import Offer, Supplier
from farmbuild.measure import count_noun
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import sentence
from farmbuild.orgs.models import Organisation


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    offers = Offer.objects.of(organisation).count()
    charges = Q(delivery_charge__gt=0) | Q(minimum_order__gt=0) | Q(free_delivery_from__isnull=False)
    suppliers = Supplier.objects.of(organisation).filter(charges).count()
    told = [count_noun(offers, _("offer"), _("offers"))] * bool(offers)
    terms = sentence("the terms of %(suppliers)s", suppliers=count_noun(suppliers, _("supplier"), _("suppliers")))
    return told + [terms] * bool(suppliers)
