"""What the first page says comes next of common stock: for a cooperative, and for a farm that asked for some."""

from __future__ import annotations

from django.urls import reverse
from django.utils.translation import gettext, ngettext

from farmbuild.common.speaking import said_count
from farmbuild.coop.common.selectors import answered_lately, open_wishes_of
from farmbuild.coop.common.words import STATES, State
from farmbuild.coop.members.selectors import cooperatives_of
from farmbuild.measure import format_count
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
    words = ngettext(
        "%(count)s request for common stock waits for an answer",
        "%(count)s requests for common stock wait for an answer",
        waiting,
    ) % {"count": format_count(waiting)}
    today = today_of(organisation=organisation)
    return [NextStep(today, f"{words}.", gettext("Answer members"), reverse("coop:common-wishes"), words)]


def _answered(organisation: Organisation) -> list[NextStep]:
    members = [row.member for row in cooperatives_of(farm=organisation)]
    wish = answered_lately(members=members).first() if members else None
    if wish is None:
        return []
    url = reverse("coop:seen-common-wish", args=[wish.organisation.slug, wish.pk])
    clause = gettext("%(cooperative)s: %(pieces)s of %(material)s, %(state)s") % {
        "cooperative": wish.organisation,
        "pieces": said_count(wish.quantity, "piece"),
        "material": wish.offer.lot.material,
        "state": STATES[State(wish.state)],
    }
    return [NextStep(today_of(organisation=organisation), f"{clause}.", gettext("See the answer"), url, clause)]
