"""What joint orders say when a member goes."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError

from farmbuild.coop.models import JointNeed, JointOrder
from farmbuild.crew.models import Member


def refuse_while_it_takes_part(sender: Any, *, member: Member, **more: Any) -> None:
    """Raise ValidationError where it has pieces in a joint order that is not closed: they would be ordered for it."""
    rows = JointOrder.objects.filter(organisation=member.organisation_id, closed_at=None, ended_at=None).order_by("pk")
    # Held, so that it puts nothing in meanwhile.
    held = [joint.pk for joint in rows.select_for_update(no_key=True)]
    need = JointNeed.objects.filter(joint__in=held, member=member).select_related("joint").order_by("joint").first()
    if need:
        raise ValidationError(f"{member} takes part in joint order {need.joint.number}. Take its pieces out first.")
