"""Writes of sites and houses: one transaction a user action, checked before anything is stored."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.services import as_written_by, bring_back_material, ensure_material
from farmbuild.common.slugs import free_slug, free_slugs
from farmbuild.common.speaking import said
from farmbuild.hoops.recipes.selectors import any_recipe_of
from farmbuild.hoops.recipes.services import bring_back_recipe, create_recipe
from farmbuild.measure import UnitSystem, format_length
from farmbuild.measure.limits import SEASON_DAYS
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.bridge import MATERIAL_FIELDS, SPEC_FIELDS, problems_of
from farmbuild.sites.models import House, HouseOwnRow, Site
from farmbuild.sites.names import LONGEST, check_house_name, check_site_name, house_names, numbered_on
from farmbuild.sites.selectors import any_house_of, houses_of
from farmbuild.sites.signals import archiving, need_date_changed
from farmbuild.sites.starters import Starter, recipe_tubes, starter_values

#: Last parts of addresses that pages of this app use.
RESERVED = frozenset({"new", "archived"})
MAX_COPIES = 50
#: Where a house stands on its site.
PLACE_FIELDS = ("along", "across", "ridge_turn")
#: No house stands farther from the corner stake, mm.
FARTHEST = Decimal(1_000_000)
SITE_FIELDS = ("name", "address", "note", "corner_stake", "plan_bearing", "walkway")
#: The last day that a season may need a house by.
LATEST_NEED = SEASON_DAYS.last


def _lock_organisation(organisation: Organisation) -> None:
    """Two people who make rows at once never get one name or one address for both."""
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)


def _check_owner(organisation: Organisation, values: Mapping[str, Any]) -> None:
    """Rows of another organisation never get in, whatever the form let through."""
    for name, value in values.items():
        owner = getattr(value, "organisation_id", organisation.pk)
        if owner != organisation.pk:
            raise ValidationError({name: gettext("Choose one from the list.")})


def _store(row: Site | House) -> None:
    row.full_clean(exclude=MATERIAL_FIELDS)
    row.save()


# Sites


@needs(Act.HOUSES)
@transaction.atomic
def create_site(*, organisation: Organisation, user: User, name: str, slug: str = "", **data: Any) -> Site:
    """``slug`` may name the address; ``data``: other fields of Site."""
    _lock_organisation(organisation)
    check_site_name(organisation=organisation, name=name)
    slug = free_slug(slug or name, taken_in=Site.objects.of(organisation), fallback="site", reserved=RESERVED)
    site = Site(organisation=organisation, name=name, slug=slug)
    for field in SITE_FIELDS:
        if field in data:
            setattr(site, field, data[field])
    _store(site)
    return site


@needs(Act.HOUSES)
@transaction.atomic
def save_site(*, organisation: Organisation, user: User, site: Site, data: Mapping[str, Any]) -> Site:
    """The address of the page stays, so that links and paper keep working."""
    _lock_organisation(organisation)
    current = Site.objects.of(organisation).select_for_update().get(pk=site.pk)
    if data.get("name", current.name) != current.name:
        check_site_name(organisation=organisation, name=data["name"], but=current)
    for name in SITE_FIELDS:
        if name in data:
            setattr(current, name, data[name])
    _store(current)
    return current


@needs(Act.HOUSES)
@transaction.atomic
def copy_site(*, organisation: Organisation, user: User, site: Site, name: str, with_houses: bool) -> Site:
    """A house whose name starts with the old site's name gets the new one's instead.

    Houses stand there as on the old one; where north lies and which stake is meant is said anew.
    """
    _check_owner(organisation, {"site": site})
    kept = {field: getattr(site, field) for field in ("address", "note", "walkway")}
    copy = create_site(organisation=organisation, user=user, name=name, **kept)
    if with_houses:
        houses = list(houses_of(organisation=organisation).filter(site=site))
        names = _moved_names([house.name for house in houses], site.name, name)
        rows = [(house, copy, renamed, house.need_date) for house, renamed in zip(houses, names, strict=True)]
        _copy(organisation, user, rows, placed=True)
    return copy


def _moved_names(names: Iterable[str], old: str, new: str) -> list[str]:
    """Names of houses with the site's new name for its old one at their head, none of them twice."""
    found: dict[str, str] = {}
    for name in names:
        moved = (new + name.removeprefix(old))[:LONGEST] if name.startswith(old) else name
        if moved.casefold() in found:
            moved = numbered_on(moved, 2, found)[1]
        found[moved.casefold()] = moved
    return list(found.values())


@needs(Act.HOUSES)
@transaction.atomic
def archive_site(*, organisation: Organisation, user: User, site: Site) -> None:
    """Its houses go out of sight with it, and come back with it. Raises ValidationError while one holds stock."""
    archiving.send(House, houses=list(site.houses.all()))
    Site.objects.of(organisation).filter(pk=site.pk, archived_at=None).update(archived_at=timezone.now())


@needs(Act.HOUSES)
@transaction.atomic
def bring_back_site(*, organisation: Organisation, user: User, site: Site) -> None:
    """Raises ValidationError where a site in use has taken its name."""
    _lock_organisation(organisation)
    check_site_name(organisation=organisation, name=site.name, but=site)
    Site.objects.of(organisation).filter(pk=site.pk).update(archived_at=None)


# Houses


class OwnRowError(ValidationError):
    """What is wrong with ``part`` of the row of its own at ``row``, from 0."""

    def __init__(self, message: str, *, row: int, part: str = "") -> None:
        super().__init__(message)
        self.row, self.part = row, part


def _check_buildable(house: House) -> None:
    """Raises ValidationError by field, with the numbers."""
    problems: dict[str, list[str | OwnRowError]] = {}
    for problem in problems_of(house, house.organisation.unit_system):
        of_row = problem.field == "own_rows"
        told = said(problem.message)
        problems.setdefault(problem.field, []).append(
            OwnRowError(told, row=problem.row, part=problem.part) if of_row else told
        )
    if problems:
        raise ValidationError(problems)


def place_problems(along: Decimal | None, across: Decimal | None, units: str) -> dict[str, str]:
    """What is wrong with a place, mm, by field: a house has both offsets, or is not placed."""
    problems = {}
    for name, offset, other in (("along", along, across), ("across", across, along)):
        if offset is None and other is not None:
            problems[name] = gettext(
                "Type how far %(name)s too, or leave both empty: then the house is not placed."
            ) % {"name": name}
        elif offset is not None and offset > FARTHEST:
            farthest = format_length(FARTHEST, UnitSystem(units))
            problems[name] = gettext("No house stands farther than %(farthest)s from the corner stake.") % {
                "farthest": farthest
            }
    return problems


def _check_place(house: House) -> None:
    """Raises ValidationError by field."""
    if problems := place_problems(house.along, house.across, house.organisation.unit_system):
        raise ValidationError(problems)


OwnRowValues = Mapping[str, Any]


def _type_own_rows(house: House, rows: Sequence[OwnRowValues]) -> None:
    """Rows of values by field of HouseOwnRow.

    Raises ValidationError for a material of another organisation, and for an archived one that the house has not.
    """
    there = house.own_rows.values("material") if house.pk else ()
    asked = Material.objects.filter(pk__in={row["material"].pk for row in rows if row.get("material")})
    archived = set(asked.exclude(archived_at=None).exclude(pk__in=there).values_list("pk", flat=True))
    for at, row in enumerate(rows):
        material = row.get("material")
        if material and material.organisation_id != house.organisation_id:
            raise ValidationError({"own_rows": [OwnRowError("Choose one from the list.", row=at, part="material")]})
        if material and material.pk in archived:
            words = gettext("%(material)s is archived. Choose another.") % {"material": material}
            raise ValidationError({"own_rows": [OwnRowError(words, row=at, part="material")]})
    house.typed_rows = [HouseOwnRow(position=at, **row) for at, row in enumerate(rows)]


def _store_own_rows(house: House) -> None:
    """Those that were typed, in place of those there were."""
    if house.typed_rows is None:
        return
    house.own_rows.all().delete()
    for row in house.typed_rows:
        row.pk, row.house = None, house
    HouseOwnRow.objects.bulk_create(house.typed_rows)
    house.typed_rows = None
    getattr(house, "_prefetched_objects_cache", {}).pop("own_rows", None)


def _house_slug(organisation: Organisation, name: str) -> str:
    _lock_organisation(organisation)
    return free_slug(name, taken_in=House.objects.of(organisation), fallback="house", reserved=RESERVED)


@needs(Act.HOUSES)
@transaction.atomic
def create_house(
    *,
    organisation: Organisation,
    user: User,
    site: Site,
    name: str,
    need_date: date,
    data: Mapping[str, Any],
    own_rows: Sequence[OwnRowValues] = (),
    slug: str = "",
) -> House:
    """``data`` holds fields of HouseSpec and PLACE_FIELDS, each of ``own_rows`` fields of HouseOwnRow; ``slug`` may
    name the address.

    Raises ValidationError by field when the house cannot be built.
    """
    spec = {field: data[field] for field in (*SPEC_FIELDS, *PLACE_FIELDS) if field in data}
    _check_owner(organisation, spec | {"site": site})
    house = House(
        organisation=organisation,
        site=site,
        name=name,
        slug=_house_slug(organisation, slug or name),
        need_date=need_date,
        saved_by=user,
        **spec,
    )
    # Materials are rows of the organisation already, and what kind fits is said by planning.
    house.clean_fields(exclude=MATERIAL_FIELDS)
    check_house_name(site=site, name=name)
    _check_place(house)
    _type_own_rows(house, own_rows)
    _check_buildable(house)
    _store(house)
    _store_own_rows(house)
    return house


@needs(Act.HOUSES)
@transaction.atomic
def save_house(
    *,
    organisation: Organisation,
    user: User,
    house: House,
    data: Mapping[str, Any],
    own_rows: Sequence[OwnRowValues] | None = None,
) -> House:
    """Store ``data`` (fields of House). Raises ValidationError by field when it cannot be built.

    ``own_rows`` as in ``create_house``; None: those that there are stay.

    Whether someone else saved it meanwhile is asked before, by ``refuse_if_changed`` in the same transaction.
    """
    # Locks are taken in one order everywhere: the organisation, then the row.
    _lock_organisation(organisation)
    rows = any_house_of(organisation=organisation).select_for_update(of=("self",), no_key=True)
    current = rows.get(pk=house.pk)
    names = ("site", "name", "need_date", *PLACE_FIELDS, *SPEC_FIELDS)
    changes = {name: data[name] for name in names if name in data}
    if changes.get("site", current.site) != current.site:
        # A place is measured from a stake of the site that it was on.
        changes = {"along": None, "across": None, "ridge_turn": 0} | changes
    _check_owner(organisation, changes)
    if (changes.get("site", current.site), changes.get("name", current.name)) != (current.site, current.name):
        check_house_name(site=changes.get("site", current.site), name=changes.get("name", current.name), but=current)
    for name, value in changes.items():
        setattr(current, name, value)
    current.saved_by = user
    current.clean_fields(exclude=MATERIAL_FIELDS)
    _check_place(current)
    if own_rows is not None:
        _type_own_rows(current, own_rows)
    _check_buildable(current)
    _store(current)
    _store_own_rows(current)
    if "need_date" in changes:
        need_date_changed.send(House, house=current)
    return current


@needs(Act.HOUSES)
@transaction.atomic
def place_house(*, organisation: Organisation, user: User, house: House, data: Mapping[str, Any]) -> House:
    """Store where a house stands on its site: ``along``, ``across`` (mm; both None: not placed) and ``ridge_turn``.

    Raises ValidationError by field.
    """
    _lock_organisation(organisation)
    rows = House.objects.of(organisation).select_for_update(no_key=True)
    current = rows.get(pk=house.pk)
    changed = [name for name in PLACE_FIELDS if getattr(current, name) != data[name]]
    if not changed:
        return current
    for name in PLACE_FIELDS:
        setattr(current, name, data[name])
    current.organisation, current.saved_by = organisation, user
    _check_place(current)
    current.clean_fields(exclude={field.name for field in House._meta.concrete_fields} - set(PLACE_FIELDS))
    current.save(update_fields=[*PLACE_FIELDS, "saved_by", "saved_at"])
    return current


def _copy(
    organisation: Organisation, user: User, rows: Sequence[tuple[House, Site, str, date]], *, placed: bool = False
) -> list[House]:
    """Houses made like others, each with its site, name and need date; as many queries for one as for a thousand.

    ``placed``: each stands on its site where the other does; otherwise it is not placed, and so not over the other.

    What they are made of is stored already, so it is there and the organisation's own.
    """
    _lock_organisation(organisation)
    names = [name for _, _, name, _ in rows]
    slugs = free_slugs(names, taken_in=House.objects.of(organisation), fallback="house", reserved=RESERVED)
    fields = [House._meta.get_field(name) for name in (*SPEC_FIELDS, *(PLACE_FIELDS if placed else ()))]
    copies = [
        House(
            organisation=organisation,
            site=site,
            name=name,
            slug=slug,
            need_date=need_date,
            saved_by=user,
            **{field.attname: getattr(house, field.attname) for field in fields},
        )
        for (house, site, name, need_date), slug in zip(rows, slugs, strict=True)
    ]
    for copy in copies:
        copy.clean_fields(exclude={field.name for field in House._meta.concrete_fields if field.is_relation})
    made = House.objects.bulk_create(copies)
    _copy_own_rows([(house.pk, copy) for (house, *_), copy in zip(rows, made, strict=True)])
    return made


def _copy_own_rows(pairs: Sequence[tuple[int, House]]) -> None:
    """From the house of that key to its copy."""
    there: dict[int, list[HouseOwnRow]] = {}
    for row in HouseOwnRow.objects.filter(house__in={key for key, _ in pairs}):
        there.setdefault(row.house_id, []).append(row)
    fields = [field.attname for field in HouseOwnRow._meta.concrete_fields if field.name not in ("id", "house")]
    HouseOwnRow.objects.bulk_create(
        HouseOwnRow(house=copy, **{name: getattr(row, name) for name in fields})
        for key, copy in pairs
        for row in there.get(key, ())
    )


@needs(Act.HOUSES)
@transaction.atomic
def copy_house(
    *,
    organisation: Organisation,
    user: User,
    house: House,
    site: Site,
    name: str,
    need_date: date,
    copies: int = 1,
    days_apart: int = 0,
) -> list[House]:
    """Copies with names numbered on past those in use, each needed ``days_apart`` days after the one before."""
    _check_owner(organisation, {"house": house, "site": site})
    if not 1 <= copies <= MAX_COPIES:
        raise ValidationError({"copies": gettext("Type 1 to %(max_copies)s.") % {"max_copies": MAX_COPIES}})
    if need_date > LATEST_NEED - timedelta(days=days_apart * (copies - 1)):
        fits = (LATEST_NEED - need_date).days // (copies - 1) if copies > 1 else 0
        raise ValidationError(
            {
                "days_apart": gettext("The last copy would be needed after %(year)s. Type %(value)s or less.")
                % {"year": LATEST_NEED.year, "value": max(0, fits)}
            }
        )
    _lock_organisation(organisation)
    check_house_name(site=site, name=name)
    names = numbered_on(name, copies, house_names(site))
    days = [need_date + timedelta(days=days_apart * step) for step in range(copies)]
    return _copy(organisation, user, [(house, site, *row) for row in zip(names, days, strict=True)])


@needs(Act.HOUSES)
@transaction.atomic
def archive_house(*, organisation: Organisation, user: User, house: House) -> None:
    """Raises ValidationError while the house holds stock."""
    archiving.send(House, houses=[house])
    House.objects.of(organisation).filter(pk=house.pk, archived_at=None).update(
        archived_at=timezone.now(), saved_at=timezone.now(), saved_by=user
    )


@needs(Act.HOUSES)
@transaction.atomic
def bring_back_house(*, organisation: Organisation, user: User, house: House) -> None:
    """Raises ValidationError while its site is archived."""
    if house.site.archived_at:
        raise ValidationError(
            gettext("%(house_name)s stands on %(site_name)s, which is archived. Bring the site back first.")
            % {"house_name": house.name, "site_name": house.site.name}
        )
    _lock_organisation(organisation)
    check_house_name(site=house.site, name=house.name, but=house)
    House.objects.of(organisation).filter(pk=house.pk).exclude(archived_at=None).update(
        archived_at=None, saved_at=timezone.now(), saved_by=user
    )


# Starters


@needs(Act.HOUSES)
@transaction.atomic
def prepare_starter(*, organisation: Organisation, user: User, starter: Starter) -> dict[str, Any]:
    """Values for a new house; materials and the recipe that the organisation lacks are made first.

    A recipe or a material that was archived comes back.
    """
    values = starter_values(organisation=organisation, starter=starter)
    if values is None:
        made = {
            code: ensure_material(organisation=organisation, user=user, **as_written_by(material, organisation))
            for code, material in starter.materials.items()
        }
        for material in made.values():
            if material.archived_at:
                bring_back_material(organisation=organisation, user=user, material=material)
        # Whoever started from it when it had fewer materials has its recipe already, maybe as changed since.
        if not any_recipe_of(organisation=organisation).filter(slug=starter.recipe["slug"]).exists():
            recipe = as_written_by(starter.recipe, organisation)
            create_recipe(organisation=organisation, user=user, data=recipe_tubes(recipe, made))
        values = starter_values(organisation=organisation, starter=starter)
    assert values is not None
    if starter.recipe and values["recipe"].archived_at:
        bring_back_recipe(organisation=organisation, user=user, recipe=values["recipe"])
    return values
