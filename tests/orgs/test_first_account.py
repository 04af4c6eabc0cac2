"""From nothing to a signed-in owner: the first page of a new database."""

from __future__ import annotations

import socket
from threading import Thread

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.urls import reverse

from farmbuild.orgs.first_account import is_open, open_first_account, set_up_code
from farmbuild.orgs.models import Membership, Organisation, User
from tests.factories import MembershipFactory, OrganisationFactory, UserFactory

pytestmark = pytest.mark.django_db

TYPED = {
    "name": "Ada Invented",
    "username": "ada",
    "password": "pipe-and-plastic",
    "organisation": "Alder Bank (invented)",
    "country": "AT",
}
PAGE = "/set-up/"


def test_whoever_comes_first_is_asked_who_they_are_and_goes_on_to_the_first_site(client) -> None:
    page = client.get("/", follow=True)
    assert page.redirect_chain[-1][0] == PAGE
    page = client.post(PAGE, TYPED, follow=True)
    assert page.redirect_chain[-1][0] == reverse("sites:site-new")
    farm = Organisation.objects.get()
    # ISO 4217 and the zone database have euros and Vienna for Austria; it writes a decimal comma.
    assert (farm.name, farm.country, farm.currency, farm.unit_system, farm.decimal_sign, farm.time_zone) == (
        TYPED["organisation"], "AT", "EUR", "metric", ",", "Europe/Vienna",
    )  # fmt: skip
    assert (farm.kerf, farm.keep_from) == (3, 600)
    ada = User.objects.get()
    assert (ada.get_full_name(), ada.check_password(TYPED["password"])) == ("Ada Invented", True)
    assert ada.memberships.get().role == Membership.Role.OWNER
    assert ada.has_perm("orgs.change_membership")


def test_the_second_is_asked_to_sign_in(client) -> None:
    client.post(PAGE, TYPED)
    client.logout()
    assert not is_open()
    assert client.get(PAGE).headers["Location"] == reverse("sign-in")
    client.post(PAGE, TYPED | {"username": "bea"})
    assert User.objects.count() == Organisation.objects.count() == 1
    page = client.get(reverse("sign-in"))
    assert page.status_code == 200 and "farm of your own" not in page.content.decode()


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("name", "", "Type your name."),
        ("username", "", "Type the name that you sign in with."),
        ("username", "ada berg", "without spaces"),
        ("password", "12345678", "numeric"),
        ("password", "short", "12 characters"),
        ("organisation", " ", "Type what your farm, cooperative or firm is called."),
        ("country", "", "Choose the country in which you build."),
        ("country", "XX", "not on the list any more"),
    ],
)
def test_what_cannot_be_used_is_refused_at_its_field_and_nothing_is_stored(client, field, typed, said) -> None:
    page = client.post(PAGE, TYPED | {field: typed})
    assert said in " ".join(page.context["form"].errors[field])
    assert list(page.context["form"].errors) == [field]
    assert not User.objects.exists() and not Organisation.objects.exists()
    shown = page.content.decode()
    assert all(f'value="{value}"' in shown for name, value in TYPED.items() if name not in (field, "country"))


def test_who_is_of_an_invented_season_and_of_a_real_farm_keeps_it_shut():
    member = MembershipFactory(organisation=OrganisationFactory(invented=True))
    assert is_open()
    MembershipFactory(user=member.user)
    assert not is_open()


def test_an_organisation_of_another_country_begins_in_feet(client) -> None:
    client.post(PAGE, TYPED | {"country": "-"})
    farm = Organisation.objects.get()
    assert (farm.country, farm.unit_system, farm.time_zone) == ("", "imperial", "UTC")


def test_a_server_asks_for_the_code_that_its_command_prints(client, settings, capsys) -> None:
    settings.PUBLIC_HOSTS = ["houses.example.org"]
    call_command("start")
    said = capsys.readouterr().out
    assert set_up_code() in said and "https://houses.example.org/" in said
    page = client.post(PAGE, TYPED | {"code": "AAAA-AAAA"})
    assert list(page.context["form"].errors) == ["code"]
    assert list(client.post(PAGE, TYPED).context["form"].errors) == ["code"]
    assert not User.objects.exists()
    client.post(PAGE, TYPED | {"code": f" {set_up_code().lower().replace('-', ' ')}"})
    assert User.objects.get().username == "ada"
    call_command("start")
    assert set_up_code() not in capsys.readouterr().out


def test_beside_an_invented_season_there_is_room_for_one_s_own(client) -> None:
    MembershipFactory(organisation=OrganisationFactory(invented=True))
    # A member of the invented cooperative, who only visits.
    UserFactory(visitor=True)
    page = client.get("/", follow=True)
    assert page.redirect_chain[-1][0].startswith(reverse("sign-in"))
    assert "farm of your own" in page.content.decode()
    client.post(PAGE, TYPED)
    assert Organisation.objects.filter(invented=False).get().name == TYPED["organisation"]


def test_people_of_a_real_farm_close_it(client) -> None:
    MembershipFactory()
    assert client.get(PAGE).headers["Location"] == reverse("sign-in")


def test_an_administrator_without_an_organisation_closes_it_too() -> None:
    UserFactory()
    assert not is_open()


def test_the_command_looks_at_port_and_folder_before_it_works(tmp_path, settings) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(
            CommandError, match=rf"Port {port} is taken. Give another: manage.py start --port {port + 1}"
        ):
            call_command("start", "--port", str(port))
    with pytest.raises(CommandError, match="is no port"):
        call_command("start", "--port", "70000")
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    settings.DATA_DIR = blocked
    with pytest.raises(CommandError, match="Nothing can be written to"):
        call_command("start", "--no-serve")


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_who_come_at_once_one_is_first() -> None:
    told: list[str] = []

    def one(number: int) -> None:
        try:
            told.append(open_first_account(**TYPED | {"username": f"ada{number}"}).username)
        except ValidationError as error:
            told.extend(error.messages)
        finally:
            connection.close()

    threads = [Thread(target=one, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum("set this server up already" in words for words in told) == 3, told
    assert User.objects.count() == Organisation.objects.count() == 1
