"""What the first page says of farms that are members no more, to whichever side did not end it."""

from __future__ import annotations

from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.coop.members.selectors import left_lately
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.yard.standing import NextStep


def next_steps(*, organisation: Organisation) -> list[NextStep]:
    link = left_lately(organisation=organisation).first()
    if link is None:
        return []
    today = today_of(organisation=organisation)
    if link.organisation_id == organisation.pk:
        said = gettext("%(farm)s has left as a member") % {"farm": link.farm}
        return [
            NextStep(
                today, f"{said}.", gettext("See the member"), reverse("coop:member", args=[link.member.slug]), said
            )
        ]
    said = gettext("%(organisation)s ended your membership") % {"organisation": link.organisation}
    return [NextStep(today, f"{said}.", gettext("See your cooperatives"), reverse("coop:cooperatives"), said)]
