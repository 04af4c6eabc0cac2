"""Out of the site into a workbook, and from it into an empty organisation: every field of every row comes back."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.db.models import Model

from farmbuild.catalogue.models import Material, Offer, PriceBreak, Supplier
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.planning.season.plan import plan_season
from farmbuild.plans.bridge import season_for
from farmbuild.projects.bridge import project_workbook
from farmbuild.projects.models import ProjectDraft
from farmbuild.projects.services import make_draft, store_draft
from farmbuild.sites.models import House, HouseOwnRow, Site
from farmbuild.sites.selectors import houses_of, sites_of
from farmbuild.stock.models import Lot, Movement, Place
from farmbuild.workbooks.project import read_project
from tests.projects.conftest import farm, filled
from tests.size import LONG
from tests.workbooks.books import recalculated

pytestmark = pytest.mark.django_db
TODAY = date(2027, 2, 1)
#: Why a field does not travel.
LEFT_OUT = {
    "id": "a key of the database",
    "organisation": "the one that reads",
    "archived_at": "what is archived stays where it is",
    "saved_at": "when it is read",
    "saved_by": "whoever reads",
    "reserved": "what houses hold does not travel",
    "value": "what is read is worth its pieces by the cost of one",
    "basis_value": "as value",
    "basis_pieces": "as value",
    "promised": "what members wish for does not travel",
    "made_as": "its key where it was made, by which stored plans name it; a workbook brings new offers",
    "owner": "members are not in a project; whose pieces are goes by the stock file",
}
#: Each model with the way to its rows, and what names a row that others point at.
MODELS = {
    Site: ("organisation", "slug"),
    Material: ("organisation", "code"),
    Bender: ("organisation", "slug"),
    Recipe: ("organisation", "slug"),
    House: ("organisation", "slug"),
    HouseOwnRow: ("house__organisation", ""),
    Supplier: ("organisation", "code"),
    Offer: ("organisation", "supplier_code"),
    PriceBreak: ("offer__organisation", ""),
    Place: ("organisation", "name"),
    Lot: ("organisation", "reference"),
}


def told(value):
    if isinstance(value, Model):
        return getattr(value, MODELS[type(value)][1])
    if isinstance(value, Decimal):
        return value.normalize()
    if isinstance(value, list):
        return [Decimal(one) for one in value]
    return value


def everything(organisation) -> dict[str, list]:
    found = {}
    for model, (owner, _) in MODELS.items():
        fields = [field for field in model._meta.get_fields() if field.concrete and field.name not in LEFT_OUT]
        rows = []
        for row in model.objects.filter(**{owner: organisation}):
            values = {}
            for field in fields:
                if field.many_to_many:
                    values[field.name] = sorted(told(one) for one in getattr(row, field.name).all())
                elif model is PriceBreak and field.name == "offer":
                    values[field.name] = (row.offer.supplier_code, told(row.offer.length))
                else:
                    values[field.name] = told(getattr(row, field.name))
            rows.append(values)
        found[model.__name__] = sorted(rows, key=repr)
    return found


def read_in(organisation, user, data: bytes):
    draft = make_draft(organisation=organisation, user=user, data=data, filename="project.xlsx")
    assert draft.shown["faults"] == []
    done, _ = store_draft(organisation=organisation, user=user, draft=draft)
    assert done
    assert not ProjectDraft.objects.exists()


@pytest.mark.parametrize("metric", [False, True], ids=["imperial", "metric-comma"])
def test_every_field_comes_back(metric: bool) -> None:
    organisation, _ = filled(metric=metric)
    data = project_workbook(organisation=organisation, as_of=TODAY)
    other, user = farm(metric=metric)
    read_in(other, user, data)
    was, now = everything(organisation), everything(other)
    for name, rows in was.items():
        assert rows, name
        assert now[name] == rows, name
    # The books of the lots are right: each begins with what was read.
    for lot in Lot.objects.of(other):
        [movement] = Movement.objects.filter(lot=lot)
        assert (movement.kind, movement.quantity) == ("receive", lot.on_hand)
        assert movement.reason.startswith("Opening count")
    # The same workbook again does nothing at all.
    draft = make_draft(organisation=other, user=user, data=data, filename="project.xlsx")
    assert draft.shown["states"] | {"same": 0} == {"new": 0, "changed": 0, "left": 0, "same": 0}
    assert project_workbook(organisation=other, as_of=TODAY).count(b"") > 0


@pytest.mark.parametrize("metric", [False, True], ids=["imperial", "metric-comma"])
def test_the_plan_of_the_workbook_orders_what_the_plan_of_the_site_does(metric: bool) -> None:
    organisation, _ = filled(metric=metric)
    houses = list(houses_of(organisation=organisation))
    site = sites_of(organisation=organisation).get(slug="north-field")
    mine = season_for(organisation=organisation, houses=houses, delivery_site=site, as_of=TODAY)
    read = read_project(project_workbook(organisation=organisation, as_of=TODAY, houses=houses), "project.xlsx")
    assert read.houses == mine.houses
    assert read.materials == mine.materials
    assert read.offers == mine.offers
    assert read.lots == mine.lots
    assert (read.buyer, read.kerf, read.keep_from, read.delivery_site) == (
        mine.buyer,
        mine.kerf,
        mine.keep_from,
        mine.delivery_site,
    )
    whole = read_project(project_workbook(organisation=organisation, as_of=TODAY), "project.xlsx")
    # The first plan that is found shows it as the best one does.
    ended = None if LONG else lambda: True
    assert plan_season(whole, ended=ended).orders == plan_season(mine, ended=ended).orders != ()


@pytest.mark.office
def test_a_spreadsheet_program_between_changes_nothing(tmp_path) -> None:
    organisation, _ = filled(metric=True)
    recalculated(project_workbook(organisation=organisation, as_of=TODAY), tmp_path)
    other, user = farm(metric=True)
    read_in(other, user, (tmp_path / "out" / "book.xlsx").read_bytes())
    was, now = everything(organisation), everything(other)
    assert now == was


def test_fields_that_stay_behind_are_named_and_exist() -> None:
    names = {field.name for model in MODELS for field in model._meta.get_fields()}
    assert set(LEFT_OUT) <= names
