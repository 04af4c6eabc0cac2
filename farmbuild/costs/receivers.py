"""What costs answer when organisations ask, and what they do when hours are approved or taken back."""

from __future__ import annotations

from typing import Any

from farmbuild.costs.models import EquipmentDay, EquipmentRate, PaidTime, PayRate, Trip, TripRate
from farmbuild.costs.time.services import put_approved, take_back_approved
from farmbuild.measure import count_noun
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.orgs.models import Organisation


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    """All of it is stored under the lock of the organisation, which whoever changes the currency has."""
    words = {
        PayRate: (_("pay rate"), _("pay rates")),
        EquipmentRate: (_("price a day"), _("prices a day")),
        TripRate: (_("price of a trip"), _("prices of trips")),
        PaidTime: (_("row of paid time"), _("rows of paid time")),
        EquipmentDay: (_("charged day of equipment"), _("charged days of equipment")),
        Trip: (_("charged trip"), _("charged trips")),
    }
    counts = {model: model.objects.of(organisation).count() for model in words}
    return [count_noun(count, *words[model]) for model, count in counts.items() if count]


def pay_for_hours(sender: Any, *, organisation: Organisation, user: Any, approvals: Any, **more: Any) -> None:
    put_approved(organisation=organisation, user=user, approvals=approvals)


def take_hours_back(
    sender: Any, *, organisation: Organisation, user: Any, which: dict[str, Any], reason: str, **more: Any
) -> None:
    take_back_approved(organisation=organisation, user=user, reason=reason, **which)
