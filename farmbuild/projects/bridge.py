"""What the site has, as a season that a project workbook holds."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from farmbuild.catalogue.bridge import buyer_input, material_input, offer_input, supplier_input
from farmbuild.catalogue.selectors import materials_of, offers_of, suppliers_of
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.services import FIELDS as BENDER_FIELDS
from farmbuild.hoops.recipes.bridge import recipe_input
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.orgs.models import Organisation
from farmbuild.planning.inputs import Season
from farmbuild.sites.bridge import house_input, material_keys, site_input
from farmbuild.sites.models import House, Site
from farmbuild.sites.selectors import houses_with_materials, sites_of
from farmbuild.sites.services import PLACE_FIELDS
from farmbuild.stock.bridge import lot_input
from farmbuild.stock.selectors import own_lots_on_hand
from farmbuild.workbooks.project import write_project

#: What the workbook has of a site and no plan takes.
_OF_SITE = ("note", "corner_stake", "plan_bearing", "walkway")


def project_workbook(*, organisation: Organisation, as_of: date, houses: Collection[House] | None = None) -> bytes:
    """Everything of the organisation that is in use; of some houses, what they are made of and can be bought of.

    Raises ValidationError where names do not tell two things apart.
    """
    standing = houses_with_materials(organisation=organisation)
    if houses is not None:
        standing = standing.filter(pk__in=[house.pk for house in houses])
    rows = sorted(standing, key=lambda house: house.slug)
    if houses is not None and not rows:
        raise ValidationError(gettext("There are no such houses in use. Choose another site."))
    recipes = _recipes(organisation, rows, whole=houses is None)
    materials = materials_of(organisation=organisation)
    offers, lots = offers_of(organisation=organisation), own_lots_on_hand(organisation=organisation)
    suppliers, sites = suppliers_of(organisation=organisation), list(sites_of(organisation=organisation))
    wanted = {key for house in rows for key in material_keys(house)}
    if houses is not None:
        offers, lots = offers.filter(material__in=wanted), lots.filter(material__in=wanted)
        suppliers = suppliers.filter(pk__in={offer.supplier_id for offer in offers})
        named = {house.site_id for house in rows} | {lot.place.site_id for lot in lots}
        sites = [site for site in sites if site.pk in named]
        materials = materials.filter(pk__in=wanted)
        suppliers |= suppliers_of(organisation=organisation).filter(pk__in={lot.supplier_id for lot in lots})
    benders = _benders(organisation, recipes, whole=houses is None)
    kept = [*materials]
    if houses is None:
        # What is archived and used by nothing is left where it is.
        used = wanted | {tube.pk for bender in benders for tube in bender.tubes.all()}
        used |= {key for recipe in recipes for key in (recipe.tube_id, recipe.sleeve_material_id)}
        used |= {offer.material_id for offer in offers} | {lot.material_id for lot in lots}
        kept = [material for material in kept if material.archived_at is None or material.pk in used]
    season = Season(
        as_of=as_of,
        buyer=buyer_input(organisation),
        delivery_site=_delivery_site(rows, sites),
        sites=tuple(map(site_input, sorted(sites, key=lambda site: site.slug))),
        houses=tuple(map(house_input, rows)),
        materials=tuple(map(material_input, sorted(kept, key=lambda material: material.code))),
        lots=tuple(_lot(lot, {site.pk for site in sites}) for lot in sorted(lots, key=lambda lot: lot.reference)),
        suppliers=tuple(map(supplier_input, sorted(suppliers, key=lambda supplier: supplier.code))),
        offers=tuple(map(offer_input, sorted(offers, key=lambda offer: offer.pk))),
        kerf=organisation.kerf,
        keep_from=organisation.keep_from,
    )
    more: dict[str, dict[str, dict[str, Any]]] = {
        "Sites": {site.slug: {name: getattr(site, name) for name in _OF_SITE} for site in sites},
        "Houses": {house.slug: {name: getattr(house, name) for name in PLACE_FIELDS} for house in rows},
        "Materials": {row.code: {"note": row.note, "yield_source": row.yield_source} for row in kept},
        "Recipes": {
            row.name: {
                "lever_length": row.lever_length,
                "bender": row.bender.name if row.bender else "",
                "slug": row.slug,
            }
            for row in recipes
        },
        "Offers": {offer.ref: {"listed_as": offer.listed_as} for offer in offers},
        "Stock": {
            lot.reference: {
                "supplier": lot.supplier.code if lot.supplier else "",
                "received_on": lot.received_on,
            }
            for lot in lots
        },
    }
    try:
        return write_project(
            season, more=more, recipes=map(recipe_input, recipes), benders=[_bender(row) for row in benders]
        )
    except ValueError as error:
        raise ValidationError(str(error)) from error


def _delivery_site(houses: Collection[House], sites: Collection[Site]) -> str:
    """Where most of the houses stand; it can be typed over."""
    stand = [house.site.slug for house in houses] or [site.slug for site in sites]
    return max(sorted(set(stand)), key=stand.count, default="")


def _lot(lot: Any, sites: Collection[int]) -> Any:
    """A place on an archived site is a place at no site of the list."""
    row = lot_input(lot)
    return row if lot.place.site_id in sites else replace(row, site="")


def _recipes(organisation: Organisation, houses: Collection[House], *, whole: bool) -> list[Recipe]:
    rows = Recipe.objects.of(organisation).select_related("tube", "sleeve_material", "bender").order_by("slug")
    used = {house.recipe_id for house in houses}
    return [row for row in rows if row.pk in used or (whole and row.archived_at is None)]


def _benders(organisation: Organisation, recipes: Collection[Recipe], *, whole: bool) -> list[Bender]:
    rows = Bender.objects.of(organisation).prefetch_related("tubes").order_by("slug")
    used = {recipe.bender_id for recipe in recipes}
    found = [row for row in rows if row.pk in used or (whole and row.archived_at is None)]
    names = [row.name for row in found]
    for name in names:
        if names.count(name) > 1:
            raise ValidationError(
                gettext("Two benders are named %(name)s. Give one of them another name first.") % {"name": name}
            )
    return found


def _bender(row: Bender) -> dict[str, Any]:
    names = ("slug", *BENDER_FIELDS)
    tubes = "; ".join(sorted(tube.code for tube in row.tubes.all()))
    return {name: getattr(row, name) for name in names} | {"tubes": tubes}
