"""Who may do what: the ready sets, what is taken away and added, and the words of a refusal."""

from __future__ import annotations

import pytest

from farmbuild.orgs import acts
from farmbuild.orgs.acts import Act, NotAllowed, Role, acts_of, check_may, may, needs, who_may
from tests.factories import MembershipFactory, OrganisationFactory, UserFactory

EXPECTED = {
    Role.OWNER: "see costs record houses stock plan accept send benders people own",
    Role.PLANNER: "see costs record houses stock plan accept send benders",
    Role.YARD: "see record stock benders",
    Role.CREW: "record",
    Role.LOOKS: "see",
}


def member(organisation, role=Role.OWNER, name="", **given):
    return MembershipFactory(organisation=organisation, role=role, user__first_name=name, **given).user


@pytest.mark.parametrize("role", Role)
def test_each_role_begins_with_its_acts(organisation, role):
    user = member(organisation, role)

    assert acts_of(organisation=organisation, user=user) == set(EXPECTED[role].split())


def test_an_owner_takes_acts_away_and_adds_others(organisation):
    user = member(organisation, Role.YARD, without=["benders"], also=["send", "an act of another version"])

    assert acts_of(organisation=organisation, user=user) == {Act.SEE, Act.RECORD, Act.STOCK, Act.SEND}


def test_nobody_else_may_anything(organisation):
    closed, visitor = member(organisation), member(organisation)
    closed.is_active, visitor.visitor = False, True

    for user in (closed, visitor, UserFactory(is_superuser=True), member(OrganisationFactory())):
        assert not acts_of(organisation=organisation, user=user)


def test_a_refusal_says_who_may(organisation):
    yard = member(organisation, Role.YARD, "Yves")
    member(organisation, Role.OWNER, "Odile")
    member(organisation, Role.PLANNER, "Sam")
    member(organisation, Role.PLANNER, "Nobody", without=["send"])

    with pytest.raises(NotAllowed, match=r"^Nobody but owners and planners may send orders: ask Odile or Sam\.$"):
        check_may(organisation=organisation, user=yard, act=Act.SEND)
    for name in ("Ann", "Ben"):
        member(organisation, Role.PLANNER, name)
    with pytest.raises(NotAllowed, match="ask Odile, Sam or another of them"):
        check_may(organisation=organisation, user=yard, act=Act.SEND)
    assert [user.first_name for user in who_may(organisation=organisation, act=Act.OWN)] == ["Odile"]


def test_a_refusal_where_nobody_may(organisation):
    crew = member(organisation, Role.CREW)

    with pytest.raises(NotAllowed, match=r"Nobody but owners may change settings.*: nobody here may at present"):
        check_may(organisation=organisation, user=crew, act=Act.OWN)


def test_a_service_asks_for_its_act_once(organisation, monkeypatch):
    monkeypatch.setattr(acts, "_registered", {})
    yard = member(organisation, Role.YARD)

    @needs(Act.OWN)
    def stronger(*, organisation, user):
        return "done"

    @needs(Act.STOCK)
    def outer(*, organisation, user):
        return stronger(organisation=organisation, user=user)

    @needs(Act.OWN, of="row")
    def with_a_row(*, row, user):
        return "done"

    assert outer(organisation=organisation, user=yard) == "done"
    with pytest.raises(NotAllowed):
        stronger(organisation=organisation, user=yard)
    with pytest.raises(NotAllowed):
        with_a_row(row=yard.memberships.get(), user=yard)
    assert stronger(organisation=organisation, user=None) == "done"
    assert sorted(acts.acts_of_services().values()) == [Act.OWN, Act.OWN, Act.STOCK]
    assert not may(organisation=organisation, user=yard, act=Act.OWN)


def test_what_a_service_calls_for_somebody_else_is_asked(organisation, monkeypatch):
    monkeypatch.setattr(acts, "_registered", {})
    owner, yard = member(organisation), member(organisation, Role.YARD)

    @needs(Act.OWN)
    def settings(*, organisation, user):
        return "done"

    @needs(Act.OWN)
    def for_another(*, organisation, user):
        return settings(organisation=organisation, user=yard)

    with pytest.raises(NotAllowed):
        for_another(organisation=organisation, user=owner)


def test_a_service_without_a_user_is_refused_as_it_is_written():
    with pytest.raises(TypeError, match="needs the keywords user and organisation"):

        @needs(Act.OWN)
        def nobody(*, organisation, user=None):
            return None
