"""What the first page says comes next of common stock: for a cooperative, and for a farm that asked for some."""

from __future__ import annotations

from django.urls import reverse

from farmbuild.coop.common.selectors import answered_lately, open_wishes_of
from farmbuild.coop.common.words import STATES, State
from farmbuild.coop.members.selectors import cooperatives_of
from farmbuild.measure import count_noun
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.yard.standing import NextStep


def next_steps(*, organisation: Organisation) -> list[NextStep]:
    """The requests that wait here, and the latest answer to the farm's own."""
    return [*_waiting(organisation), *_answered(organisation)]


def _waiting(organisation: Organisation) -> list[NextStep]:
    waiting = open_wishes_of(organisation=organisation).order_by().count()
    if not waiting:
        return []
    who = count_noun(waiting, "request")
    waits = f"wait{'s' * (waiting == 1)} for an answer"
    said = f"{who} for common stock {waits}."
    today = today_of(organisation=organisation)
    return [NextStep(today, said, "Answer members", reverse("coop:common-wishes"), f"{who} for common stock {waits}")]


def _answered(organisation: Organisation) -> list[NextStep]:
    members = [row.member for row in cooperatives_of(farm=organisation)]
    wish = answered_lately(members=members).first() if members else None
    if wish is None:
        return []
    url = reverse("coop:seen-common-wish", args=[wish.organisation.slug, wish.pk])
    pieces = f"{count_noun(wish.quantity, 'piece')} of {wish.offer.lot.material}"
    state = STATES[State(wish.state)]
    clause = f"{wish.organisation} has {state} {pieces}"
    return [NextStep(today_of(organisation=organisation), f"{clause}.", "See the answer", url, clause)]
