"""Links between the pages of shared benders and of the cooperative: the first ones and the page one is on, and the rest
folded, since all of them fill a phone."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import template
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.orgs.models import Organisation

register = template.Library()

#: So many stand open, besides the page one is on.
OPEN = 2
#: A key that pages name, an address and a label.
SHARED = (
    ("shared", "crew:shared", _("Calendar")),
    ("requests", "crew:requests", _("Requests")),
    ("accounts", "coop:accounts", _("Accounts")),
    ("bookings", "crew:bookings", _("Bookings")),
    ("proposal", "crew:proposal", _("Who gets which")),
    ("rules", "crew:sharing-rules", _("Rules of sharing")),
    ("members", "crew:members", _("Members")),
    ("farms", "coop:members", _("Farms")),
    ("charges", "coop:charges", _("Charges")),
    ("joints", "coop:joints", _("Joint orders")),
    ("pipe", "coop:pipe-list", _("Pipe")),
    ("common", "coop:common", _("Common stock")),
)
#: Of a member, at its lender.
OWN = (
    ("seen", "coop:seen", _("At a glance")),
    ("own", "crew:own", _("Your bookings")),
    ("account", "coop:seen-account", _("Your account")),
    ("days", "crew:own-days", _("Days free or taken")),
    ("calendar", "crew:own-calendar", _("In your own calendar")),
    ("joints", "coop:seen-joints", _("Joint orders")),
    ("pipe", "coop:seen-pipe-list", _("Pipe")),
    ("lots", "coop:seen-lots", _("Your lots")),
    ("common", "coop:seen-common", _("Common stock")),
)


@register.inclusion_tag("crew/bookings/ways.html")
def shared_ways(here: str) -> dict[str, Any]:
    return _ways(gettext("Shared benders"), SHARED, here)


@register.inclusion_tag("crew/bookings/ways.html")
def own_ways(here: str, lender: Organisation) -> dict[str, Any]:
    return _ways(lender.name, OWN, here, lender.slug)


def _ways(label: str, rows: Iterable[tuple[str, str, Any]], here: str, *given: str) -> dict[str, Any]:
    links = [(reverse(name, args=given), words, key == here) for key, name, words in rows]
    rest = [link for link in links[OPEN:] if not link[2]]
    return {"label": label, "open": [link for link in links if link not in rest], "rest": rest}
