"""The houses of a site put in their places: one small form each, and one Save for all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.core.paginator import Page, Paginator
from django.db import transaction

from farmbuild.common.edit_conflicts import refuse_if_changed
from farmbuild.common.form_parts import add_service_errors
from farmbuild.orgs.acts import Act, acting
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.forms import PlaceForm
from farmbuild.sites.models import House, Site
from farmbuild.sites.selectors import houses_on
from farmbuild.sites.services import place_house
from farmbuild.sites.yard.places import SitePlaces, places_of
from farmbuild.sites.yard.standing import standings_of

#: Houses that are typed on one page; the plan has all.
ROWS = 25


class _Refused(Exception):
    """Takes back what the same Save has stored."""


@dataclass
class PlacesSheet:
    """``forms``: of the houses on ``page``, which knows all of the site."""

    site: Site
    organisation: Organisation
    houses: list[House]
    page: Page
    forms: list[PlaceForm]

    @property
    def ready(self) -> bool:
        """Each is asked, so that each tells what is wrong with it."""
        valid = [form.is_valid() for form in self.forms]
        return bool(valid) and all(valid)

    @property
    def asks_back(self) -> bool:
        return any(form.asks_back for form in self.forms)

    def save(self, user: User) -> bool:
        """All or none, in one transaction; what is refused stands at its field."""
        try:
            with acting(organisation=self.organisation, user=user, act=Act.HOUSES), transaction.atomic():
                for form in self.forms:
                    self._save_one(form, user)
                if any(form.errors for form in self.forms):
                    raise _Refused
        except _Refused:
            return False
        return True

    def _save_one(self, form: PlaceForm, user: User) -> None:
        if not form.has_changed():
            return
        try:
            refuse_if_changed(form)
            data = {name: form.cleaned_data[name] for name in PlaceForm.Meta.fields}
            place_house(organisation=self.organisation, user=user, house=form.instance, data=data)
        except ValidationError as error:
            add_service_errors(form, error)

    def plan(self) -> SitePlaces | None:
        """As typed, as far as that can be read."""
        standings = standings_of(organisation=self.organisation, houses=self.houses) if self.houses else {}
        return places_of(
            self.site,
            self.houses,
            organisation=self.organisation,
            standings=standings,
            total=len(self.houses),
            movable=True,
        )


def places_sheet(
    site: Site, *, organisation: Organisation, number: str | None, data: Mapping[str, Any] | None
) -> PlacesSheet:
    """``data``: what was sent; a house that came since is not in it, and stays as it is."""
    houses = list(houses_on(site=site))
    page = Paginator(houses, ROWS).get_page(number)
    forms = [PlaceForm(data, instance=house, prefix=f"h{house.pk}", organisation=organisation) for house in page]
    if data is not None:
        forms = [form for form in forms if form.add_prefix("along") in data]
    return PlacesSheet(site, organisation, houses, page, forms)
