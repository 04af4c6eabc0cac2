"""Two people, or eight, save one house at once: one save stands, every other person is told."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from html import unescape
from threading import Barrier

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.urls import reverse

from farmbuild.sites import services
from farmbuild.sites.models import House
from tests.factories import HouseFactory, MembershipFactory, UserFactory
from tests.sites.posting import edit_data, sent_by

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


def _signed_in(house) -> Client:
    client = Client()
    client.force_login(MembershipFactory(organisation=house.organisation).user)
    return client


def _told(page: str) -> list[tuple[str, ...]]:
    """Of each row of the table of changes: field, as opened, as saved, as sent. Read from the page, because what a
    test client keeps beside it is mixed up between threads."""
    rows = re.findall(r'<th scope="row" data-label="Field">.*?</tr>', page, re.DOTALL)
    return [
        tuple(unescape(cell).strip() for cell in re.findall(r"(?:Field\">|<div>)([^<]*)<", row))[:4] for row in rows
    ]


def _value(page: str, name: str) -> str:
    (tag,) = re.findall(rf'<input[^>]* name="{name}"[^>]*>', page)
    return unescape(re.search(r'value="([^"]*)"', tag)[1])


@pytest.mark.django_db(transaction=True)
def test_of_eight_who_save_at_once_one_stands_and_the_rest_are_told_what_changed():
    house = HouseFactory()
    address = reverse("sites:house-edit", args=[house.slug])
    clients = [_signed_in(house) for _ in range(THREADS)]
    opened = [edit_data(client, house) for client in clients]
    answers = at_once(lambda n: clients[n].post(address, opened[n] | {"length": f"{60 + 4 * n}'"}))
    assert sorted(answer.status_code for answer in answers) == [302] + [409] * (THREADS - 1)
    (winner,) = [n for n, answer in enumerate(answers) if answer.status_code == 302]
    assert House.objects.get().length == FOOT * (60 + 4 * winner)
    for n, answer in enumerate(answers):
        if n != winner:
            page = answer.content.decode()
            assert _told(page) == [("House length", "48'", f"{60 + 4 * winner}'", f"{60 + 4 * n}'")]
            assert _value(page, "length") == f"{60 + 4 * n}'"


@pytest.mark.django_db(transaction=True)
def test_whoever_looks_it_over_and_saves_again_gets_through():
    """Nobody saves over what they have not seen: all eight stand in turn, each told of those that came before."""
    house = HouseFactory()
    address = reverse("sites:house-edit", args=[house.slug])
    clients = [_signed_in(house) for _ in range(THREADS)]
    opened = [edit_data(client, house) for client in clients]

    def save(n: int) -> list[str]:
        seen, sent = [], opened[n] | {"name": f"N{n}"}
        while (answer := clients[n].post(address, sent)).status_code == 409:
            page = answer.content.decode()
            ((_, _, saved, typed),) = _told(page)
            assert typed == f"N{n}"
            seen.append(saved)
            sent |= {"opened": _value(page, "opened")}
        assert answer.status_code == 302
        return seen

    seen = at_once(save)
    names = {f"N{n}" for n in range(THREADS)}
    assert sum(not row for row in seen) == 1
    assert all(set(row) <= names - {f"N{n}"} for n, row in enumerate(seen))
    assert House.objects.get().name in names


@pytest.mark.django_db(transaction=True)
def test_of_eight_who_place_houses_at_once_one_stands_and_no_place_is_half_theirs():
    house = HouseFactory()
    other = HouseFactory(site=house.site, recipe=house.recipe)
    address = reverse("sites:site-places", args=[house.site.slug])
    clients = [_signed_in(house) for _ in range(THREADS)]
    sheets = [client.get(address).context["sheet"] for client in clients]
    opened = [{key: value for form in sheet.forms for key, value in sent_by(form).items()} for sheet in sheets]

    def place(n: int) -> int:
        typed = {f"h{row.pk}-{name}": f"{n + 1}'" for row in (house, other) for name in ("along", "across")}
        return clients[n].post(address, opened[n] | typed).status_code

    answers = at_once(place)
    assert sorted(answers) == [200] * (THREADS - 1) + [302]
    stands = FOOT * (answers.index(302) + 1)
    assert {row for each in House.objects.values_list("along", "across") for row in each} == {stands}


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
    conflict = answer.context["conflict"]
    assert conflict.stored.saver == "Odile Marrow"
    told = {change.label: (change.opened, change.stored, change.typed, change.both) for change in conflict.changes}
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
    assert form["post_depth"].value() == '30"'

    # Having seen it, the second saves over it.
    again = {bound.html_name: bound.value() for bound in form if bound.value() not in (None, False)}
    assert second.post(address, again).status_code == 302
    house.refresh_from_db()
    assert (house.length, house.name, house.post_depth) == (FOOT * 72, "North Field two", Decimal("762"))
    assert house.saved_by.first_name == "Basil"


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
    assert [change.stored for change in answer.context["conflict"].changes] == ["64'"]


@pytest.mark.parametrize("opened", ["", "no-such-seal"])
def test_without_the_opened_values_every_difference_is_shown(two, opened):
    first, second, house = two
    address = reverse("sites:house-edit", args=[house.slug])
    mine = edit_data(second, house)
    first.post(address, edit_data(first, house) | {"length": "60'"})
    answer = second.post(address, mine | {"opened": opened, "name": "Two"})
    assert {change.label for change in answer.context["conflict"].changes} == {"House length", "Name"}
    assert answer.context["form"]["name"].value() == "Two"


def test_a_house_archived_meanwhile_is_told(two):
    first, second, house = two
    address = reverse("sites:house-edit", args=[house.slug])
    mine = edit_data(second, house)
    first.post(reverse("sites:house-archive", args=[house.slug]))
    answer = second.post(address, mine | {"length": "72'"})
    assert answer.status_code == 409
    assert "The house is archived now." in answer.content.decode()
    assert [change.label for change in answer.context["conflict"].changes] == ["Archived"]
    house.refresh_from_db()
    assert house.archived_at is not None and house.length == FOOT * 48

    # Having seen it, the second saves, and the house stays archived.
    form = answer.context["form"]
    again = {bound.html_name: bound.value() for bound in form if bound.value() not in (None, False)}
    assert second.post(address, again).status_code == 302
    house.refresh_from_db()
    assert house.archived_at is not None and house.length == FOOT * 72
