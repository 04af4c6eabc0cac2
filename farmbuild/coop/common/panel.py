"""What the first page of a member says of common stock."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from farmbuild.common.pages import first_rows
from farmbuild.coop.common import selectors
from farmbuild.coop.common.words import STATES, State, lot_item_words, own_answer
from farmbuild.crew.models import Member

MOST = 3


def common_panel(*, member: Member, today: date) -> Mapping[str, Any] | None:
    """What is open to the member and what it asked for last; None where there is neither."""
    offers, waiting = selectors.counts_of_member(member=member)
    wishes, more = first_rows(selectors.wishes_of_member(member=member), MOST)
    if not offers and not wishes:
        return None
    rows = [
        {
            "pk": wish.pk,
            "what": lot_item_words(wish.offer.lot, member.organisation),
            "quantity": wish.quantity,
            "state": STATES[State(wish.state)],
        }
        for wish in wishes
    ]
    return {"answer": own_answer(offers=offers, waiting=waiting), "rows": rows, "more": more}
