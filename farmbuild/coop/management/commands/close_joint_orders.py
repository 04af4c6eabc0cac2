"""Close the joint orders whose last day has passed."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand

from farmbuild.coop.joint.selectors import is_past
from farmbuild.coop.joint.services import close_joint
from farmbuild.coop.models import JointOrder
from farmbuild.measure import join_words
from farmbuild.orgs.clock import zone_in_force


class Command(BaseCommand):
    help = "Close joint orders past their last day, by the clock of each cooperative. Their orders are drafts then."

    def handle(self, *args: Any, **options: Any) -> None:
        rows = JointOrder.objects.filter(closed_at=None, ended_at=None).select_related("organisation", "delivery_site")
        for joint in rows.order_by("pk"):
            if is_past(joint):
                with zone_in_force(joint.organisation):
                    self.stdout.write(f"{joint.organisation}, {joint}: {_closed(joint)}")


def _closed(joint: JointOrder) -> str:
    try:
        made = close_joint(organisation=joint.organisation, user=None, joint=joint)
    except ValidationError as error:
        return f"stays open. {' '.join(error.messages)}"
    return f"closed, with {join_words([f'order {order.number}' for order in made])} as drafts."
