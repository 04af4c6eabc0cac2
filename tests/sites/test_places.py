"""Where houses stand on their site, and where its north is: forms in both units, drawing, copies, two people."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from farmbuild.sites import services
from farmbuild.sites.models import House, Site
from farmbuild.sites.yard.places import north_of
from tests.factories import FOOT, HouseFactory, SiteFactory
from tests.reading import text_of
from tests.sites.posting import sent_by

pytestmark = pytest.mark.django_db
COMMA = {"unit_system": "metric", "decimal_sign": ","}


@pytest.fixture
def site(organisation):
    return SiteFactory(organisation=organisation, name="North Field", slug="north-field")


def houses_on_it(site, *places, **values) -> list[House]:
    """One house a place; a place is (along, across, turn) in feet, or None."""
    made = []
    for number, place in enumerate(places, 1):
        along, across, turn = place or (None, None, 0)
        where = {"along": along and along * FOOT, "across": across and across * FOOT, "ridge_turn": turn}
        where = where if along is None else where | {"along": along * FOOT, "across": across * FOOT}
        made.append(HouseFactory(site=site, name=f"House {number}", slug=f"house-{number}", **where, **values))
    return made


def address(site) -> str:
    return reverse("sites:site-places", args=[site.slug])


def opened(client, site) -> dict[str, str]:
    data: dict[str, str] = {}
    for form in client.get(address(site)).context["sheet"].forms:
        data |= sent_by(form)
    return data


def said_on(answer) -> str:
    return unescape(text_of(answer)).replace("\xa0", " ")


def placed(house) -> tuple:
    house.refresh_from_db()
    return house.along, house.across, house.ridge_turn


# Typed


def test_offsets_are_typed_for_all_houses_and_saved_at_once(signed_in, site, user):
    one, two = houses_on_it(site, None, None)
    data = opened(signed_in, site) | {
        f"h{one.pk}-along": "10", f"h{one.pk}-across": "8' 6\"", f"h{one.pk}-ridge_turn": "",
        f"h{two.pk}-along": "3 m", f"h{two.pk}-across": "30", f"h{two.pk}-ridge_turn": "345",
    }  # fmt: skip
    answer = signed_in.post(address(site), data, follow=True)
    assert answer.redirect_chain[-1][0] == site.get_absolute_url()
    assert placed(one) == (10 * FOOT, Decimal("2590.8"), 0)
    assert placed(two) == (Decimal(3000), 30 * FOOT, 345)
    assert one.saved_by == user
    # Empty again: not placed.
    data = opened(signed_in, site) | {f"h{one.pk}-along": "", f"h{one.pk}-across": ""}
    signed_in.post(address(site), data)
    assert placed(one)[:2] == (None, None)
    assert placed(two)[0] == 3000


def test_metres_with_a_decimal_comma_come_back_as_they_were_typed(signed_in, site, organisation):
    for name, value in COMMA.items():
        setattr(organisation, name, value)
    organisation.save()
    [one] = houses_on_it(site, None)
    data = opened(signed_in, site) | {f"h{one.pk}-along": "3,5", f"h{one.pk}-across": "12400 mm"}
    assert signed_in.post(address(site), data).status_code == 302
    assert placed(one)[:2] == (Decimal(3500), Decimal(12400))
    before = House.objects.get(pk=one.pk).saved_at
    assert signed_in.post(address(site), opened(signed_in, site)).status_code == 302
    assert House.objects.get(pk=one.pk).saved_at == before


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"along": "ten"}, "along", "ten"),
        ({"along": "12", "across": ""}, "across", "Type how far across too, or leave both empty"),
        ({"across": "12", "along": ""}, "along", "Type how far along too, or leave both empty"),
        ({"along": "12", "across": "0", "ridge_turn": "360"}, "ridge_turn", "Type a whole number from 0 to 359."),
        ({"along": "12", "across": "0", "ridge_turn": "-1"}, "ridge_turn", "Type a whole number from 0 to 359."),
        ({"along": "12", "across": "4000"}, "across", "No house stands farther than"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_nothing_is_stored(signed_in, site, typed, field, says):
    one, two = houses_on_it(site, None, None)
    data = opened(signed_in, site) | {f"h{one.pk}-along": "5", f"h{one.pk}-across": "5"}
    data |= {f"h{two.pk}-{name}": value for name, value in typed.items()}
    answer = signed_in.post(address(site), data)
    assert answer.status_code == 200
    wrong = {form.instance.pk: form.errors for form in answer.context["sheet"].forms}
    assert not wrong[one.pk]
    assert set(wrong[two.pk]) == {field}
    assert says in str(wrong[two.pk][field])
    # What was typed is still there, and nobody was placed.
    assert f'value="{typed.get(field, "")}"' in answer.content.decode() or not typed[field]
    assert placed(one)[0] is None


def test_the_database_refuses_half_a_place_and_more_than_a_turn(site):
    [one] = houses_on_it(site, (1, 1, 0))
    for wrong in ({"across": None}, {"along": None}, {"along": Decimal(-1)}, {"ridge_turn": 360}):
        with pytest.raises(IntegrityError), transaction.atomic():
            House.objects.filter(pk=one.pk).update(**wrong)
    for wrong in ({"plan_bearing": 360}, {"walkway": Decimal(-1)}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Site.objects.filter(pk=site.pk).update(**wrong)


def test_the_form_of_a_site_takes_its_north(signed_in, site):
    edit = reverse("sites:site-edit", args=[site.slug])
    data = sent_by(signed_in.get(edit).context["form"])
    wrong = signed_in.post(edit, data | {"plan_bearing": "400"}).context["form"]
    assert wrong.errors == {"plan_bearing": ["Type a whole number from 0 to 359."]}
    signed_in.post(edit, data | {"plan_bearing": "20", "corner_stake": "gate stake", "walkway": "4"})
    site.refresh_from_db()
    assert (site.plan_bearing, site.corner_stake, site.walkway) == (20, "gate stake", 4 * FOOT)
    # Nought is north, and not "not known".
    data = sent_by(signed_in.get(edit).context["form"])
    signed_in.post(edit, data | {"plan_bearing": "0"})
    site.refresh_from_db()
    assert site.plan_bearing == 0
    signed_in.post(edit, sent_by(signed_in.get(edit).context["form"]) | {"plan_bearing": ""})
    site.refresh_from_db()
    assert site.plan_bearing is None


# Two people


def test_the_second_of_two_is_told_and_nothing_typed_is_lost(signed_in, site, organisation, user):
    one, two = houses_on_it(site, (1, 1, 0), (1, 40, 0))
    mine = opened(signed_in, site) | {f"h{one.pk}-along": "5", f"h{two.pk}-along": "9"}
    data = {"along": 3 * FOOT, "across": FOOT, "ridge_turn": 0}
    services.place_house(organisation=organisation, user=user, house=one, data=data)
    answer = signed_in.post(address(site), mine)
    assert answer.status_code == 200
    assert "Someone else saved this while you were typing." in text_of(answer)
    assert "was 1', now 3' (you typed 5', which stays)" in said_on(answer)
    # One Save is one transaction: the other house waits for it too.
    assert placed(one)[0] == 3 * FOOT
    assert placed(two)[0] == FOOT
    again: dict[str, str] = {}
    for form in answer.context["sheet"].forms:
        again |= {bound.html_name: str(bound.value()) for bound in form if bound.value() is not None}
    assert signed_in.post(address(site), again).status_code == 302
    assert placed(one)[0] == 5 * FOOT
    assert placed(two)[0] == 9 * FOOT


def test_sent_twice_it_is_saved_once(signed_in, site):
    [one] = houses_on_it(site, None)
    data = opened(signed_in, site) | {f"h{one.pk}-along": "5", f"h{one.pk}-across": "5"}
    assert signed_in.post(address(site), data).status_code == 302
    saved = House.objects.get(pk=one.pk).saved_at
    assert signed_in.post(address(site), data).status_code == 302
    assert House.objects.get(pk=one.pk).saved_at == saved


def test_a_house_that_came_meanwhile_stays_as_it_is(signed_in, site):
    [one] = houses_on_it(site, None)
    data = opened(signed_in, site) | {f"h{one.pk}-along": "5", f"h{one.pk}-across": "5"}
    late = HouseFactory(site=site, name="Late", slug="late")
    assert signed_in.post(address(site), data).status_code == 302
    assert placed(one)[0] == 5 * FOOT
    assert placed(late) == (None, None, 0)


# Warned, not refused


@pytest.mark.parametrize(
    ("second", "says"),
    [
        ((0, 6, 0), "House 1 and House 2 lie over each other."),
        ((10, 10, 30), "House 1 and House 2 lie over each other."),
        ((0, 12, 0), "House 1 and House 2 touch. The walkway is 3'."),
        ((0, 14, 0), "House 1 and House 2 stand 2' apart, less than the walkway of 3'."),
        ((0, 15, 0), ""),
    ],
)
def test_houses_too_near_are_named_with_the_way_between(signed_in, site, second, says):
    houses_on_it(site, (0, 0, 0), second)
    for page in (site.get_absolute_url(), address(site)):
        told = said_on(signed_in.get(page))
        assert (says in told) if says else ("Too near" not in told)


def test_the_walkway_is_that_of_the_site(signed_in, site, organisation):
    houses_on_it(site, (0, 0, 0), (0, 15, 0))
    Site.objects.filter(pk=site.pk).update(walkway=5 * FOOT)
    assert "less than the walkway of 5'" in said_on(signed_in.get(site.get_absolute_url()))


# Drawn


def test_houses_are_drawn_where_they_stand_to_the_scale_of_the_drawing(signed_in, site):
    one, two = houses_on_it(site, (4, 6, 0), (60, 30, 90))
    answer = signed_in.get(site.get_absolute_url())
    page = answer.content.decode()
    units = float(re.search(r'data-units-a-mm="([\d.e-]+)"', page)[1])
    cross = re.search(r'<line class="axis" x1="([-\d.]+)" y1="([-\d.]+)"', page)
    stake = [float(cross[1]), float(cross[2])]
    for house in (one, two):
        drawn = page[page.index(f'aria-label="{house.name[-1]} {house.name}') :]
        x, y, turn = (
            float(n) for n in re.search(r"translate\(([-\d.]+) ([-\d.]+)\) rotate\(([-\d.]+)\)", drawn).groups()
        )
        assert (x - stake[0]) / units == pytest.approx(float(house.along), abs=10)
        assert (stake[1] - y) / units == pytest.approx(float(house.across), abs=10)
        assert turn == house.ridge_turn
        wide = float(re.search(r'<rect class="coming" x="[-\d.]+" y="[-\d.]+" width="([\d.]+)"', drawn)[1])
        assert wide / units == pytest.approx(float(house.length), abs=10)
    assert "12' × 48'; 4' along, 6' across" in said_on(answer)


def test_the_page_of_a_house_says_where_it_stands(signed_in, site):
    one, two = houses_on_it(site, (4, 6, 90), None)
    assert "From the corner stake: 4' along, 6' across, ridge turned 90°." in said_on(
        signed_in.get(one.get_absolute_url())
    )
    assert "From the corner stake" not in said_on(signed_in.get(two.get_absolute_url()))


def test_north_is_drawn_where_it_is_known(signed_in, site):
    houses_on_it(site, (4, 6, 0))
    assert "north-arrow" not in signed_in.get(site.get_absolute_url()).content.decode()
    Site.objects.filter(pk=site.pk).update(plan_bearing=90)
    page = signed_in.get(site.get_absolute_url()).content.decode()
    # East at the top: north lies to the left, so the arrow is level and runs to the left.
    x1, y1, x2, y2 = (
        float(n)
        for n in re.search(r'north-arrow" x1="([-\d.]+)" y1="([-\d.]+)" x2="([-\d.]+)" y2="([-\d.]+)"', page).groups()
    )
    assert y1 == pytest.approx(y2, abs=0.02)
    assert x2 < x1 - 30


def test_the_north_of_a_strip_follows_the_turn_of_its_house(site):
    Site.objects.filter(pk=site.pk).update(plan_bearing=20)
    one, two, three = houses_on_it(site, (0, 0, 0), (0, 50, 90), None)
    for house in (one, two, three):
        house.site.refresh_from_db()
    assert [north_of(house) for house in (one, two, three)] == [340, 250, None]


def test_the_first_page_shows_a_site_together_where_all_are_placed_and_it_fits(signed_in, site):
    _, two = houses_on_it(site, (4, 6, 0), (4, 26, 0))
    page = signed_in.get(reverse("sites:houses"))
    [strip] = page.context["yard"].strips
    assert strip.together
    assert all(plan.svg == "" for plan in strip.plans)
    assert "At their places: 1 House 1 and 2 House 2." in strip.together.replace("\xa0", " ")
    # To the scale of the yard: the longest house is as wide as the strip.
    assert 'width="360.0"' in strip.together or 'width="360"' in strip.together
    # One that has no place, or too far away: strips, as before.
    for wrong in ({"along": None, "across": None}, {"along": 40 * FOOT}):
        House.objects.filter(pk=two.pk).update(**{"along": 4 * FOOT, "across": 26 * FOOT} | wrong)
        [strip] = signed_in.get(reverse("sites:houses")).context["yard"].strips
        assert not strip.together
        assert all(plan.svg for plan in strip.plans)


# Copies, archive, another site


def test_a_copied_house_is_not_placed_over_the_first(site, organisation, user):
    [one] = houses_on_it(site, (4, 6, 10))
    given = {"organisation": organisation, "user": user, "house": one, "site": site, "need_date": one.need_date}
    copies = services.copy_house(**given, name="Copy", copies=2)
    assert {(copy.along, copy.across, copy.ridge_turn) for copy in copies} == {(None, None, 0)}


def test_a_copied_site_keeps_the_places_and_asks_for_its_own_north(site, organisation, user):
    houses_on_it(site, (4, 6, 10))
    Site.objects.filter(pk=site.pk).update(plan_bearing=20, corner_stake="gate", walkway=4 * FOOT)
    site.refresh_from_db()
    copy = services.copy_site(organisation=organisation, user=user, site=site, name="South", with_houses=True)
    assert (copy.plan_bearing, copy.corner_stake, copy.walkway) == (None, "", 4 * FOOT)
    [house] = copy.houses.all()
    assert placed(house) == (4 * FOOT, 6 * FOOT, 10)


def test_who_moves_to_another_site_has_no_place_there(site, organisation, user):
    [one] = houses_on_it(site, (4, 6, 10))
    other = SiteFactory(organisation=organisation)
    services.save_house(organisation=organisation, user=user, house=one, data={"name": "Renamed"})
    assert placed(one) == (4 * FOOT, 6 * FOOT, 10)
    services.save_house(organisation=organisation, user=user, house=one, data={"site": other})
    assert placed(one) == (None, None, 0)


def test_an_archived_house_is_in_nobodys_way_and_comes_back_where_it_was(signed_in, site, organisation, user):
    one, _ = houses_on_it(site, (0, 0, 0), (0, 6, 0))
    services.archive_house(organisation=organisation, user=user, house=one)
    assert "Too near" not in text_of(signed_in.get(site.get_absolute_url()))
    one.refresh_from_db()
    services.bring_back_house(organisation=organisation, user=user, house=one)
    assert "House 1 and House 2 lie over each other." in text_of(signed_in.get(site.get_absolute_url()))


def test_a_place_is_of_the_organisation_alone(site, user):
    foreign = HouseFactory()
    data = {"along": FOOT, "across": FOOT, "ridge_turn": 0}
    with pytest.raises(House.DoesNotExist):
        services.place_house(organisation=site.organisation, user=user, house=foreign, data=data)
    assert placed(foreign) == (None, None, 0)


def test_pages_of_a_site_ask_no_more_of_many_houses(signed_in, site, django_assert_max_num_queries):
    houses_on_it(site, *[(0, 20 * n, 0) for n in range(30)])
    for page in (site.get_absolute_url(), address(site)):
        with django_assert_max_num_queries(60):
            answer = signed_in.get(page)
        assert answer.status_code == 200
        # The plan has all of them, whatever the rows below it have.
        assert answer.content.decode().count('class="house-plan') == 30
        assert "House 30" in text_of(answer)
    assert len(answer.context["sheet"].forms) == 25
    assert len(signed_in.get(address(site), {"page": 2}).context["sheet"].forms) == 5
