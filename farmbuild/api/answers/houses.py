"""Sites, houses and recipes."""

from datetime import datetime

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from ninja import Router, Schema

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads
from farmbuild.api.specs import SpecOut, spec_of
from farmbuild.api.values import Day, Mm, field, mm
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.selectors import recipes_of
from farmbuild.orgs.acts import Act
from farmbuild.sites.models import House, Site
from farmbuild.sites.selectors import any_house_of, houses_asked, houses_of, sites_of

router = Router(tags=["houses"])
SEE = Bearer(Act.SEE)


class SiteOut(Schema):
    slug: str
    name: str
    address: str
    note: str


class HouseLine(Schema):
    slug: str
    name: str
    site: str = field("The slug of its site.")
    recipe: str = field("The slug of its recipe.")
    need_date: Day = field("The day by which its materials are needed.")
    post_span_mm: Mm
    length_mm: Mm
    version: str = field("Sent back with a change, so that nothing that somebody else saved is lost.")
    saved_at: datetime


class HouseOut(HouseLine):
    archived: bool
    along_mm: Mm | None = field("From the corner stake along the base line; none: not placed.")
    across_mm: Mm | None
    ridge_turn_degrees: int
    spec: SpecOut


class RecipeOut(Schema):
    slug: str
    name: str
    tube: str = field("The code of its tube.")
    bender: str | None = field("The slug of the bender it is bent on.")
    sticks: int
    joint: str
    stick_length_mm: Mm
    insertion_mm: Mm
    sleeve: str | None
    sleeve_length_mm: Mm
    radius_mm: Mm
    first_mark_mm: Mm
    pitch_mm: Mm
    stop_gap_mm: Mm


def version_of(house: House) -> str:
    return house.saved_at.isoformat()


def site_out(site: Site):
    return {"slug": site.slug, "name": site.name, "address": site.address, "note": site.note}


def line_out(house: House):
    return {
        "slug": house.slug,
        "name": house.name,
        "site": house.site.slug,
        "recipe": house.recipe.slug,
        "need_date": house.need_date,
        "post_span_mm": mm(house.post_span),
        "length_mm": mm(house.length),
        "version": version_of(house),
        "saved_at": house.saved_at,
    }


def house_out(house: House):
    return line_out(house) | {
        "archived": house.archived_at is not None or house.site.archived_at is not None,
        "along_mm": mm(house.along),
        "across_mm": mm(house.across),
        "ridge_turn_degrees": house.ridge_turn,
        "spec": spec_of(house),
    }


def recipe_out(recipe: Recipe):
    return {
        "slug": recipe.slug,
        "name": recipe.name,
        "tube": recipe.tube.code,
        "bender": recipe.bender.slug if recipe.bender else None,
        "sticks": recipe.sticks,
        "joint": recipe.joint,
        "stick_length_mm": mm(recipe.stick_length),
        "insertion_mm": mm(recipe.insertion),
        "sleeve": recipe.sleeve_material.code if recipe.sleeve_material else None,
        "sleeve_length_mm": mm(recipe.sleeve_length),
        "radius_mm": mm(recipe.radius),
        "first_mark_mm": mm(recipe.first_mark),
        "pitch_mm": mm(recipe.pitch),
        "stop_gap_mm": mm(recipe.stop_gap),
    }


@reads(router, "/sites", "sites", listed(SiteOut), SEE, "Sites in use")
def sites(request: HttpRequest, asked: Part):
    return part(sites_of(organisation=request.organisation), asked, site_out)


@reads(router, "/sites/{slug}", "site", SiteOut, SEE, "One site")
def site(request: HttpRequest, slug: str):
    return site_out(get_object_or_404(Site.objects.of(request.organisation), slug=slug))


@reads(router, "/houses", "houses", listed(HouseLine), SEE, "Houses in use")
def houses(request: HttpRequest, asked: Part, site: str | None = None):
    return part(houses_asked(houses_of(organisation=request.organisation), site=site), asked, line_out)


@reads(router, "/houses/{slug}", "house", HouseOut, SEE, "One house, whole")
def house(request: HttpRequest, slug: str):
    return house_out(get_object_or_404(any_house_of(organisation=request.organisation), slug=slug))


@reads(router, "/recipes", "recipes", listed(RecipeOut), SEE, "Recipes in use")
def recipes(request: HttpRequest, asked: Part):
    return part(recipes_of(organisation=request.organisation).select_related("bender"), asked, recipe_out)
