"""What quotes answer when organisations ask."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from farmbuild.measure import count_noun
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.changes.presenters import job_changed_by
from farmbuild.quotes.models import Quote, QuoteRates
from farmbuild.sites.models import House
from farmbuild.sites.outdated import Outdated


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    quotes = Quote.objects.of(organisation).count()
    rates = QuoteRates.objects.filter(organisation=organisation).exists()
    return [count_noun(quotes, _("quote"), _("quotes"))] * bool(quotes) + [_("the rates of quotes")] * rates


def tell_what_is_outdated(sender: Any, *, house: House, **more: Any) -> list[Outdated]:
    job = job_changed_by(house=house)
    if job is None:
        return []
    words = "its customer agreed to another house: make a change order"
    return [Outdated(f"Job {job.reference}", reverse("quotes:change-new", args=[job.number]), words, turn=0)]
