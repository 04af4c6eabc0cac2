"""What the first page says comes next of joint orders."""

from __future__ import annotations

from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.common.speaking import said_day
from farmbuild.coop.joint.selectors import joints_of
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.yard.standing import NextStep


def next_steps(*, organisation: Organisation) -> list[NextStep]:
    """The one whose closing day comes first; one in which nobody has put anything in waits for nothing."""
    rows = joints_of(organisation=organisation).filter(closed_at=None, ended_at=None, wanted__gt=0)
    joint = rows.order_by("closes_on", "number").first()
    if joint is None:
        return []
    by = said_day(joint.closes_on)
    if joint.closes_on < today_of(organisation=organisation):
        said, clause = (
            gettext("Joint order %(joint)s was to close on %(by)s.") % {"joint": joint.number, "by": by},
            gettext("close joint order %(joint)s") % {"joint": joint.number},
        )
        url = reverse("coop:joint-close", args=[joint.number])
        return [
            NextStep(
                joint.closes_on, said, gettext("Close joint order %(joint)s") % {"joint": joint.number}, url, clause
            )
        ]
    said, clause = (
        gettext("Joint order %(joint)s closes on %(by)s.") % {"joint": joint.number, "by": by},
        gettext("joint order %(joint)s closes on %(by)s") % {"joint": joint.number, "by": by},
    )
    return [
        NextStep(
            joint.closes_on,
            said,
            gettext("See joint order %(joint)s") % {"joint": joint.number},
            joint.get_absolute_url(),
            clause,
        )
    ]
