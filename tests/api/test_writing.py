"""What programs send: done by the services of pages, whole, as one act of their person, refused in the same words."""

from __future__ import annotations

import sqlite3
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import OperationalError
from django.utils import timezone

from farmbuild.api.models import Answered
from farmbuild.api.once import KEPT
from farmbuild.buying.models import Receipt
from farmbuild.crew.models import Actual, BenderRequest, Task
from farmbuild.history.models import Entry
from farmbuild.plans.models import Plan
from farmbuild.sites.models import House
from farmbuild.stock.counts.services import start_count
from farmbuild.stock.models import Lot, Movement
from tests.api.conftest import Program, make
from tests.buying.sent_order import sent_order
from tests.factories import (
    BenderFactory,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    MemberFactory,
    OrganisationFactory,
    PlaceFactory,
)

pytestmark = pytest.mark.django_db


def problems(answer) -> dict[str, str]:
    assert answer["Content-Type"] == "application/problem+json", answer.content
    return {each["field"]: each["detail"] for each in answer.json()["errors"]}


@pytest.fixture
def house(organisation):
    return HouseFactory(organisation=organisation, site__organisation=organisation)


class TestHouses:
    def test_made_like_another_and_changed_with_the_version_that_was_seen(self, program, organisation, house, user):
        said = program.get(f"/houses/{house.slug}").json()
        sent = {"site": said["site"], "name": "North 9", "need_date": "2031-05-12", "spec": said["spec"]}
        made = program.send("/houses", sent)
        assert made.status_code == 201, made.content
        assert made.json()["spec"] == said["spec"]
        row = House.objects.get(slug=made.json()["slug"])
        assert row.saved_by == user and row.organisation == organisation
        assert Entry.objects.filter(kind="house", record=row.pk, user=user).exists()

        path, version = f"/houses/{row.slug}", made.json()["version"]
        changed = program.send(path, {"version": version, "need_date": "2031-06-01"}, "PATCH")
        assert changed.status_code == 200, changed.content
        assert changed.json()["need_date"] == "2031-06-01" and changed.json()["spec"] == said["spec"]
        late = program.send(path, {"version": version, "name": "Mine"}, "PATCH")
        assert late.status_code == 409 and "since you read it" in late.json()["detail"]
        assert House.objects.get(pk=row.pk).name == "North 9"

    def test_what_cannot_be_built_is_told_at_its_field(self, program, house):
        version = program.get(f"/houses/{house.slug}").json()["version"]
        path = f"/houses/{house.slug}"
        for spec, field in (
            ({"post_span_mm": "0"}, "spec.post_span_mm"),
            ({"recipe": "none"}, "spec.recipe"),
            ({"film_material": "none"}, "spec.film_material"),
        ):
            answer = program.send(path, {"version": version, "spec": spec}, "PATCH")
            assert answer.status_code == 422 and field in problems(answer), (spec, answer.content)
        for spec in ({"post_span": "1"}, {"post_span_mm": 12}, {"post_span_mm": "1e3"}, {"post_span_mm": "-1"}):
            assert program.send(path, {"version": version, "spec": spec}, "PATCH").status_code == 422, spec
        assert "across_mm" in problems(program.send(path, {"version": version, "along_mm": "5"}, "PATCH"))
        assert program.get(path).json()["version"] == version

    def test_what_a_new_house_lacks(self, program, house):
        sent = {"site": house.site.slug, "name": "North 9", "need_date": "2031-05-12", "spec": {}}
        assert {*problems(program.send("/houses", sent))} >= {"spec.recipe", "spec.post_span_mm", "spec.length_mm"}
        other = HouseFactory(organisation=OrganisationFactory())
        assert "site" in problems(program.send("/houses", sent | {"site": other.site.slug}))


class TestStock:
    def test_received_issued_returned_and_scrapped(self, program, organisation, house, user):
        place = PlaceFactory(organisation=organisation)
        rail = MaterialFactory(organisation=organisation)
        sent = {"material": rail.code, "quantity": 20, "place": place.name, "length_mm": "6400.8", "unit_cost": "3.10"}
        made = program.send("/lots", sent)
        assert made.status_code == 201, made.content
        assert made.json()["length_mm"] == "6400.8" and made.json()["value"] == "62.00"
        path = f"/lots/{made.json()['reference']}"
        for what, quantity, more in (
            ("receipts", 5, {}),
            ("issues", 8, {"house": house.slug, "reason": "for the house"}),
            ("returns", 3, {"house": house.slug, "reason": "left over"}),
            ("scrap", 1, {"reason": "bent"}),
        ):
            answer = program.send(f"{path}/{what}", {"quantity": quantity} | more)
            assert answer.status_code == 201, (what, answer.content)
        assert program.get(path).json()["on_hand"] == 20 + 5 - 8 + 3 - 1
        assert {*Movement.objects.values_list("by", flat=True)} == {user.pk}

        more_than_there = program.send(f"{path}/issues", {"quantity": 99})
        assert more_than_there.status_code == 422 and "quantity" in problems(more_than_there)
        assert "reason" in problems(program.send(f"{path}/scrap", {"quantity": 1}))
        assert "house" in problems(program.send(f"{path}/issues", {"quantity": 1, "house": "none"}))
        assert program.send(f"{path}/issues", {"quantity": 1, "colour": "red"}).status_code == 422
        assert program.send("/lots/none/issues", {"quantity": 1}).status_code == 404

    def test_no_cost_from_whom_costs_are_not_shown(self, organisation, user):
        program = Program(make(organisation, user, "stock"))
        sent = {"material": "x", "quantity": 1, "place": "y", "unit_cost": "1"}
        assert "unit_cost" in problems(program.send("/lots", sent))

    def test_counted(self, program, organisation, user):
        lot = LotFactory(material__organisation=organisation, on_hand=9)
        count = start_count(organisation=organisation, user=user, places=[lot.place])
        path = f"/counts/{count.number}/entries"
        assert program.get("/counts", state="open").json()["items"][0]["number"] == count.number
        assert program.send(path, {"counted": [{"lot": lot.reference, "pieces": 7}]}).json() == {"lots": 1}
        assert "counted" in problems(program.send(path, {"counted": [{"lot": "none", "pieces": 7}]}))
        twice = [{"lot": lot.reference, "pieces": 1}] * 2
        assert "twice" in program.send(path, {"counted": twice}).json()["detail"]


def test_an_order_is_received_once_for_two_who_saw_the_same(program, organisation):
    order = sent_order(organisation, 12)
    path = f"/orders/{order.number}"
    said = program.get(path).json()
    line = said["lines"][0]
    sent = {"lines": [{"position": line["position"], "arrived": 1}], "seen": said["receipts"], "place": "Rack 1"}
    done = program.send(f"{path}/receipts", sent)
    assert done.status_code == 201, done.content
    assert done.json()["order"]["lines"][0]["arrived"] == 1 and done.json()["number"] == 1
    assert program.send(f"{path}/receipts", sent).status_code == 409
    assert Receipt.objects.count() == 1
    wrong = program.send(f"{path}/receipts", {"lines": [{"position": 999, "arrived": 1}]})
    assert "lines" in problems(wrong)


def test_a_task_is_started_and_done(program, organisation, house, user):
    task = Task.objects.create(organisation=organisation, house=house, kind="posts", count=12)
    path = f"/tasks/{task.pk}/presses"
    assert program.send(path, {"what": "dance"}).status_code == 422
    assert "person" in problems(program.send(path, {"what": "start", "person": "nobody"}))
    done = program.send(path, {"what": "done", "minutes": 90, "people": 2})
    assert done.status_code == 201, done.content
    assert done.json()["state"] == "done" and done.json()["done"] == 12
    assert Actual.objects.get().by == user


def test_a_plan_is_asked_for_and_worked_out(program, organisation, house, django_capture_on_commit_callbacks):
    sent = {"name": "By program", "houses": [house.slug], "delivery_site": house.site.slug, "as_of": "2026-04-01"}
    with django_capture_on_commit_callbacks(execute=True):
        asked = program.send("/plans", sent)
    assert asked.status_code == 202, asked.content
    assert asked["Location"] == asked.json()["address"] == "/api/1/plans/1" and not asked.json()["same"]
    assert program.client.get(asked["Location"]).json()["state"] in ("ready", "failed")
    assert program.send("/plans", sent).json()["same"] and Plan.objects.count() == 1
    assert "houses" in problems(program.send("/plans", sent | {"houses": ["none"]}))
    assert "delivery_site" in problems(program.send("/plans", sent | {"delivery_site": "none"}))


def test_a_bender_is_asked_for(program, organisation):
    member, bender = MemberFactory(organisation=organisation), BenderFactory(organisation=organisation)
    sent = {"member": member.slug, "bender": bender.slug, "days": 2, "earliest": "2090-05-01", "need_by": "2090-05-09"}
    asked = program.send("/bender-requests", sent)
    assert asked.status_code == 201 and asked.json()["state"] == "asked", asked.content
    assert "need_by" in problems(program.send("/bender-requests", sent | {"need_by": "2090-04-09"}))
    assert "member" in problems(program.send("/bender-requests", sent | {"member": "none"}))
    assert BenderRequest.objects.count() == 1


class TestKeys:
    @pytest.fixture
    def lot(self, organisation):
        return LotFactory(material__organisation=organisation, on_hand=9)

    def test_sent_again_it_is_answered_again_and_done_once(self, program, lot):
        path, sent, key = f"/lots/{lot.reference}/issues", {"quantity": 2}, {"Idempotency-Key": '"a-1"'}
        first, again = program.send(path, sent, **key), program.send(path, sent, **key)
        assert first.status_code == again.status_code == 201 and first.json() == again.json()
        assert again["Idempotency-Replayed"] == "true" and "Idempotency-Replayed" not in first
        assert Lot.objects.get(pk=lot.pk).on_hand == 7
        program.send(path, sent, **{"Idempotency-Key": "b"})
        program.send(path, sent)
        assert Lot.objects.get(pk=lot.pk).on_hand == 3

    def test_the_same_key_with_something_else(self, program, lot):
        path, key = f"/lots/{lot.reference}/issues", {"Idempotency-Key": "a"}
        program.send(path, {"quantity": 2}, **key)
        for where, sent in ((path, {"quantity": 3}), (path.replace("issues", "scrap"), {"quantity": 2})):
            refused = program.send(where, sent, **key)
            assert refused.status_code == 422 and "Idempotency-Key" in problems(refused)
        assert Lot.objects.get(pk=lot.pk).on_hand == 7
        for wrong in ("", "x" * 201):
            assert program.send(path, {"quantity": 1}, **{"Idempotency-Key": wrong}).status_code == 422
        assert program.send(path, {"quantity": 1}, **{"Idempotency-Key": "x" * 200}).status_code == 201

    def test_what_was_refused_is_asked_anew(self, program, lot):
        path, key = f"/lots/{lot.reference}/issues", {"Idempotency-Key": "a"}
        assert program.send(path, {"quantity": 99}, **key).status_code == 422
        assert not Answered.objects.exists()
        assert program.send(path, {"quantity": 2}, **key).status_code == 201

    def test_each_token_has_its_own_and_they_go_after_their_time(self, program, organisation, user, lot):
        other, path = Program(make(organisation, user)), f"/lots/{lot.reference}/issues"
        for who in (program, other):
            assert who.send(path, {"quantity": 1}, **{"Idempotency-Key": "a"}).status_code == 201
        assert Lot.objects.get(pk=lot.pk).on_hand == 7
        assert timedelta(hours=24) <= KEPT
        Answered.objects.update(at=timezone.now() - KEPT - timedelta(minutes=1))
        program.send(path, {"quantity": 1}, **{"Idempotency-Key": "b"})
        assert Answered.objects.count() == 2, "its own old one went"
        assert Lot.objects.get(pk=lot.pk).on_hand == Decimal(6)


def test_a_fault_leaves_nothing_behind(program, organisation, monkeypatch):
    lot = LotFactory(material__organisation=organisation, on_hand=9)

    def breaks(*args, **kwargs):
        raise RuntimeError("broken")

    monkeypatch.setattr("farmbuild.api.answers.stock.movement_out", breaks)
    answer = program.send(f"/lots/{lot.reference}/issues", {"quantity": 2}, **{"Idempotency-Key": "a"})
    assert answer.status_code == 500 and answer.json()["request"]
    assert Lot.objects.get(pk=lot.pk).on_hand == 9 and not Answered.objects.exists()


def failing(monkeypatch, *codes):
    """The answer of a key cannot be stored, each time for another reason; then it can."""
    save, left = Answered.save, [*codes]

    def fails(self, **given):
        if not given.get("force_insert") and left:
            cause = sqlite3.OperationalError("it failed")
            cause.sqlite_errorcode = left.pop(0)
            raise OperationalError("it failed") from cause
        save(self, **given)

    monkeypatch.setattr(Answered, "save", fails)


def test_a_fault_of_the_database_outside_of_the_view_is_a_problem_too(program, organisation, monkeypatch):
    lot = LotFactory(material__organisation=organisation, on_hand=9)
    sent = f"/lots/{lot.reference}/issues", {"quantity": 2}
    failing(monkeypatch, sqlite3.SQLITE_FULL)
    answer = program.send(*sent, **{"Idempotency-Key": "a"})
    assert problems(answer) == {}
    assert (answer.status_code, answer.json()["detail"]) == (503, "The disk of the server is full.")
    assert Lot.objects.get(pk=lot.pk).on_hand == 9 and not Answered.objects.exists()
    assert program.send(*sent, **{"Idempotency-Key": "a"}).status_code == 201
    # Where another was first it is tried again at once.
    failing(monkeypatch, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
    assert program.send(*sent, **{"Idempotency-Key": "b"}).status_code == 201
    assert Lot.objects.get(pk=lot.pk).on_hand == 5
