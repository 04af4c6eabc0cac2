"""The pile that is tapped on the phone: any number within reach, nothing done by a tap, and once however often sent."""

from __future__ import annotations

import re

import pytest
from django.http import QueryDict

from farmbuild.stock.counts.services import start_count
from farmbuild.stock.labels.taps import taken_in, worths
from farmbuild.stock.models import Lot, Movement
from tests.factories import LotFactory, MaterialFactory, MembershipFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(organisation):
    return LotFactory(material=MaterialFactory(organisation=organisation), reference="RACK-1", on_hand=20)


def marks(client, reference="RACK-1"):
    page = client.get(f"/l/{reference}/").content.decode()
    return [int(worth) for worth in re.findall(r'name="taken" value="(\d+)"', page)]


def reachable(sizes: list[int]) -> set[int]:
    sums = {0}
    for size in sizes:
        sums |= {size + one for one in sums}
    return sums


@pytest.mark.parametrize("there", [1, 5, 39, 40, 41, 49, 50, 100, 199, 200, 201, 300, 1_940, 2_199])
def test_every_number_can_be_tapped_with_few_marks(there):
    sizes = worths(there)
    assert sum(sizes) == there
    assert reachable(sizes) == set(range(there + 1))
    assert len(sizes) <= 75


def test_of_thousands_the_rest_is_typed(signed_in, lot):
    LotFactory(material=lot.material, reference="MANY", on_hand=10_000)
    assert sum(marks(signed_in, "MANY")) == 2_199
    assert "For more, press Issue and type the number." in signed_in.get("/l/MANY/").content.decode()
    assert "For more" not in signed_in.get("/l/RACK-1/").content.decode()


def test_a_circle_a_stick_with_a_name_to_be_read(signed_in, lot):
    assert marks(signed_in) == [1] * 20
    page = signed_in.get("/l/RACK-1/").content.decode()
    assert [f'aria-label="stick {n}"' in page for n in (0, 1, 20, 21)] == [False, True, True, False]


def test_what_was_tapped_goes_along_and_is_posted_once(signed_in, lot):
    address = f"/stock/lots/{lot.pk}/issue/?label=1&taken=1&taken=1&taken=5"
    form = signed_in.get(address).context["form"]
    assert form["quantity"].value() == "7"
    lot.refresh_from_db()
    assert lot.on_hand == 20
    sent = {"quantity": "7", "reason": "gate", "once": "one-token"}
    assert signed_in.post(address, sent).url == "/l/RACK-1/"
    assert signed_in.post(address, sent).url == "/l/RACK-1/"
    lot.refresh_from_db()
    assert lot.on_hand == 13
    assert marks(signed_in) == [1] * 13
    assert Movement.objects.filter(kind="issue").count() == 1
    # From a page that was open all the time: what is not there any more is refused, and nothing is lost.
    late = signed_in.post(address, sent | {"quantity": "14", "once": "another"})
    assert "13 pieces left" in late.context["form"].errors["quantity"][0]
    assert late.context["form"]["quantity"].value() == "14"


def test_lending_and_cutting_take_the_number_along(signed_in, lot):
    for what, field in (("lend", "quantity"), ("cut", "sticks")):
        form = signed_in.get(f"/stock/lots/{lot.pk}/{what}/?label=1&taken=1&taken=1").context["form"]
        assert form[field].value() == "2"
    assert signed_in.get(f"/stock/lots/{lot.pk}/cut/?label=1").context["form"]["sticks"].value() == 1


@pytest.mark.parametrize(
    ("query", "number"),
    [
        ("", ""),
        ("taken=1&taken=1", "2"),
        ("taken=100&taken=5&taken=1", "106"),
        ("taken=7&taken=-1&taken=x&taken=", ""),
        ("taken=1&quantity=9", "9"),
        ("taken=999999999999", ""),
    ],
)
def test_only_what_the_page_has_is_counted(query, number):
    assert taken_in(QueryDict(query)) == number


def test_screws_empty_lots_and_a_blind_count_have_nothing_to_tap(signed_in, lot, organisation, user):
    screw = MaterialFactory(organisation=organisation, kind="fastener")
    LotFactory(material=screw, length=None, reference="SCREW", on_hand=500)
    LotFactory(material=lot.material, reference="NONE", on_hand=0)
    assert marks(signed_in, "SCREW") == marks(signed_in, "NONE") == []
    assert f'href="/stock/lots/{Lot.objects.get(reference="SCREW").pk}/issue/?label=1"' in (
        signed_in.get("/l/SCREW/").content.decode()
    )
    start_count(organisation=organisation, user=user, places=[lot.place], blind=True)
    assert marks(signed_in) == []


def test_another_organisation_taps_nothing(client, lot):
    client.force_login(MembershipFactory().user)
    assert client.get("/l/RACK-1/").status_code == 404
    assert client.get(f"/stock/lots/{lot.pk}/issue/?taken=1").status_code == 404
