"""The organisation stands in the address: whose it is, what has none, and how addresses of before lead on."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from urllib.parse import quote

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, connections
from django.test.utils import CaptureQueriesContext
from django.urls import get_script_prefix, reverse, set_script_prefix
from django.utils import timezone

from farmbuild.access.models import SecondStep
from farmbuild.orgs.accounts import create_organisation
from farmbuild.orgs.acts import READY_SETS
from farmbuild.orgs.addresses import mounted_at, reverse_outside, split_address
from farmbuild.orgs.models import Membership, Organisation
from farmbuild.stock.models import ImportDraft
from tests.client import PlainClient, leads_out, plain
from tests.factories import HouseFactory, LotFactory, MaterialFactory, MembershipFactory, SiteFactory, UserFactory
from tests.reading import text_of
from tests.signing_in import keeper_of_the_server

pytestmark = pytest.mark.django_db
_TOKENS = re.compile(r'value="\w{32,}"')
NOWHERE = "There is no such page"


@pytest.fixture
def one(signed_in):
    """Signed in, with one organisation; addresses are left as they are."""
    signed_in.slug()
    return plain(signed_in)


@pytest.fixture
def other(user):
    """A second organisation of the same person, in which she looks on."""
    return MembershipFactory(user=user, role=Membership.Role.LOOKS, organisation__name="Other Farm").organisation


@pytest.fixture
def two(client, user, other):
    client.force_login(user)
    return plain(client)


def house_in(organisation, name):
    return HouseFactory(site=SiteFactory(organisation=organisation), name=name, slug="north-1")


@pytest.mark.parametrize(
    ("path", "slug", "rest"),
    [
        ("/of/mossy/houses/", "mossy", "/houses/"),
        ("/of/mossy/", "mossy", "/"),
        ("/of/mossy", "mossy", None),
        ("/of/a_B-9//x", "a_B-9", "//x"),
        ("/of/", "", None),
        ("/of//houses/", "", None),
        ("/of/a b/houses/", "", None),
        ("/of/é/houses/", "", None),
        ("/offers/", "", None),
        ("/houses/of/mossy/", "", None),
    ],
)
def test_what_an_address_begins_with(path, slug, rest):
    assert split_address(path) == (slug, rest)


def test_a_page_leads_to_pages_of_its_organisation(one, organisation):
    of = f"/of/{organisation.slug}"
    page = one.get(f"{of}/houses/").content.decode()
    links = re.findall(r'<a\b[^>]*href="(/[^"]*)"', page)
    assert len(links) > 10 and all(link.startswith(f"{of}/") for link in links)
    assert f'action="{of}/sign-out/"' in page and 'href="/static/farmbuild/look.css"' in page
    assert one.get(of)["Location"] == f"{of}/"
    assert one.get(f"{of}/houses")["Location"] == f"{of}/houses/"
    assert one.get(f"{of}/stock")["Location"] == f"{of}/stock/"
    # Addresses of before with another word in them, and what they carried.
    assert one.get(f"{of}/crew/templates/?page=2")["Location"] == f"{of}/crew/steps/?page=2"


def test_what_a_form_did_leads_on_in_its_organisation(one, organisation):
    of = f"/of/{organisation.slug}"
    data = {"name": "North field", "latitude": "", "longitude": ""}
    answer = one.post(f"{of}/sites/new/", data)
    assert (answer.status_code, answer["Location"]) == (302, f"{of}/sites/north-field/")


def test_a_page_of_others_is_as_one_that_is_not_there(one, organisation):
    MembershipFactory(organisation__slug="theirs")
    for method in (one.get, one.post):
        theirs, nobodys = method("/of/theirs/houses/"), method("/of/nobodys/houses/")
        assert theirs.status_code == nobodys.status_code == 404
        assert NOWHERE in text_of(theirs)
        theirs, nobodys = (_TOKENS.sub("", text_of(answer)) for answer in (theirs, nobodys))
        assert theirs == nobodys
    assert one.get("/of/theirs/guide/").status_code == 404


def test_whoever_is_not_signed_in_is_told_of_none(organisation):
    stranger = PlainClient()
    for slug in (organisation.slug, "nobodys"):
        answer = stranger.get(f"/of/{slug}/houses/?page=2")
        assert answer["Location"] == f"/sign-in/?next={quote(f'/of/{slug}/houses/?page=2', safe='/')}"
        assert stranger.get(f"/of/{slug}/guide/?a=b")["Location"] == "/guide/?a=b"
    assert stranger.get("/houses/")["Location"] == "/sign-in/?next=/houses/"


def test_signing_in_leads_back_to_the_address(user, organisation):
    user.set_password("a long enough password")
    user.save()
    client = PlainClient()
    name = {"username": user.username, "password": "a long enough password"}
    answer = client.post("/sign-in/", name | {"next": f"/of/{organisation.slug}/stock/"})
    assert answer["Location"] == f"/of/{organisation.slug}/stock/"
    answer = PlainClient().post("/sign-in/", name, follow=True)
    assert answer.redirect_chain[-1][0] == f"/of/{organisation.slug}/houses/"


def test_what_has_no_organisation_in_its_address(one, organisation, user):
    of = f"/of/{organisation.slug}"
    for path in ("/guide/", "/password/", "/organisations/"):
        page = one.get(path)
        assert page.status_code == 200 and f'href="{of}/houses/"' in page.content.decode()
        assert one.get(f"{of}{path}").status_code == 200
    assert one.get(f"{of}/sign-in/")["Location"] == "/sign-in/"
    user.is_staff = user.is_superuser = True
    user.save()
    SecondStep.objects.create(user=user, nonce="n", on_since=timezone.now())
    assert one.get(f"{of}/admin/")["Location"] == "/admin/"
    page = one.get("/admin/").content.decode()
    assert 'href="/admin/orgs/organisation/"' in page and "/of/" not in page
    assert one.post(f"{of}/sign-out/")["Location"] == "/sign-in/"


def test_addresses_of_before_lead_on(one, organisation):
    of = f"/of/{organisation.slug}"
    for path in ("/", "/houses/?page=2&a=%C3%A9", "/l/RACK-1%20b%C3%A9/", "/crew/day/?person=ann"):
        answer = one.get(path)
        assert (answer.status_code, answer["Location"]) == (302, f"{of}{path}")
    assert one.head("/houses/").status_code == 302
    answer = one.get("/crew/templates/", follow=True)
    assert [to for to, _ in answer.redirect_chain] == ["/crew/steps/", f"{of}/crew/steps/"]
    assert one.get("/no-such-page/").status_code == 404


def test_a_form_of_before_goes_on_whole_and_counts_once(one, organisation):
    answer = one.post("/sites/new/?from=x", {"name": "North field"})
    assert (answer.status_code, answer["Location"]) == (307, f"/of/{organisation.slug}/sites/new/?from=x")
    data = {"name": "North field", "once": "a" * 32}
    for _ in range(2):
        answer = one.post("/sites/new/", data, follow=True)
        assert answer.status_code == 200 and answer.redirect_chain[0][1] == 307
    assert "was recorded already" in text_of(answer)


def test_a_site_below_another_address(one, organisation):
    answer = one.get("/houses/", SCRIPT_NAME="/growers")
    assert answer["Location"] == f"/growers/of/{organisation.slug}/houses/"
    page = one.get(f"/of/{organisation.slug}/houses/", SCRIPT_NAME="/growers").content.decode()
    assert f'href="/growers/of/{organisation.slug}/stock/"' in page
    answer = PlainClient().get("/of/x/stock/", SCRIPT_NAME="/growers")
    assert answer["Location"].startswith("/growers/sign-in/?next=/growers/of/x/stock/")
    assert get_script_prefix() == "/"


def test_an_address_for_whoever_is_outside():
    before = get_script_prefix()
    try:
        set_script_prefix("/growers/of/mossy/")
        assert (mounted_at(), reverse_outside("sign-in")) == ("/growers/", "/growers/sign-in/")
        assert reverse("sign-in") == "/growers/of/mossy/sign-in/"
    finally:
        set_script_prefix(before)


def test_a_person_of_none_is_told_so(client):
    client.force_login(UserFactory())
    for method, path in ((client.get, "/houses/"), (client.post, "/houses/"), (client.get, "/")):
        answer = method(path)
        assert answer.status_code == 403
        assert "Your sign-in belongs to no organisation yet" in text_of(answer)
    assert client.get("/guide/").status_code == 200


# Several organisations.


def test_a_person_of_several_chooses_and_comes_back_to_the_last_one(two, organisation, other):
    answer = two.get("/", follow=True)
    assert answer.redirect_chain == [("/organisations/?to=%2F", 302)]
    page = answer.content.decode()
    for row in (organisation, other):
        assert f'href="/of/{row.slug}/"' in page and row.name in page
    two.get(f"/of/{other.slug}/stock/")
    assert two.get("/houses/")["Location"] == f"/of/{other.slug}/houses/"
    page = two.get(f"/of/{organisation.slug}/houses/").content.decode()
    assert f'<a class="change" href="/of/{organisation.slug}/organisations/">Change organisation</a>' in page
    assert two.get("/houses/")["Location"] == f"/of/{organisation.slug}/houses/"
    answer = two.get("/organisations/?to=/houses/%3Fpage=2")
    assert f'href="/of/{other.slug}/houses/?page=2"' in answer.content.decode()


def test_who_has_one_is_offered_no_other(one, organisation):
    assert "Change organisation" not in one.get(f"/of/{organisation.slug}/houses/").content.decode()


@pytest.mark.parametrize("to", ["https://example.org/", "//example.org/", "javascript:x", "../../x", '/"><b>'])
def test_choosing_leads_nowhere_else(two, other, to):
    page = two.get("/organisations/", {"to": to}).content.decode()
    links = re.findall(r'<a class="button" href="([^"]*)"', page)
    assert len(links) == 2 and all(re.match(r"/of/[a-z0-9-]+/", link) for link in links)
    assert "<b>" not in page


def test_each_organisation_opens_its_own(two, organisation, other):
    """Houses and lots of one name in both; what one may do is of the organisation in the address."""
    for row, name in ((organisation, "Mine"), (other, "Theirs")):
        house_in(row, name)
        LotFactory(material=MaterialFactory(organisation=row), reference="RACK-1", on_hand=3)
    for row, name in ((organisation, "Mine"), (other, "Theirs")):
        answer = two.get(f"/of/{row.slug}/houses/north-1/")
        assert answer.context["house"].name == name
        assert two.get(f"/of/{row.slug}/l/RACK-1/").context["lot"].organisation == row
    answer = two.get(f"/of/{organisation.slug}/houses/")
    assert answer.wsgi_request.acts == READY_SETS["owner"]
    answer = two.get(f"/of/{other.slug}/houses/")
    assert answer.wsgi_request.acts == READY_SETS["looks"]
    assert answer.wsgi_request.membership.organisation == answer.wsgi_request.organisation == other


def test_a_label_of_before_asks_which_where_both_have_it(two, organisation, other):
    for row in (organisation, other):
        LotFactory(material=MaterialFactory(organisation=row), reference="BOTH", on_hand=3)
    LotFactory(material=MaterialFactory(organisation=other), reference="THEIRS", on_hand=3)
    two.get(f"/of/{organisation.slug}/houses/")
    third = MembershipFactory(user=two.get("/organisations/").wsgi_request.user).organisation
    page = two.get("/l/BOTH/", follow=True).content.decode()
    assert "have a lot of that number" in page
    assert f"/of/{organisation.slug}/l/BOTH/" in page and f"/of/{other.slug}/l/BOTH/" in page
    assert f"/of/{third.slug}/l/" not in page
    assert two.get("/l/THEIRS/")["Location"] == f"/of/{other.slug}/l/THEIRS/"
    answer = two.get("/l/NOBODYS/", follow=True)
    assert answer.status_code == 404


def test_a_form_of_before_asks_which_and_loses_nothing(two, organisation, other, user):
    Membership.objects.filter(user=user).update(role=Membership.Role.OWNER)
    typed = {"name": "North & south", "once": "b" * 32, "several": ["1", "2"]}
    answer = two.post("/sites/new/?like=a", typed)
    assert answer.status_code == 409
    page = answer.content.decode()
    assert f'formaction="/of/{other.slug}/sites/new/?like=a"' in page
    assert f'formaction="/of/{organisation.slug}/sites/new/?like=a"' in page
    assert page.count('name="name" value="North &amp; south"') == 1
    assert page.count('name="several" value="1"') == page.count('name="several" value="2"') == 1
    assert "multipart" not in page
    answer = two.post(f"/of/{other.slug}/sites/new/", typed)
    assert answer["Location"] == f"/of/{other.slug}/sites/north-south/"
    # Pressed for the other one too: it was one press, and counts once.
    answer = two.post(f"/of/{organisation.slug}/sites/new/", typed)
    assert answer["Location"] == f"/of/{other.slug}/sites/north-south/"


def test_a_file_of_a_form_of_before_is_chosen_again_there(two, other, user):
    """No page may fill a box of files, so it says which, and has the box."""
    Membership.objects.filter(user=user).update(role=Membership.Role.OWNER)
    MaterialFactory(organisation=other, code="rail")
    text = b"Material,Length,Quantity,Place\nrail,10',2,Rack\n"
    answer = two.post("/stock/import/", {"file": SimpleUploadedFile("yard.csv", text), "once": "c" * 32})
    page = answer.content.decode()
    assert answer.status_code == 409 and "Choose “yard.csv” again" in page
    assert 'enctype="multipart/form-data"' in page and '<input type="file" name="file"' in page
    address = f"/of/{other.slug}/stock/import/"
    assert f'formaction="{address}"' in page
    answer = two.post(address, {"file": SimpleUploadedFile("yard.csv", text), "once": "c" * 32})
    assert ImportDraft.objects.get(organisation=other).rows == 1


def test_two_tabs_do_not_write_across(two, organisation, other, user):
    Membership.objects.filter(user=user).update(role=Membership.Role.OWNER)
    mine, theirs = house_in(organisation, "Mine"), house_in(other, "Theirs")
    two.get(f"/of/{organisation.slug}/houses/")
    two.get(f"/of/{other.slug}/houses/")
    # The first tab was opened before and is pressed after.
    two.post(f"/of/{organisation.slug}/sites/new/", {"name": "Creek"})
    two.post(f"/of/{other.slug}/sites/new/", {"name": "Hill"})
    assert two.get(f"/of/{organisation.slug}/sites/hill/").status_code == 404
    assert two.get(f"/of/{other.slug}/sites/creek/").status_code == 404
    assert two.post(f"/of/{organisation.slug}/houses/north-1/archive/").status_code == 302
    mine.refresh_from_db()
    theirs.refresh_from_db()
    assert mine.archived_at and theirs.archived_at is None


def test_who_was_let_go_of_one_keeps_the_other(two, organisation, other, user):
    two.get(f"/of/{other.slug}/houses/")
    Membership.objects.filter(organisation=other).delete()
    assert two.get(f"/of/{other.slug}/houses/").status_code == 404
    assert two.get("/houses/")["Location"] == f"/of/{organisation.slug}/houses/"


def test_the_same_queries_as_with_one(one, organisation, user):
    """Whose the address is costs one query, which was asked before; a switch costs one more, once."""
    path = f"/of/{organisation.slug}/stock/"
    with CaptureQueriesContext(connection) as before:
        one.get(path)
    assert sum('FROM "orgs_membership" INNER JOIN "orgs_organisation"' in query["sql"] for query in before) == 1
    other = MembershipFactory(user=user)
    one.get(path)
    with CaptureQueriesContext(connection) as after:
        one.get(path)
    assert len(after) == len(before)
    assert other.used_at is None


# New organisations.


def test_a_word_of_the_site_or_of_others_is_refused(organisation):
    with pytest.raises(ValidationError, match="kept for pages of the site"):
        create_organisation(name="New", slug="new")
    with pytest.raises(ValidationError) as told:
        create_organisation(name="Again", slug=organisation.slug)
    assert "slug" in told.value.message_dict


def test_the_address_stays_when_the_name_changes(client, organisation):
    client.force_login(keeper_of_the_server())
    page = client.get(reverse("admin:orgs_organisation_change", args=[organisation.pk])).content.decode()
    assert 'name="name"' in page and 'name="slug"' not in page
    assert 'name="slug"' in client.get(reverse("admin:orgs_organisation_add")).content.decode()


# Of the tests themselves.


def test_the_client_of_tests_sees_an_address_that_leads_out(signed_in, organisation):
    page = plain(signed_in).get(f"/of/{organisation.slug}/houses/")
    assert leads_out(page, organisation.slug) == []
    page.content = page.content.replace(f'href="/of/{organisation.slug}/stock/"'.encode(), b'href="/stock/"')
    assert leads_out(page, organisation.slug) == ["/stock/"]


@pytest.mark.django_db(transaction=True)
def test_no_organisation_leaks_from_one_request_to_another():
    """Two threads ask for many pages of different organisations, with and without an address that names one."""
    people = [MembershipFactory(organisation__slug=f"farm-{number}") for number in range(2)]
    clients = [PlainClient() for _ in people]
    for client, person in zip(clients, people, strict=True):
        client.force_login(person.user)
    both = Barrier(2)

    def ask(client: PlainClient) -> list[tuple[str, str]]:
        found = []
        try:
            both.wait()
            for number in range(24):
                person = people[(number + clients.index(client)) % 2]
                own = PlainClient()
                own.cookies = clients[people.index(person)].cookies
                slug = person.organisation.slug
                page = own.get(f"/of/{slug}/sites/").content.decode()
                found.append((slug, "|".join(sorted({*re.findall(r"/of/([^/]+)/", page)}))))
                found.append(("/sign-in/?next=/houses/", PlainClient().get("/houses/")["Location"]))
                found.append(("/", get_script_prefix()))
        finally:
            connections.close_all()
        return found

    with ThreadPoolExecutor(2) as pool:
        for wanted, was in (row for rows in pool.map(ask, clients) for row in rows):
            assert was == wanted
    assert Organisation.objects.count() == 2
