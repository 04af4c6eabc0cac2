"""Every field of a house is the same thing everywhere: in fields.py, the spec, the model, the form, the project
workbook, stored plans and starters. Each test goes through all fields, so a new one is covered by itself."""

from __future__ import annotations

import dataclasses
import io
import json
import typing
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any

import pytest
from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.db import models
from openpyxl import load_workbook

from farmbuild.common.fields import LengthField, LengthFormField, LengthListField, LengthListFormField
from farmbuild.common.number_fields import WholeFormField
from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.house.fields import BY_NAME, FIELDS, RECIPE_FIELDS, FieldKind, SpecField
from farmbuild.planning.house.limits import spec_limits
from farmbuild.planning.house.own_rows import OwnRow, Per
from farmbuild.planning.house.spec import HouseSpec, Joint, Recipe, SideClosing
from farmbuild.planning.inputs import Season
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.season.snapshot import season_from_json, season_to_json
from farmbuild.sites import own_rows
from farmbuild.sites.bridge import spec_input
from farmbuild.sites.forms import OPEN, HouseForm
from farmbuild.sites.models import House, HouseOwnRow
from farmbuild.sites.models import HouseSpec as HouseSpecModel
from farmbuild.sites.services import create_house
from farmbuild.sites.starters import read_starter, recipe_tubes, starter_house
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project import read_project, write_project
from tests.factories import HouseFactory, MaterialFactory, RecipeFactory, SiteFactory
from tests.planning.seasons import BUYER, MATERIALS, SITES, TWENTY, TWENTY_RECIPE, house, season
from tests.planning.seasons import BY_CODE as BY_CODE_OF_SEASONS
from tests.sites.posting import sent_by

MM = Decimal("0.000001")
K = FieldKind


def two_of(kind: Kind) -> list[Material]:
    """Like the one that fits most uses."""
    of_kind = [material for material in MATERIALS if material.kind is kind] or [Material("", "", kind)]
    best = max(of_kind, key=lambda material: (material.swaged, material.width or 0))
    return [replace(best, code=f"{kind}-{n}", name=f"{kind} {n}") for n in (1, 2)]


#: Two of each kind at least, so that a field of any kind can be filled, and changed.
#: And a tube that was not measured, which a hoop may stand in or slide over.
STOCKED = (
    *MATERIALS,
    *(material for kind in Kind for material in two_of(kind)),
    replace(BY_CODE_OF_SEASONS["rail-1-3-8"], code="rail-1-3-8-plain", name="plain rail", swaged=False),
    replace(two_of(Kind.TUBE)[0], code="some-tube", name="some tube", width=None, thickness=None),
)
BY_CODE = {material.code: material for material in STOCKED}
UNITS = list(UnitSystem)
of_each = pytest.mark.parametrize("field", FIELDS, ids=lambda field: field.name)


def filled(field: SpecField) -> Any:
    """A value that is not the default."""
    match field.kind:
        case K.LENGTH:
            return max(Decimal(field.smallest), Decimal("76.2"))
        case K.LENGTHS:
            return (Decimal("2438.4"), Decimal("3657.6"))
        case K.COUNT:
            least = 2 if field.even else 1
            return least if field.default != least else least + 1 if field.smallest else 0
        case K.FLAG:
            return not field.default
        case K.CHOICE:
            return next(value for value in type(field.default) if value != field.default)
        case K.MATERIAL:
            return next(material.code for material in STOCKED if material.kind in field.materials)
        case _:
            return TWENTY_RECIPE


#: Posts that its hoops go over, and pipes that join along it: purlins by sleeves, which lose no length.
_BASE = replace(
    TWENTY,
    post_material="emt-3-4",
    purlin_material="rail-1-5-8",
    purlin_joint=Joint.INNER,
    purlin_insertion=Decimal(0),
    purlin_sleeve_material="rail-1-3-8",
    purlin_sleeve_length=Decimal("304.8"),
    purlin_first_stick=Decimal(1524),
    side_closing=SideClosing.CURTAIN,
    curtain_pipe_stick_length=TWENTY.purlin_stick_length,
    curtain_pipe_insertion=TWENTY.purlin_insertion,
)
#: A house that has everything.
FULL = replace(
    _BASE,
    **{
        field.name: filled(field)
        for field in FIELDS
        if getattr(_BASE, field.name) == field.default and field.name != "purlin_insertion"
    },
)
SWAGED = replace(
    FULL,
    purlin_joint=Joint.SWAGE,
    purlin_material="rail-1-3-8",
    purlin_insertion=Decimal(76),
    purlin_first_stick=Decimal(0),
)
OUTER = replace(FULL, purlin_material="rail-1-3-8-plain", purlin_sleeve_material="rail-1-5-8")
#: Rows of its own: every field of one otherwise than by default, and as few of them as may be.
OWN_ROWS = (
    OwnRow("lumber-1", Decimal("0.125"), Per.CROSSING, Decimal("76.200001"), "film", "over the tape, twice"),
    OwnRow("fastener-1", Decimal("99999.999")),
    *(OwnRow("anchor-1", Decimal(1), per) for per in Per),
)
FULL = replace(FULL, own_rows=OWN_ROWS[:1])
#: A house that has nothing but its hoops.
PLAIN = HouseSpec(**{field.name: getattr(FULL, field.name) for field in FIELDS if field.required})


def others(field: SpecField) -> list[Any]:
    """What else the field of the full house may be, near to it and far from it."""
    now = getattr(FULL, field.name)
    match field.kind:
        case K.LENGTH:
            return [now + MM, Decimal(0)]
        case K.LENGTHS:
            return [(*now, Decimal("6096.000001")), ()]
        case K.COUNT:
            return [0, now - 1, now + 1]
        case K.FLAG:
            return [not now]
        case K.CHOICE:
            return [value for value in type(field.default) if value != now]
        case K.MATERIAL:
            return ["", [material.code for material in STOCKED if material.kind in field.materials][-1]]
        case _:
            return [
                replace(now, name="another", pitch=now.pitch + MM, first_mark=Decimal(0), insertion=now.insertion + 1)
            ]


@cache
def specs() -> dict[str, HouseSpec]:
    """The full house, and it with each field changed, as far as it can be built."""
    found = {"full": FULL}
    for field in FIELDS:
        bases = (FULL, replace(FULL, back_door_count=0), replace(FULL, post_material="some-tube"), SWAGED, OUTER)
        for base in bases:
            for n, value in enumerate(others(field)):
                spec = replace(base, **{field.name: value})
                if spec not in (FULL, base) and not check_spec(spec, BY_CODE, UnitSystem.IMPERIAL):
                    found.setdefault(f"{field.name} {n}", spec)
    found["own rows"] = replace(FULL, length=FULL.spacing_wanted, own_rows=OWN_ROWS)
    for field in dataclasses.fields(OwnRow):
        (first, *_), left = OWN_ROWS, field.default
        if left is not dataclasses.MISSING and field.name not in ("length", "per"):
            found[f"own rows without {field.name}"] = replace(FULL, own_rows=(replace(first, **{field.name: left}),))
    return found


def test_the_full_house_has_everything_and_each_field_of_it_is_tried_otherwise() -> None:
    assert check_spec(FULL, BY_CODE, UnitSystem.IMPERIAL) == check_spec(PLAIN, BY_CODE, UnitSystem.IMPERIAL) == []
    for field in FIELDS:
        full = SWAGED if field.name == "purlin_insertion" else FULL
        assert getattr(full, field.name) != field.default, field.name
        assert any(name.startswith(f"{field.name} ") for name in specs()), field.name


# Rows of its own


def test_the_same_fields_of_a_row_of_its_own_everywhere() -> None:
    names = {row.name for row in dataclasses.fields(OwnRow)}
    assert names == {row.name for row in HouseOwnRow._meta.fields} - {"id", "house", "position"}
    assert names == set(own_rows.VALUES) == set(own_rows.OwnRowForm.base_fields) - {"remove"}
    assert names == {row.name for row in layout.OWN_ROWS.fields} - {"house"}
    for field in dataclasses.fields(OwnRow):
        assert getattr(OWN_ROWS[0], field.name) != field.default, field.name
        if field.default is not dataclasses.MISSING:
            assert getattr(HouseOwnRow(), field.name) == field.default, field.name
    assert {row.per for row in OWN_ROWS} == set(Per)
    assert not check_spec(specs()["own rows"], BY_CODE, UnitSystem.METRIC)


# One list of fields


def model_field(name: str) -> Any:
    return HouseSpecModel._meta.get_field(name)


#: Columns of a house that say which one it is, where it stands and by when.
OF_NO_SPEC = ("ref", "name", "site", "need_date", "along", "across", "ridge_turn")


def names_everywhere() -> dict[str, list[str]]:
    stored = season_to_json(season(house("a", FULL)))["season"]["houses"][0]["spec"]
    return {
        "spec": [row.name for row in dataclasses.fields(HouseSpec) if row.name != "own_rows"],
        "model": [row.name for row in HouseSpecModel._meta.get_fields()],
        "form": [name for name in HouseForm.base_fields if name not in ("version", "site", "name", "need_date")],
        "groups": sorted(
            (name for _, names in HouseForm.groups for name in names if name in BY_NAME), key=list(BY_NAME).index
        ),
        "workbook": [row.name for row in layout.HOUSES.fields if row.name not in OF_NO_SPEC],
        "stored plans": [name for name in stored if name != "own_rows"],
    }


@pytest.mark.parametrize("place", names_everywhere())
def test_the_same_fields_everywhere(place: str) -> None:
    found = names_everywhere()[place]
    assert len(found) == len(set(found))
    assert set(found) == {field.name for field in FIELDS}


def test_the_same_fields_of_a_recipe_everywhere() -> None:
    names = {field.name for field in RECIPE_FIELDS}
    assert names == {row.name for row in dataclasses.fields(Recipe)} - {"name"}
    # What only the site knows of a recipe: its short name, and by which bender it is bent.
    assert names == {row.name for row in layout.RECIPES.fields} - {"name", "slug", "bender", "lever_length"}


MODELS = {
    K.LENGTH: LengthField,
    K.LENGTHS: LengthListField,
    K.COUNT: models.PositiveSmallIntegerField,
    K.FLAG: models.BooleanField,
    K.CHOICE: models.CharField,
    K.MATERIAL: models.ForeignKey,
    K.RECIPE: models.ForeignKey,
}
FORMS = {
    K.LENGTH: LengthFormField,
    K.LENGTHS: LengthListFormField,
    K.COUNT: WholeFormField,
    K.FLAG: forms.BooleanField,
    K.CHOICE: forms.TypedChoiceField,
    K.MATERIAL: forms.ModelChoiceField,
    K.RECIPE: forms.ModelChoiceField,
}
COLUMNS = {
    K.LENGTH: layout.Type.LENGTH,
    K.LENGTHS: layout.Type.LENGTHS,
    K.COUNT: layout.Type.COUNT,
    K.FLAG: layout.Type.YES_NO,
    K.CHOICE: layout.Type.CHOICE,
    K.MATERIAL: layout.Type.TEXT,
    K.RECIPE: layout.Type.TEXT,
}
VALUES = {
    K.LENGTH: Decimal,
    K.LENGTHS: tuple[Decimal, ...],
    K.COUNT: int,
    K.FLAG: bool,
    K.MATERIAL: str,
    K.RECIPE: Recipe,
}


@of_each
def test_the_same_kind_everywhere(field: SpecField) -> None:
    kind = type(field.default) if field.kind is K.CHOICE else VALUES[field.kind]
    assert typing.get_type_hints(HouseSpec)[field.name] == kind
    assert type(model_field(field.name)) is MODELS[field.kind]
    assert isinstance(HouseForm.base_fields[field.name], FORMS[field.kind])
    column = layout.HOUSES.by_name[field.name]
    assert column.type is COLUMNS[field.kind]
    assert column.refers == {K.MATERIAL: "Materials", K.RECIPE: "Recipes"}.get(field.kind, "")


@of_each
def test_the_same_name_help_and_unit_everywhere(field: SpecField) -> None:
    row, shown, column = model_field(field.name), HouseForm.base_fields[field.name], layout.HOUSES.by_name[field.name]
    assert row.verbose_name == field.label
    assert str(shown.label) == field.label[:1].upper() + field.label[1:]
    assert row.help_text == shown.help_text == column.note == field.help
    groups = dict(HouseForm.groups)
    assert field.name in groups[field.section] or (field.name in OPEN and field.section in groups)
    if field.kind is K.LENGTH:
        assert row.small == shown.small == column.small == field.small
    assert column.heading in (field.heading, str(shown.label))


@of_each
def test_the_same_default_everywhere(field: SpecField) -> None:
    """And the same fields have to be filled in."""
    row, column = model_field(field.name), layout.HOUSES.by_name[field.name]
    (own,) = (row for row in dataclasses.fields(HouseSpec) if row.name == field.name)
    assert (own.default is dataclasses.MISSING) == column.required == field.required
    assert HouseForm.base_fields[field.name].required == field.required or field.kind in (K.COUNT, K.CHOICE)
    if field.required:
        assert not row.has_default() and not row.null and not row.blank
        return
    assert own.default == field.default
    unsaved = House()
    assert (
        (unsaved.serializable_value(field.name) or "")
        if field.kind is K.MATERIAL
        else tuple(getattr(unsaved, field.name))
        if field.kind is K.LENGTHS
        else getattr(unsaved, field.name)
    ) == field.default


def form_of(organisation, spec: HouseSpec, rows: dict[str, Any], **typed: str) -> HouseForm:
    """What a browser would send for this spec, with some fields typed otherwise."""
    site = SiteFactory(organisation=organisation)
    unsaved = House(site=site, name="North 1", need_date=date(2027, 5, 3), **stored_values(spec, rows))
    shown = HouseForm(instance=unsaved, organisation=organisation)
    data = {}
    for bound in shown:
        value = bound.field.prepare_value(bound.value())
        if value is not None and value is not False:
            data[bound.html_name] = "on" if value is True else str(value)
    return HouseForm(data | typed, organisation=organisation)


def own_rows_sent(organisation, spec: HouseSpec, rows: dict[str, Any]) -> own_rows.OwnRows:
    """What a browser would send for its rows, once the page has shown them."""
    unsaved = House()
    unsaved.typed_rows = [
        HouseOwnRow(**(dataclasses.asdict(row) | {"material": rows[row.material]})) for row in spec.own_rows
    ]
    shown = own_rows.own_rows_form(None, organisation=organisation, house=unsaved)
    data = sent_by(shown.management_form)
    for form in shown:
        data |= sent_by(form)
    sent = own_rows.own_rows_form(data, organisation=organisation)
    assert sent.is_valid(), sent.errors
    return sent


@pytest.fixture
def rows(organisation) -> dict[str, Any]:
    """The materials by code and the recipes by name, as an organisation has them."""
    found: dict[str, Any] = {}
    for material in STOCKED:
        values = dataclasses.asdict(material) | {"kind": material.kind.value}
        found[material.code] = MaterialFactory(organisation=organisation, **values)
    for recipe in {spec.recipe for spec in specs().values()}:
        values = recipe_tubes(dataclasses.asdict(recipe), found)
        found[recipe.name] = RecipeFactory(organisation=organisation, **values)
    return found


def stored_values(spec: HouseSpec, rows: dict[str, Any]) -> dict[str, Any]:
    """A spec as the model stores it."""
    values = {}
    for field in FIELDS:
        value = getattr(spec, field.name)
        match field.kind:
            case K.MATERIAL:
                values[field.name] = rows[value] if value else None
            case K.RECIPE:
                values[field.name] = rows[value.name]
            case K.LENGTHS:
                values[field.name] = [str(length) for length in value]
            case _:
                values[field.name] = value
    return values


# Limits


def test_counts_have_the_same_limits_everywhere(organisation, rows) -> None:
    for field in FIELDS:
        if field.kind is not K.COUNT:
            continue
        (most,) = {
            check.limit_value
            for check in model_field(field.name).validators
            if isinstance(check, MaxValueValidator) and check.limit_value < 32_767
        }
        assert most == field.largest
        words = f"{field.smallest} to {field.largest}."
        over = replace(FULL, **{field.name: field.largest + 1})
        assert any(p.field == field.name and words in p.message for p in spec_limits(over, BY_CODE, UnitSystem.METRIC))
        shown = form_of(organisation, FULL, rows, **{field.name: str(int(field.largest) + 1)})
        assert words in " ".join(shown.errors[field.name])
        at = replace(FULL, **{field.name: field.largest})
        assert not any(p.field == field.name for p in spec_limits(at, BY_CODE, UnitSystem.METRIC))
        assert field.name not in form_of(organisation, at, rows).errors


def test_choices_are_the_same_everywhere(organisation, user, rows) -> None:
    for field in FIELDS:
        if field.kind is not K.CHOICE:
            continue
        values = [value.value for value in type(field.default)]
        assert [value for value, words in field.choices] == values
        assert model_field(field.name).choices == list(field.choices) == HouseForm.base_fields[field.name].choices
        assert list(layout.HOUSES.by_name[field.name].choices) == values
        spec = replace(FULL, **{field.name: "shut"})
        (told,) = spec_limits(spec, BY_CODE, UnitSystem.METRIC)
        assert told.field == field.name and "'shut' is none of the choices" in told.message
        sent = form_of(organisation, FULL, rows, **{field.name: "shut"})
        assert sent.errors[field.name] == ["This choice is not on the list any more. Choose one from the list."]
        with pytest.raises(ValidationError) as refused:
            create_house(
                organisation=organisation,
                user=user,
                site=SiteFactory(organisation=organisation),
                name="Odd",
                need_date=date(2027, 5, 3),
                data=stored_values(spec, rows),
            )
        assert set(refused.value.message_dict) == {field.name}


def test_lengths_have_the_same_limits_everywhere(organisation, user, rows) -> None:
    for field in FIELDS:
        if field.kind is not K.LENGTH:
            continue
        for wrong in (Decimal(field.smallest) - MM, field.largest + MM):
            spec = replace(FULL, **{field.name: wrong})
            assert {p.field for p in spec_limits(spec, BY_CODE, UnitSystem.METRIC)} == {field.name}, (field, wrong)
            with pytest.raises(ValidationError) as refused:
                create_house(
                    organisation=organisation,
                    user=user,
                    site=SiteFactory(organisation=organisation),
                    name="Odd",
                    need_date=date(2027, 5, 3),
                    data=stored_values(spec, rows),
                )
            assert set(refused.value.message_dict) == {field.name}
        if not field.may_be_none():
            assert HouseForm(organisation=organisation).fields[field.name].minimum == field.smallest


def test_materials_have_the_same_kinds_everywhere(organisation, rows) -> None:
    shown = HouseForm(organisation=organisation)
    for field in FIELDS:
        if field.kind is not K.MATERIAL:
            continue
        assert model_field(field.name).get_limit_choices_to() == {"kind__in": [kind.value for kind in field.materials]}
        allowed = {material.code for material in STOCKED if material.kind in field.materials}
        assert {row.code for row in shown.fields[field.name].rows} == allowed != set()
        for material in STOCKED:
            spec = replace(FULL, **{field.name: material.code})
            told = [p for p in spec_limits(spec, BY_CODE, UnitSystem.METRIC) if p.field == field.name]
            assert bool(told) == (material.code not in allowed)


# There and back


def test_stored_plans_give_back_every_value() -> None:
    asked = season(*(house(name, spec) for name, spec in specs().items()))
    assert season_from_json(json.loads(json.dumps(season_to_json(asked)))) == asked


@pytest.mark.parametrize("units", UNITS)
def test_the_workbook_gives_back_every_value(units: UnitSystem) -> None:
    asked = season(
        *(house(name, spec) for name, spec in specs().items()),
        materials=STOCKED,
        buyer=replace(BUYER, units=units),
        sites=SITES,
    )
    read = read_project(write_project(asked), "season.xlsx")
    for was, found in zip(asked.houses, read.houses, strict=True):
        assert found == was


@cache
def plain_season() -> tuple[Season, bytes]:
    """And its workbook, with no materials but those of its house and offers."""
    asked = season(house("a", PLAIN))
    return asked, write_project(asked)


@pytest.mark.parametrize("name", [field.name for field in FIELDS if not field.required])
def test_a_workbook_without_the_column_reads_the_default(name: str) -> None:
    """As one that was filled in before the field was there."""
    asked, written = plain_season()
    book = load_workbook(io.BytesIO(written))
    book["Houses"].delete_cols(layout.HOUSES.column(name))
    out = io.BytesIO()
    book.save(out)
    assert read_project(out.getvalue(), "season.xlsx").houses == asked.houses


def test_the_form_and_the_model_give_back_every_value(organisation, user, rows) -> None:
    for name, spec in specs().items():
        form = form_of(organisation, spec, rows)
        assert form.is_valid(), (name, form.errors)
        made = create_house(
            organisation=organisation,
            user=user,
            site=form.cleaned_data["site"],
            name=form.cleaned_data["name"],
            need_date=form.cleaned_data["need_date"],
            data=form.cleaned_data,
            own_rows=own_rows_sent(organisation, spec, rows).values(),
        )
        assert spec_input(House.objects.get(pk=made.pk)) == spec, name


def test_columns_hold_the_largest_that_is_taken(organisation) -> None:
    """PostgreSQL refuses a number that its column has no digits for; SQLite takes any."""
    made = HouseFactory(site__organisation=organisation)
    largest = {field.name: field.largest for field in FIELDS if field.kind in (K.LENGTH, K.COUNT)}
    assert len(largest) > 20
    House.objects.filter(pk=made.pk).update(**largest)
    read = House.objects.get(pk=made.pk)
    assert {name: getattr(read, name) for name in largest} == largest


def test_the_form_shows_what_it_reads_back(organisation, rows) -> None:
    """In metric, where only lengths are written otherwise; the test above has it in imperial, through the database."""
    organisation.unit_system = UnitSystem.METRIC.value
    alike = {field.name for field in FIELDS if field.kind in (K.COUNT, K.FLAG, K.CHOICE, K.MATERIAL)}
    tried = {name: spec for name, spec in specs().items() if name.partition(" ")[0] not in alike}
    assert len(tried) > 30
    for name, spec in tried.items():
        form = form_of(organisation, spec, rows)
        assert form.is_valid(), (name, form.errors)
        read = House(**{field.name: form.cleaned_data[field.name] for field in FIELDS})
        read.typed_rows = [HouseOwnRow(**row) for row in own_rows_sent(organisation, spec, rows).values()]
        assert spec_input(read) == spec, name


def typed(field: SpecField, value: Any) -> Any:
    """As a person would write it into the file of starters."""
    match field.kind:
        case K.LENGTH:
            return f"{value} mm"
        case K.LENGTHS:
            return [f"{length} mm" for length in value]
        case K.RECIPE:
            return value.name
        case _:
            return value


def test_starters_give_back_every_value() -> None:
    materials = {code: dataclasses.asdict(material) for code, material in BY_CODE.items()}
    recipes = {spec.recipe.name: dataclasses.asdict(spec.recipe) for spec in specs().values()}
    for name, spec in specs().items():
        given = {
            field.name: getattr(spec, field.name) for field in FIELDS if getattr(spec, field.name) != field.default
        }
        row = {"slug": "s", "name": name, "summary": ""}
        row |= {"spec": {key: typed(BY_NAME[key], value) for key, value in given.items()}}
        starter = read_starter(json.loads(json.dumps(row)), recipes, materials)
        assert spec_input(starter_house(starter)) == replace(spec, own_rows=()), name
    with pytest.raises(KeyError, match="heating"):
        read_starter({"slug": "s", "name": "s", "summary": "", "spec": {"heating": 2}}, recipes, materials)
