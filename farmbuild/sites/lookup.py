"""The house that an address names."""

from __future__ import annotations

from django.http import Http404

from farmbuild.orgs.models import Organisation
from farmbuild.sites import selectors
from farmbuild.sites.models import House


def house_or_404(*, organisation: Organisation, slug: str) -> House:
    """Archived or not, with all that a house page needs."""
    house = selectors.house_named(organisation=organisation, slug=slug)
    if house is None:
        raise Http404("No house is called so.")
    return house
