"""What the first page of a member says of joint orders."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from farmbuild.common.pages import first_rows
from farmbuild.coop.joint import selectors
from farmbuild.coop.joint.presenters.seen import seen_answer, seen_rows
from farmbuild.crew.models import Member

MOST = 3


def joint_panel(*, member: Member, today: date) -> Mapping[str, Any] | None:
    """The newest that are open to the member or have something of it; None where there are none."""
    rows, more = first_rows(selectors.joints_of_member(member=member), MOST)
    if not rows:
        return None
    return {"joints": seen_rows(rows, member), "answer": seen_answer(rows, today), "more": more}
