"""What the first page of a member says of pipe, and what comes next of it for a farm."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.coop.members.panels import Panel
from farmbuild.coop.members.selectors import cooperatives_of
from farmbuild.coop.pipe import selectors
from farmbuild.coop.pipe.presenters import asked_of, owed_both_ways
from farmbuild.coop.pipe.words import own_answer
from farmbuild.crew.models import Member
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.yard.standing import NextStep

MOST = 3


def facts(*, member: Member, today: date) -> Mapping[str, Any] | None:
    """What waits for it, and what is owed either way; None where there is nothing of it."""
    waiting = asked_of(member=member)
    owes, owed = owed_both_ways(selectors.out_of(selectors.pipe_of_member(member=member)), member)
    if not (waiting or owes or owed):
        return None
    return {"answer": own_answer(owes, owed, len(waiting)), "waiting": waiting[:MOST]}


PANEL = Panel(order=40, template="coop/pipe/panel.html", facts=facts)


def next_steps(*, organisation: Organisation) -> list[NextStep]:
    """Of a farm that is a member: what another member told and it has not answered, a step a cooperative."""
    links = cooperatives_of(farm=organisation)
    return [step for link in links for step in _asked(link.member, today_of(organisation=organisation))]


def _asked(member: Member, today: date) -> list[NextStep]:
    waiting = len(asked_of(member=member))
    if not waiting:
        return []
    lender = member.organisation
    said = gettext("Another member of %(lender)s waits for your answer about pipe.") % {"lender": lender.name}
    url = reverse("coop:seen-pipe-list", args=[lender.slug])
    return [
        NextStep(
            today,
            said,
            gettext("Answer about pipe"),
            url,
            gettext("answer about pipe at %(lender)s") % {"lender": lender.name},
        )
    ]
