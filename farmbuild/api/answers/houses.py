"""Sites, houses and recipes."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from ninja import Router, Schema, Status

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads, writes
from farmbuild.api.problems import Refusal
from farmbuild.api.specs import NAMES, Closed, SpecIn, SpecOut, read_spec, spec_of
from farmbuild.api.values import Day, Line, Mm, Size, field, mm
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.selectors import recipes_of
from farmbuild.orgs.acts import Act
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House, Site
from farmbuild.sites.selectors import any_house_of, houses_asked, houses_of, sites_of
from farmbuild.sites.services import create_house, save_house

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


CHANGE = Bearer(Act.HOUSES)
#: What a program calls fields that services refuse.
CALLED = {name: f"spec.{said}" for name, said in NAMES.items()} | {"along": "along_mm", "across": "across_mm"}
CALLED["ridge_turn"] = "ridge_turn_degrees"
#: What a new house cannot be without.
WANTED = ("recipe", "post_span", "length", "spacing_wanted")


class HouseIn(Closed):
    site: Line = field("The slug of its site.")
    name: Line
    need_date: Day
    along_mm: Size | None = None
    across_mm: Size | None = None
    ridge_turn_degrees: int = field("0 to 359, clockwise.", 0)
    spec: SpecIn


class HouseChange(Closed):
    version: str = field("That of the house as it was read.")
    name: Line | None = None
    need_date: Day | None = None
    along_mm: Size | None = None
    across_mm: Size | None = None
    ridge_turn_degrees: int | None = None
    spec: SpecIn | None = None


@contextmanager
def told_by_their_names() -> Iterator[None]:
    try:
        yield
    except ValidationError as error:
        error.called = CALLED
        raise


def _placed(said: dict[str, Any]) -> dict[str, Any]:
    """Where it stands, as services name it; only what was said."""
    found = {
        name: None if said[f"{name}_mm"] is None else Decimal(said[f"{name}_mm"])
        for name in ("along", "across")
        if f"{name}_mm" in said
    }
    turn = said.get("ridge_turn_degrees")
    return found if turn is None else found | {"ridge_turn": turn}


def _seen(organisation: Organisation, house: House, version: str) -> None:
    """Until the change is stored nobody else saves it. Raises Refusal where somebody has since it was read."""
    # In the order of the service: the organisation, then the house.
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    now = House.objects.of(organisation).select_for_update(of=("self",), no_key=True).get(pk=house.pk)
    if version_of(now) != version:
        raise Refusal(409, f"{now.saver} saved {now} since you read it. Read it again, then change it.")


@writes(router, "/houses", "house-create", HouseOut, CHANGE, "Make a house")
def create(request: HttpRequest, sent: HouseIn):
    organisation = request.organisation
    with told_by_their_names():
        site = sites_of(organisation=organisation).filter(slug=sent.site).first()
        if site is None:
            raise ValidationError({"site": f"There is no site {sent.site}."})
        spec = read_spec(sent.spec, organisation=organisation)
        if lacking := [name for name in WANTED if name not in spec]:
            raise ValidationError(dict.fromkeys(lacking, "A new house says this."))
        made = create_house(
            organisation=organisation,
            user=request.user,
            site=site,
            name=sent.name,
            need_date=sent.need_date,
            data=spec | _placed(sent.model_dump()),
        )
    return Status(201, house_out(any_house_of(organisation=organisation).get(pk=made.pk)))


@writes(router, "/houses/{slug}", "house-change", HouseOut, CHANGE, "Change a house", method="PATCH", status=200)
def change(request: HttpRequest, slug: str, sent: HouseChange):
    organisation = request.organisation
    there = get_object_or_404(any_house_of(organisation=organisation), slug=slug)
    _seen(organisation, there, sent.version)
    said = sent.model_dump(exclude_unset=True)
    data = {name: said[name] for name in ("name", "need_date") if said.get(name) is not None}
    with told_by_their_names():
        spec = read_spec(sent.spec, organisation=organisation) if sent.spec else {}
        save_house(organisation=organisation, user=request.user, house=there, data=data | spec | _placed(said))
    return house_out(any_house_of(organisation=organisation).get(pk=there.pk))
