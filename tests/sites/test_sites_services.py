"""Sites and houses are made, saved, copied and archived, and never hold what cannot be built."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from farmbuild.demo.diary import clock_at
from farmbuild.sites import services
from farmbuild.sites.bridge import SPEC_FIELDS
from farmbuild.sites.models import House, Site
from farmbuild.sites.names import numbered_on
from farmbuild.sites.selectors import archived_houses_of, houses_of, sites_of
from farmbuild.sites.signals import archiving
from tests.factories import (
    HouseFactory,
    MaterialFactory,
    MembershipFactory,
    OrganisationFactory,
    RecipeFactory,
    SiteFactory,
)

FOOT = Decimal("304.8")


@pytest.fixture
def site(organisation):
    return SiteFactory(organisation=organisation, name="North Field", slug="north-field")


@pytest.fixture
def house(site):
    return HouseFactory(site=site, name="North Field 2", slug="north-field-2")


def spec_of(house: House) -> dict:
    return {name: getattr(house, name) for name in SPEC_FIELDS}


# Sites


def test_names_become_addresses_kept_apart(organisation, user):
    make = {"organisation": organisation, "user": user}
    slugs = [services.create_site(name=name, **make).slug for name in ("North Field", "North-Field", "New", "北の畑")]
    assert slugs == ["north-field", "north-field-2", "new-2", "site"]
    elsewhere = OrganisationFactory()
    assert services.create_site(organisation=elsewhere, user=None, name="North Field").slug == "north-field"


def test_a_renamed_site_keeps_its_address(organisation, user, site):
    saved = services.save_site(organisation=organisation, user=user, site=site, data={"name": "Top Field"})
    assert (saved.name, saved.slug) == ("Top Field", "north-field")


def test_a_site_is_copied_with_its_houses(organisation, user, site, house):
    HouseFactory(site=site, name="Nursery", slug="nursery")
    gone = HouseFactory(site=site)
    services.archive_house(organisation=organisation, user=user, house=gone)
    copy = services.copy_site(organisation=organisation, user=user, site=site, name="South Field", with_houses=True)
    made = {row.name: row for row in copy.houses.all()}
    assert set(made) == {"South Field 2", "Nursery"}
    assert made["South Field 2"].slug == "south-field-2"
    assert made["Nursery"].slug == "nursery-2"
    assert spec_of(made["South Field 2"]) == spec_of(house)


def test_a_site_is_copied_without_its_houses(organisation, user, site, house):
    copy = services.copy_site(organisation=organisation, user=user, site=site, name="South Field", with_houses=False)
    assert not copy.houses.exists()


def test_an_archived_site_takes_its_houses_along_and_back(organisation, user, site, house):
    who = {"organisation": organisation, "user": user}
    services.archive_site(site=site, **who)
    assert not houses_of(organisation=organisation).exists()
    assert not sites_of(organisation=organisation).exists()
    assert archived_houses_of(organisation=organisation).get() == house
    services.bring_back_site(site=site, **who)
    assert houses_of(organisation=organisation).get() == house


# Houses


def test_a_house_is_created(organisation, user, site, house):
    made = services.create_house(
        organisation=organisation,
        user=user,
        site=site,
        name="North-Field 2",
        need_date=date(2027, 5, 3),
        data=spec_of(house),
    )
    assert made.slug == "north-field-2-2"
    assert made.saved_by == user


@pytest.mark.parametrize(
    ("change", "field", "number"),
    [
        ({"post_span": FOOT * 25}, "post_span", "25'"),
        ({"post_depth": FOOT * 5}, "post_length", "5'"),
        ({"spacing_wanted": FOOT * 60}, "spacing_wanted", "60'"),
        ({"post_span": Decimal("-1")}, "post_span", "0"),
        ({"length": Decimal(0)}, "length", "0"),
        ({"anchor_count": 10**12}, "anchor_count", "1000"),
        ({"end_walls": 2, "end_stud_spacing": FOOT * 2}, "end_frame_material", "end wall"),
        ({"front_door_count": 1, "front_door_width": FOOT * 3, "front_door_height": FOOT * 7}, "front_door_count", "1"),
    ],
)
def test_what_cannot_be_built_is_refused_at_the_field(organisation, user, site, house, change, field, number):
    with pytest.raises(ValidationError) as refused:
        services.create_house(
            organisation=organisation,
            user=user,
            site=site,
            name="Odd",
            need_date=date(2027, 5, 3),
            data=spec_of(house) | change,
        )
    assert number in " ".join(refused.value.message_dict[field])
    assert not House.objects.filter(name="Odd").exists()


def test_rows_of_another_organisation_are_refused(organisation, user, site, house):
    before = House.objects.values().get(pk=house.pk)
    for field, row in (
        ("recipe", RecipeFactory()),
        ("post_material", MaterialFactory(swaged=False)),
        ("site", SiteFactory()),
    ):
        with pytest.raises(ValidationError) as refused:
            services.save_house(organisation=organisation, user=user, house=house, data={field: row})
        assert set(refused.value.message_dict) == {field}
    assert House.objects.values().get(pk=house.pk) == before


def test_a_save_stores_who_saved_it(organisation, user, house):
    saved = services.save_house(organisation=organisation, user=user, house=house, data={"length": FOOT * 60})
    assert (saved.length, saved.saved_by) == (FOOT * 60, user)
    house.refresh_from_db()
    assert (house.length, house.saved_by) == (FOOT * 60, user)


def test_a_refused_save_stores_nothing(organisation, user, house):
    with pytest.raises(ValidationError):
        services.save_house(organisation=organisation, user=user, house=house, data={"post_span": FOOT * 30})
    house.refresh_from_db()
    assert (house.post_span, house.saved_by) == (FOOT * 12, None)


@pytest.mark.parametrize(
    ("name", "names"),
    [
        ("North Field 3", ["North Field 3", "North Field 4", "North Field 5"]),
        ("Nursery", ["Nursery", "Nursery 2", "Nursery 3"]),
        ("House 099", ["House 099", "House 100", "House 101"]),
    ],
)
def test_copies_are_numbered_on(name, names):
    assert numbered_on(name, 3) == names


def test_copies_pass_over_names_in_use(organisation, user, site, house):
    HouseFactory(site=site, name="north field 4", slug="north-field-4")
    made = services.copy_house(
        organisation=organisation,
        user=user,
        house=house,
        site=site,
        name="North Field 3",
        need_date=date(2027, 5, 31),
        copies=3,
    )
    assert [row.name for row in made] == ["North Field 3", "North Field 5", "North Field 6"]


def test_a_site_name_in_use_is_refused_with_a_free_one(organisation, user, site):
    make = {"organisation": organisation, "user": user}
    with pytest.raises(ValidationError, match="such as north field 2") as told:
        services.create_site(name="north field", **make)
    assert set(told.value.message_dict) == {"name"}
    other = services.create_site(name="South Field", **make)
    with pytest.raises(ValidationError, match="called North Field already"):
        services.save_site(site=other, data={"name": "North Field"}, **make)
    assert services.save_site(site=site, data={"name": "north Field"}, **make).name == "north Field"
    assert services.create_site(organisation=OrganisationFactory(), user=None, name="North Field").name


def test_a_site_comes_back_only_while_its_name_is_free(organisation, user, site):
    who = {"organisation": organisation, "user": user}
    services.archive_site(site=site, **who)
    services.create_site(name="North Field", **who)
    with pytest.raises(ValidationError, match="North Field already"):
        services.bring_back_site(site=site, **who)
    site.refresh_from_db()
    assert site.archived_at


def test_a_house_name_in_use_on_its_site_is_refused_at_the_field(organisation, user, site, house):
    who = {"organisation": organisation, "user": user}
    elsewhere = SiteFactory(organisation=organisation)
    copy = {"house": house, "need_date": date(2027, 5, 31), **who}
    with pytest.raises(ValidationError, match="such as North Field 3") as told:
        services.copy_house(site=site, name="North Field 2", **copy)
    assert set(told.value.message_dict) == {"name"}
    with pytest.raises(ValidationError, match="NORTH FIELD 2 on North Field already"):
        services.create_house(site=site, name="NORTH FIELD 2", need_date=date(2027, 5, 31), data=spec_of(house), **who)
    (moved,) = services.copy_house(site=elsewhere, name="North Field 2", **copy)
    with pytest.raises(ValidationError, match="North Field 2 on North Field already"):
        services.save_house(house=moved, data={"site": site}, **who)
    moved.refresh_from_db()
    assert moved.site == elsewhere
    assert services.save_house(house=house, data={"name": "North Field 2", "length": FOOT * 60}, **who)


def test_a_house_comes_back_only_while_its_name_is_free(organisation, user, site, house):
    who = {"organisation": organisation, "user": user}
    services.archive_house(house=house, **who)
    HouseFactory(site=site, name="North Field 2", slug="north-field-2b")
    with pytest.raises(ValidationError, match="North Field 2 on North Field already"):
        services.bring_back_house(house=House.objects.get(pk=house.pk), **who)


def test_a_copied_site_never_gives_one_name_twice(organisation, user, site, house):
    HouseFactory(site=site, name="Upper 2", slug="upper-2")
    copy = services.copy_site(organisation=organisation, user=user, site=site, name="Upper", with_houses=True)
    assert {row.name for row in copy.houses.all()} == {"Upper 2", "Upper 3"}


def test_copies_are_not_needed_past_the_last_day(organisation, user, site, house):
    copy = {"organisation": organisation, "user": user, "house": house, "site": site, "name": "X", "copies": 3}
    with pytest.raises(ValidationError, match=r"after 2100\. Type 2 or less") as told:
        services.copy_house(need_date=date(2100, 12, 26), days_apart=3, **copy)
    assert set(told.value.message_dict) == {"days_apart"}
    assert House.objects.count() == 1
    assert services.copy_house(need_date=date(2100, 12, 26), days_apart=2, **copy)[2].need_date == date(2100, 12, 30)


def test_several_copies_at_once(organisation, user, site, house):
    made = services.copy_house(
        organisation=organisation,
        user=user,
        house=house,
        site=site,
        name="North Field 3",
        need_date=date(2027, 5, 31),
        copies=3,
        days_apart=7,
    )
    assert [(row.name, row.slug, row.need_date) for row in made] == [
        ("North Field 3", "north-field-3", date(2027, 5, 31)),
        ("North Field 4", "north-field-4", date(2027, 6, 7)),
        ("North Field 5", "north-field-5", date(2027, 6, 14)),
    ]
    assert all(spec_of(row) == spec_of(house) for row in made)


@pytest.mark.parametrize("copies", [0, -1, 10**12])
def test_an_odd_number_of_copies_is_refused(organisation, user, site, house, copies):
    with pytest.raises(ValidationError):
        services.copy_house(
            organisation=organisation,
            user=user,
            house=house,
            site=site,
            name="X",
            need_date=date(2027, 5, 31),
            copies=copies,
        )
    assert House.objects.count() == 1


def test_a_house_comes_back_only_to_a_site_in_use(organisation, user, site, house):
    who = {"organisation": organisation, "user": user}
    services.archive_house(house=house, **who)
    services.archive_site(site=site, **who)
    house = House.objects.get(pk=house.pk)
    with pytest.raises(ValidationError, match="North Field"):
        services.bring_back_house(house=house, **who)
    services.bring_back_site(site=Site.objects.get(), **who)
    services.bring_back_house(house=House.objects.get(pk=house.pk), **who)
    assert houses_of(organisation=organisation).get() == house


def test_a_site_stays_in_use_while_someone_needs_one_of_its_houses(organisation, user, site, house):
    asked = []

    def refuse(sender, *, houses, **more):
        asked.extend(houses)
        raise ValidationError("Needed.")

    archiving.connect(refuse)
    try:
        with pytest.raises(ValidationError, match="Needed"):
            services.archive_site(site=site, organisation=organisation, user=user)
    finally:
        archiving.disconnect(refuse)
    site.refresh_from_db()
    assert site.archived_at is None
    assert asked == [house]


@pytest.mark.parametrize("act", ["archive", "copy", "copies"])
def test_many_houses_take_no_more_queries_than_a_few(organisation, user, act):
    recipe = RecipeFactory(organisation=organisation)

    def queries(houses: int) -> int:
        site = SiteFactory(organisation=organisation, slug=f"of-{houses}", name=f"Of {houses}")
        made = [HouseFactory(site=site, recipe=recipe, slug=f"of-{houses}-{n}", name=f"H {n}") for n in range(houses)]
        given = {"organisation": organisation, "user": user}
        days = {"need_date": made[0].need_date, "copies": houses}
        with CaptureQueriesContext(connection) as asked:
            if act == "archive":
                services.archive_site(site=site, **given)
            elif act == "copy":
                services.copy_site(site=site, name=f"Copy of {houses}", with_houses=True, **given)
            else:
                services.copy_house(house=made[0], site=site, name="Another", **days, **given)
        return len(asked)

    assert queries(3) == queries(30)


def test_copies_are_checked_and_kept_like_any_house(organisation, user, site, house):
    HouseFactory(site=site, name="North Field!", slug="north-field")
    copy = services.copy_site(organisation=organisation, user=user, site=site, name="South Field", with_houses=True)
    for row in copy.houses.all():
        row.full_clean()
        assert (row.saved_by, row.archived_at) == (user, None)
        assert row.saved_at is not None
    assert len({row.slug for row in House.objects.of(organisation)}) == House.objects.of(organisation).count()


def test_what_is_archived_twice_was_archived_the_first_time_and_by_its_own_alone(organisation, user, site, house):
    stranger, began = MembershipFactory(), timezone.now()
    other = {"organisation": stranger.organisation, "user": stranger.user}
    services.archive_site(site=site, **other)
    services.archive_house(house=house, **other)
    assert sites_of(organisation=organisation).get() == site and houses_of(organisation=organisation).get() == house
    for day in (0, 1):
        with clock_at(began + timedelta(days=day)):
            services.archive_house(organisation=organisation, user=user, house=house)
            services.archive_site(organisation=organisation, user=user, site=site)
    for row in (site, house):
        row.refresh_from_db()
        assert row.archived_at < began + timedelta(hours=1)
