"""Two people, or eight, save one house at once: one save stands, every other person is told."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Barrier

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.urls import reverse

from farmbuild.sites import services
from farmbuild.sites.models import House
from tests.factories import HouseFactory, MembershipFactory, UserFactory
from tests.sites.posting import edit_data

FOOT = Decimal("304.8")
THREADS = 8


def at_once(work) -> list:
    """Results of ``work(n)`` in threads that start together; what they raise is raised here."""
    start = Barrier(THREADS, timeout=30)

    def alone(n: int):
        try:
            start.wait()
            return work(n)
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(alone, range(THREADS)))


@pytest.mark.django_db(transaction=True)
def test_of_many_saves_of_one_version_exactly_one_stands():
    house = HouseFactory()
    user = MembershipFactory(organisation=house.organisation).user

    def save(n: int) -> bool:
        try:
            services.save_house(
                organisation=house.organisation,
                user=user,
                house=house,
                data={"length": FOOT * (40 + 4 * n)},
                version=1,
            )
        except services.HouseChanged:
            return False
        return True

    stood = at_once(save)
    assert stood.count(True) == 1
    stored = House.objects.get()
    assert stored.version == 2
    assert stored.length == FOOT * (40 + 4 * stood.index(True))


@pytest.mark.django_db(transaction=True)
def test_saves_that_try_again_with_the_new_version_all_stand():
    """Nobody's save is lost: the version counts every one of them."""
    house = HouseFactory()
    user = MembershipFactory(organisation=house.organisation).user

    def save(n: int) -> None:
        version = 1
        while True:
            try:
                services.save_house(
                    organisation=house.organisation, user=user, house=house, data={"name": f"N{n}"}, version=version
                )
            except services.HouseChanged as changed:
                version = changed.house.version
            else:
                return

    at_once(save)
    assert House.objects.get().version == 1 + THREADS


def _copy_of(house, user, name: str) -> House:
    (made,) = services.copy_house(
        organisation=house.organisation,
        user=user,
        house=house,
        site=house.site,
        name=name,
        need_date=house.need_date,
    )
    return made


@pytest.mark.django_db(transaction=True)
def test_houses_of_like_names_made_at_once_get_addresses_of_their_own():
    house = HouseFactory(name="Creek 1", slug="creek-1")
    user = MembershipFactory(organisation=house.organisation).user
    made = at_once(lambda n: _copy_of(house, user, f"Creek{'.' * (n + 1)} 1").slug)
    assert sorted(made) == [f"creek-1-{n}" for n in range(2, THREADS + 2)]


@pytest.mark.django_db(transaction=True)
def test_of_houses_of_one_name_made_at_once_one_is_stored_and_the_rest_are_told():
    house = HouseFactory(name="Creek 1", slug="creek-1")
    user = MembershipFactory(organisation=house.organisation).user

    def copy(n: int) -> str:
        try:
            return _copy_of(house, user, "Creek 2").slug
        except ValidationError as error:
            return error.message_dict["name"][0]

    made = at_once(copy)
    told = f"There is a house called Creek 2 on {house.site} already. Type another name, such as Creek 3."
    assert sorted(made) == sorted(["creek-2"] + [told] * (THREADS - 1))
    assert House.objects.filter(name="Creek 2").count() == 1


@pytest.fixture
def two(db):
    """The first person, the second one, and their house."""
    house = HouseFactory(name="North Field 2", slug="north-field-2")
    odile = UserFactory(first_name="Odile", last_name="Marrow")
    basil = UserFactory(first_name="Basil")
    clients = []
    for person in (odile, basil):
        MembershipFactory(organisation=house.organisation, user=person)
        client = Client()
        client.force_login(person)
        clients.append(client)
    return (*clients, house)


def test_the_second_is_told_what_changed_and_loses_nothing(two):
    first, second, house = two
    address = reverse("sites:house-edit", args=[house.slug])
    theirs, mine = edit_data(first, house), edit_data(second, house)
    assert first.post(address, theirs | {"length": "60'", "post_depth": '30"'}).status_code == 302

    answer = second.post(address, mine | {"length": "72'", "name": "North Field two"})
    assert answer.status_code == 409
    clash = answer.context["clash"]
    assert clash.who == "Odile Marrow"
    told = {change.label: (change.opened, change.stored, change.typed, change.both) for change in clash.changes}
    assert told == {
        "House length": ("48'", "60'", "72'", True),
        "Ground post depth in the ground": ("2'", "2' 6\"", "2'", False),
    }
    page = answer.content.decode()
    for text in ("Odile Marrow", "60&#x27;", "72&#x27;", "Save over it"):
        assert text in page
    house.refresh_from_db()
    assert (house.length, house.name) == (FOOT * 60, "North Field 2")

    # What the second typed stands in the form; where nothing was typed, the first's value does.
    form = answer.context["form"]
    assert (form["length"].value(), form["name"].value()) == ("72'", "North Field two")
    assert form["post_depth"].value() == "2' 6\""

    # Having seen it, the second saves over it.
    again = {bound.html_name: bound.value() for bound in form if bound.value() not in (None, False)}
    assert second.post(address, again).status_code == 302
    house.refresh_from_db()
    assert (house.length, house.name, house.post_depth) == (FOOT * 72, "North Field two", Decimal("762"))
    assert house.version == 3


def test_a_third_save_in_between_is_told_again(two):
    first, second, house = two
    address = reverse("sites:house-edit", args=[house.slug])
    mine = edit_data(second, house)
    first.post(address, edit_data(first, house) | {"length": "60'"})
    answer = second.post(address, mine | {"length": "72'"})
    first.post(address, edit_data(first, house) | {"length": "64'"})
    form = answer.context["form"]
    again = {bound.html_name: bound.value() for bound in form if bound.value() not in (None, False)}
    answer = second.post(address, again)
    assert answer.status_code == 409
    assert [change.stored for change in answer.context["clash"].changes] == ["64'"]


@pytest.mark.parametrize("opened", ["", "no-such-seal"])
def test_without_the_opened_values_every_difference_is_shown(two, opened):
    first, second, house = two
    address = reverse("sites:house-edit", args=[house.slug])
    mine = edit_data(second, house)
    first.post(address, edit_data(first, house) | {"length": "60'"})
    answer = second.post(address, mine | {"opened": opened, "name": "Two"})
    assert {change.label for change in answer.context["clash"].changes} == {"House length", "Name"}
    assert answer.context["form"]["name"].value() == "Two"


@pytest.mark.parametrize("version", ["", "-1", "0", "99", "9" * 30])
def test_an_odd_version_never_saves(two, version):
    first, _, house = two
    address = reverse("sites:house-edit", args=[house.slug])
    answer = first.post(address, edit_data(first, house) | {"length": "60'", "version": version})
    assert answer.status_code == 409
    house.refresh_from_db()
    assert house.length == FOOT * 48


def test_a_house_archived_meanwhile_is_told(two):
    first, second, house = two
    address = reverse("sites:house-edit", args=[house.slug])
    mine = edit_data(second, house)
    first.post(reverse("sites:house-archive", args=[house.slug]))
    answer = second.post(address, mine | {"length": "72'"})
    assert answer.status_code == 409
    assert "The house is archived now." in answer.content.decode()
