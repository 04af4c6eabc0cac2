"""What every page needs to draw its top bar."""

from functools import partial
from typing import Any

from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

#: Label, address name, and the first parts of the addresses that belong to the section.
SECTIONS = (
    (_("Houses"), "sites:houses", ("houses", "sites", "jobs", "quotes", "customers", "costs", "bills")),
    (_("Hoops"), "hoops:recipes", ("hoops",)),
    (_("Stock"), "stock:lots", ("stock", "materials")),
    (_("Orders"), "buying:orders", ("plans", "orders", "suppliers", "joint-orders")),
    (_("Crew"), "crew:board", ("crew", "cooperative", "cooperatives")),
)
#: Of somebody who has the work of a day and no other pages; the stock is there for whoever counts it.
OF_A_DAY = (
    (_("Day"), "crew:day", ("crew",)),
    (_("Problems"), "crew:problems", ()),
    (_("Stock"), "stock:lots", ("stock", "l")),
)


def sections(request: HttpRequest) -> dict[str, object]:
    first = _section(request)
    places = SECTIONS if "see" in getattr(request, "acts", ("see",)) else OF_A_DAY
    return {
        "sections": [{"label": label, "name": name, "here": first in starts} for label, name, starts in places],
        "organisation": getattr(request, "organisation", None),
        "in_cooperative": getattr(getattr(request, "membership", None), "in_cooperative", False),
        "several_organisations": len(getattr(request, "memberships", ())) > 1,
        "whose_frame": partial(whose_frame, request),
    }


def whose_frame(request: HttpRequest) -> tuple[Any, ...]:
    """All that the frame of a page shows or asks of its request and reader."""
    user, organisation = getattr(request, "user", None), getattr(request, "organisation", None)
    return (
        _section(request),
        organisation and (organisation.slug, organisation.name),
        user and (user.pk, user.is_authenticated, getattr(user, "visitor", False)),
        tuple(sorted(getattr(request, "acts", ("see",)))),
        getattr(getattr(request, "membership", None), "in_cooperative", False),
        len(getattr(request, "memberships", ())) > 1,
    )


def _section(request: HttpRequest) -> str:
    return request.path_info.strip("/").split("/")[0]
