"""A member becomes a farm: from its sign-ins with nothing lost, or by a card; and ends it again."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from farmbuild.access import cards
from farmbuild.access.models import SecondStep, Session
from farmbuild.coop.members import services
from farmbuild.coop.models import FarmCard, MemberFarm
from farmbuild.crew.bookings import signins
from farmbuild.crew.bookings.own.services import make_own_feed
from farmbuild.crew.models import Member
from farmbuild.history.models import Entry
from farmbuild.orgs.acts import NotAllowed, Role
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.orgs.throwing_away import throw_away
from tests.client import plain
from tests.crew.own import first_page, own
from tests.factories import (
    BenderBookingFactory,
    BenderRequestFactory,
    MemberFactory,
    MemberFarmFactory,
    MembershipFactory,
    MemberSignInFactory,
    OrganisationFactory,
)
from tests.reading import text_of
from tests.signing_in import signs_in

pytestmark = pytest.mark.django_db
PASSWORD = "seven-alder-poles"


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def member(organisation):
    return MemberFactory(organisation=organisation, name="Alder Patch", slug="alder", contact="Ida, 555 0100")


@pytest.fixture
def visitor(member):
    row = MemberSignInFactory(member=member, user__username="ida", user__first_name="Ida")
    row.user.set_password(PASSWORD)
    row.user.save()
    return row


@pytest.fixture
def browser(visitor):
    client = Client()
    client.force_login(visitor.user)
    return client


def between(answer) -> str:
    """What a member's first page says of bookings and requests."""
    page = text_of(answer)
    return page[page.index("Out or booked") : page.index("Run by")]


def farmer(role=Role.OWNER, **more):
    row = MembershipFactory(role=role, **more)
    client = Client()
    client.force_login(row.user)
    return row.organisation, client


def test_moved_over_nothing_is_lost(who, signed_in, member, visitor, browser):
    SecondStep.objects.create(user=visitor.user, nonce="n", on_since=timezone.now())
    booking = BenderBookingFactory(bender__organisation=who["organisation"], member=member)
    asked = BenderRequestFactory(member=member)
    feed = make_own_feed(member=member, user=visitor.user)
    before = between(browser.get(first_page()))
    sessions = Session.objects.filter(user=visitor.user).count()
    signed_in.post(reverse("coop:member-move", args=["alder"]))

    row = MemberFarm.objects.get()
    assert (row.member, row.made_by, row.farm.name, row.farm.contact) == (
        member,
        who["user"],
        "Alder Patch",
        member.contact,
    )
    assert row.farm.time_zone == who["organisation"].time_zone and row.farm.currency == who["organisation"].currency
    person = User.objects.get(pk=visitor.user_id)
    assert person.visitor is False and person.check_password(PASSWORD) and person.second_step.on_since
    assert list(Membership.objects.filter(user=person).values_list("organisation", "role")) == [(row.farm_id, "owner")]
    assert Session.objects.filter(user=person).count() == sessions == 1
    # The same browser, still signed in: its old addresses lead to the same pages.
    page = browser.get("/borrowing/", follow=True)
    assert page.redirect_chain[-1][0] == first_page() and page.status_code == 200
    assert between(page) == before
    assert browser.get(own("booking", booking.pk)).status_code == 200
    assert browser.get(own("request", asked.pk)).status_code == 200
    assert Client().get(feed.get_absolute_url()).status_code == 200
    assert browser.get("/houses/").status_code == 200
    told = Entry.objects.filter(organisation=who["organisation"]).values_list("kind", flat=True)
    assert "member-farm" in told


def test_who_signs_in_makes_the_farm_on_her_own_page(member, visitor, browser):
    other = MemberSignInFactory(member=member).user
    address = reverse("coop:seen-move", args=[member.organisation.slug])
    assert "Make my farm" in text_of(browser.get(address))
    assert address in browser.get(first_page()).content.decode()
    answer = plain(browser).post(address, follow=True)
    assert answer.status_code == 200 and "has its own farm here now" in text_of(answer)
    farm = MemberFarm.objects.get().farm
    assert set(farm.memberships.values_list("user", flat=True)) == {visitor.user_id, other.pk}
    # Pressed again it is a farm already.
    assert browser.post(address).status_code == 404
    assert signs_in(Client(), "ida", PASSWORD)
    with pytest.raises(PermissionDenied):
        services.move_own_over(member=MemberFactory(organisation=member.organisation), user=visitor.user)


def test_whose_link_is_not_used_stays_a_visitor(who, member, visitor):
    unused = signins.invite_member(**who, member=member, data={"name": "Bryn", "username": "bryn"})
    services.move_over(**who, member=member)
    unused.refresh_from_db()
    assert (unused.shut_at, unused.user.visitor) == (None, True) and signins.link_of(unused)


@pytest.mark.parametrize("case", ["nobody", "unused", "shut", "archived", "twice"])
def test_why_a_member_is_not_moved(who, signed_in, member, case):
    words = {"archived": "is archived", "twice": "has its farm here already"}.get(case, "Nobody has signed in")
    if case == "unused":
        signins.invite_member(**who, member=member, data={"name": "Bryn", "username": "bryn"})
    elif case != "nobody":
        row = MemberSignInFactory(member=member)
        if case == "shut":
            signins.close_sign_in(**who, sign_in=row)
        elif case == "archived":
            Member.objects.update(archived_at=timezone.now())
        else:
            services.move_over(**who, member=member)
    before = Organisation.objects.count(), Membership.objects.count()
    with pytest.raises(ValidationError, match=words):
        services.move_over(**who, member=member)
    answer = signed_in.post(reverse("coop:member-move", args=["alder"]), follow=True)
    assert words in text_of(answer)
    assert (Organisation.objects.count(), Membership.objects.count()) == before


def test_all_at_once_with_a_report(who, signed_in, member, visitor):
    MemberFactory(organisation=who["organisation"], name="Brook Acre")
    MemberFarmFactory(member=MemberFactory(organisation=who["organisation"], name="Cedar Row"))
    MemberSignInFactory(member__name="Elsewhere")
    page = text_of(signed_in.get(reverse("coop:members")))
    assert "1 has a farm here, 1 signs in without one, 1 neither." in page
    address = reverse("coop:members-move")
    assert "Make 1 farm" in text_of(signed_in.get(address))
    said = text_of(signed_in.post(address, follow=True))
    assert "1 member moved over: Alder Patch." in said
    assert "Brook Acre stays as it was: Nobody has signed in for Brook Acre yet." in said
    assert MemberFarm.objects.of(who["organisation"]).count() == 2
    assert "No member was moved." in text_of(signed_in.post(address, follow=True))


def test_farms_of_one_name_have_addresses_of_their_own(who, member, visitor):
    OrganisationFactory(slug="alder-patch")
    assert services.move_over(**who, member=member).farm.slug == "alder-patch-2"


def test_the_cooperative_sets_no_password_of_a_farm(who, signed_in, member, visitor):
    services.move_over(**who, member=member)
    for act in (signins.reopen_sign_in, signins.close_sign_in):
        with pytest.raises(ValidationError, match="Ida is of the farm itself now"):
            act(**who, sign_in=visitor)
    page = text_of(signed_in.get(visitor.get_absolute_url()))
    assert "of its own farm since" in page and "Make a new link" not in page
    assert signs_in(Client(), "ida", PASSWORD)


def handed_over(signed_in) -> tuple[str, str]:
    """Path and code of a new card, as its page shows them."""
    page = signed_in.post(reverse("coop:member-card-new", args=["alder"]), follow=True)
    card = page.context["card"]
    assert card.code in text_of(page) and "Card to hand over" in page.content.decode()
    return card.address.removeprefix("http://testserver"), card.code


@pytest.mark.parametrize("by", ["link", "code"])
def test_a_farm_that_is_here_takes_a_card_once(signed_in, member, by):
    link, code = handed_over(signed_in)
    farm, client = farmer()
    if by == "link":
        answer = client.get(link, follow=True)
    else:
        assert "no such card" in text_of(client.post("/farm-card/", {"code": "AAAA-AAAA"}))
        answer = client.post("/farm-card/", {"code": code.lower()}, follow=True)
    assert f"Join for {farm.name}" in text_of(answer)
    answer = client.post("/farm-card/take/", follow=True)
    assert "You are here for Alder Patch." in text_of(answer)
    assert MemberFarm.objects.get().farm == farm
    assert "Cooperatives</a>" in client.get("/houses/").content.decode()
    assert member.organisation.name in text_of(client.get("/cooperatives/"))
    _, other = farmer()
    assert "was used already" in text_of(other.get(link, follow=True))
    assert other.post("/farm-card/take/").status_code == 200
    assert MemberFarm.objects.count() == 1


def test_a_card_renewed_withdrawn_or_over_links_nothing(who, signed_in, member, monkeypatch):
    first, _ = handed_over(signed_in)
    second, _ = handed_over(signed_in)
    signed_in.post(reverse("coop:member-card-end", args=["alder"]))
    third = services.make_card(**who, member=member, days=1)
    FarmCard.objects.filter(pk=third.invitation.pk).update(ends_at=timezone.now())
    for digest, words in (
        (FarmCard.objects.order_by("pk")[0].digest, "was withdrawn"),
        (FarmCard.objects.order_by("pk")[1].digest, "was withdrawn"),
        (third.invitation.digest, "days of this card are over"),
        ("0" * 64, "does not work any more"),
    ):
        farm = MembershipFactory()
        with pytest.raises(ValidationError, match=words):
            services.take_card(organisation=farm.organisation, user=farm.user, digest=digest)
    _, client = farmer()
    for link in (first, second):
        assert "was withdrawn" in text_of(client.get(link, follow=True))
    assert client.get("/farm-card/nothing/").status_code == 404
    assert not MemberFarm.objects.exists()


def test_who_takes_no_card(who, member):
    digest = services.make_card(**who, member=member).invitation.digest
    with pytest.raises(ValidationError, match="itself"):
        services.take_card(**who, digest=digest)
    planner = MembershipFactory(role=Role.PLANNER)
    with pytest.raises(NotAllowed):
        services.take_card(organisation=planner.organisation, user=planner.user, digest=digest)
    there = MemberFarmFactory(member=MemberFactory(organisation=who["organisation"]))
    owner = MembershipFactory(organisation=there.farm).user
    with pytest.raises(ValidationError, match="already"):
        services.take_card(organisation=there.farm, user=owner, digest=digest)
    with pytest.raises(ValidationError):
        services.make_card(**who, member=MemberFactory())
    with pytest.raises(ValidationError, match="from 1 to 60"):
        services.make_card(**who, member=member, days=cards.MAX_DAYS + 1)


@pytest.mark.parametrize("side", ["cooperative", "farm"])
def test_ended_by_either_side_and_linked_again(who, signed_in, member, side):
    row = MemberFarmFactory(member=member)
    farm, client = farmer(organisation=row.farm)
    assert client.get(first_page()).status_code == 200
    presser, address = (
        (signed_in, reverse("coop:member-end", args=["alder"]))
        if side == "cooperative"
        else (client, reverse("coop:seen-leave", args=[member.organisation.slug]))
    )
    assert "any more." in text_of(presser.get(address))
    row.refresh_from_db()
    assert row.ended_at is None, "it asks first"
    presser.post(address)
    row.refresh_from_db()
    assert row.ended_at and row.ended_by
    assert client.get(first_page()).status_code == 404
    assert "Cooperatives</a>" not in client.get("/houses/").content.decode()
    again = presser.post(address, follow=True)
    assert again.status_code == 404 or "This is ended already." in text_of(again)
    link, _ = handed_over(signed_in)
    client.get(link)
    client.post("/farm-card/take/")
    assert MemberFarm.objects.filter(ended_at=None).get().farm == farm
    assert client.get(first_page()).status_code == 200
    assert "ended on" in text_of(signed_in.get(reverse("coop:member", args=["alder"])))


def test_rows_of_another_cooperative_are_not_found(signed_in):
    row = MemberFarmFactory(member__slug="elsewhere")
    for name in ("member", "member-move", "member-end", "member-card", "member-card-new", "member-card-end"):
        address = reverse(f"coop:{name}", args=["elsewhere"])
        assert signed_in.get(address).status_code in (404, 405)
        assert signed_in.post(address).status_code in (404, 405)
    row.refresh_from_db()
    assert row.ended_at is None and not FarmCard.objects.exists()


def test_where_there_is_nothing_it_says_what_belongs_there(signed_in):
    page = signed_in.get(reverse("coop:members"))
    assert "Members, each with its own farm here or with a sign-in." in text_of(page)
    assert "One hands you a card to join by." in text_of(signed_in.get("/cooperatives/"))


def test_an_invented_farm_goes_once_its_cooperative_is_gone():
    row = MemberFarmFactory(farm__invented=True, member__organisation__invented=True)
    farmer = {"organisation": row.farm, "user": MembershipFactory(organisation=row.farm).user}
    lender = {"organisation": row.organisation, "user": MembershipFactory(organisation=row.organisation).user}
    with pytest.raises(ValidationError, match="Throw the cooperative away first"):
        throw_away(**farmer)
    throw_away(**lender)
    throw_away(**farmer)
    assert not Organisation.objects.exists()
