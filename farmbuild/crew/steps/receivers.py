"""What the work answers when a house asks, and does when an organisation measures otherwise."""

from __future__ import annotations

from typing import Any

from farmbuild.crew.bridge import BY_LENGTH, convert_each
from farmbuild.crew.models import Rate
from farmbuild.crew.steps import outdated
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.sites.outdated import Outdated


def tell_what_is_outdated(sender: Any, *, house: House, **more: Any) -> list[Outdated]:
    return outdated.outdated_by(house=house)


def convert_rates(sender: Any, *, organisation: Organisation, before: str, **more: Any) -> None:
    """Minutes for a foot become those for a metre, or the other way. Tasks stay counted as they were made."""
    rows = Rate.objects.of(organisation).select_for_update().filter(kind__in=[kind.value for kind in BY_LENGTH])
    for rate in rows.order_by("pk"):
        rate.minutes_each = convert_each(rate.minutes_each, rate.kind, before, organisation.unit_system)
        rate.save(update_fields=["minutes_each"])
