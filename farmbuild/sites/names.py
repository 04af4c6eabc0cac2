"""Names that can be told apart: lists, cut plans and orders say which house or site by its name alone."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from itertools import count

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House, Site
from farmbuild.sites.selectors import houses_of, sites_of

LONGEST = 120


def numbered_on(name: str, how_many: int, taken: Collection[str] = ()) -> list[str]:
    """``how_many`` names: the first as given, the next ones numbered on from it (North Field 3, 4, 5; A, A 2, A 3).

    Names in ``taken`` (in small letters) are passed over; the first is given whether taken or not.
    """
    names = [name]
    further = _further(name)
    while len(names) < how_many:
        if (following := next(further)).casefold() not in taken:
            names.append(following)
    return names


def _further(name: str) -> Iterator[str]:
    match = re.fullmatch(r"(.*?)(\d{1,6})", name)
    stem, first = (match[1], int(match[2])) if match else (f"{name} ", 1)
    for number in count(first + 1):
        yield f"{stem[: LONGEST - len(str(number))]}{number}"


def house_names(site: Site) -> set[str]:
    """Names of the houses in use on a site, in small letters."""
    names = houses_of(organisation=site.organisation).filter(site=site).values_list("name", flat=True)
    return {name.casefold() for name in names}


def check_house_name(*, site: Site, name: str, but: House | None = None) -> None:
    """Raises ValidationError at ``name`` where another house in use on the site has it."""
    others = houses_of(organisation=site.organisation).filter(site=site)
    taken = {row.casefold() for row in others.exclude(pk=but and but.pk).values_list("name", flat=True)}
    if name.casefold() in taken:
        free = numbered_on(name, 2, taken)[1]
        raise ValidationError(
            {
                "name": gettext(
                    "There is a house called %(name)s on %(site_name)s already. Type another name, such as %(free)s."
                )
                % {"name": name, "site_name": site.name, "free": free}
            }
        )


def check_site_name(*, organisation: Organisation, name: str, but: Site | None = None) -> None:
    """Raises ValidationError at ``name`` where another site in use has it."""
    others = sites_of(organisation=organisation).exclude(pk=but and but.pk)
    taken = {row.casefold() for row in others.values_list("name", flat=True)}
    if name.casefold() in taken:
        free = numbered_on(name, 2, taken)[1]
        raise ValidationError(
            {
                "name": gettext("There is a site called %(name)s already. Type another name, such as %(free)s.")
                % {"name": name, "free": free}
            }
        )
