"""Another organisation's benders, tasks, steps and schedules are out of reach, and take no name or number from ours."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import ObjectDoesNotExist, ValidationError
from django.utils import timezone

from farmbuild.crew import feeds
from farmbuild.crew.actuals.services import record
from farmbuild.crew.bookings import member_requests, moving, selectors, services
from farmbuild.crew.bookings.having import had_by_member, sharing_rules_of
from farmbuild.crew.bookings.proposals import proposal_of
from farmbuild.crew.models import Actual, BenderBooking, BenderRequest, CalendarFeed, Task, WorkTemplate
from farmbuild.crew.problems.services import remove_photo, resolve
from farmbuild.crew.schedule import services as schedules
from farmbuild.crew.schedule.delays import set_not_before
from farmbuild.crew.schedule.problem import live_tasks, schedule_problem
from farmbuild.crew.steps import services as steps
from farmbuild.orgs.clock import today_of
from tests.crew.daylist.test_ticks import a_day, press
from tests.crew.problems.making import a_problem
from tests.crew.schedule.test_services import NOW, a_season, published, worked
from tests.factories import (
    BenderBookingFactory,
    BenderFactory,
    BenderRequestFactory,
    MemberFactory,
    MembershipFactory,
    SkillFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def stranger():
    member = MembershipFactory()
    return {"organisation": member.organisation, "user": member.user}


def refused(work) -> None:
    with pytest.raises((ObjectDoesNotExist, ValidationError)):
        work()


def test_their_bookings_and_requests_stay_as_they_are(who, stranger):
    today = today_of(organisation=who["organisation"])
    days = {"first": today, "last": today + timedelta(days=1)}
    bender, member = BenderFactory(organisation=who["organisation"]), MemberFactory(organisation=who["organisation"])
    booked = services.book(**who, bender=bender, member=member, **days)
    out = BenderBookingFactory(bender=BenderFactory(organisation=who["organisation"]), state="out", **days)
    request = BenderRequestFactory(member=member, earliest=today)
    own, own_member = BenderFactory(organisation=stranger["organisation"]), MemberFactory(**_of(stranger))
    wish = member_requests.ProposedBooking(request.pk, bender.pk, *days.values())
    for work in (
        lambda: services.book(**stranger, bender=bender, **days),
        lambda: services.book(**stranger, bender=own, member=member, **days),
        lambda: services.book(**stranger, bender=own, member=own_member, request=request, **days),
        lambda: services.cancel(**stranger, booking=booked),
        lambda: services.check_out(**stranger, booking=booked, condition="sound"),
        lambda: services.check_in(**stranger, booking=out, condition="sound"),
        lambda: moving.move(**stranger, booking=booked, bender=own, **days),
        lambda: moving.move(**who, booking=booked, bender=own, **days),
        lambda: member_requests.withdraw_request(**stranger, request=request),
        lambda: member_requests.decline_request(**stranger, request=request, reason="no"),
        lambda: member_requests.book_proposal(**stranger, wishes=[wish]),
        lambda: member_requests.create_request(
            **stranger, data={"member": member, "days": 1, "earliest": today, "need_by": today}
        ),
    ):
        refused(work)
    assert set(BenderBooking.objects.values_list("state", "bender")) == {("booked", bender.pk), ("out", out.bender_id)}
    assert BenderRequest.objects.get().state == "asked"
    for organisation, rows in ((who["organisation"], {booked, out}), (stranger["organisation"], set())):
        assert set(selectors.bookings_of(organisation=organisation)) == rows
        assert {row for row, _ in selectors.spans_of(organisation=organisation, today=today)} == rows
        assert set(selectors.bender_blocks(organisation, today, 3)) == ({bender.pk, out.bender_id} if rows else set())
        had = had_by_member(organisation=organisation, rules=sharing_rules_of(organisation=organisation))
        assert set(had) == {row.member_id for row in rows}
        assert proposal_of(organisation=organisation).asked == (1 if rows else 0)
    (fit,) = selectors.fits_of(organisation=who["organisation"], requests=[request]).values()
    assert set(fit) == {bender, out.bender}
    assert set(moving.benders_for(organisation=who["organisation"], booking=booked)) == {bender, out.bender}


def _of(stranger):
    return {"organisation": stranger["organisation"]}


def test_their_names_are_free_and_theirs_stay_when_we_archive(who, stranger):
    theirs = MemberFactory(name="Alder Patch", slug="alder-patch", **_of(stranger))
    mine = member_requests.save_member(**who, data={"name": "Alder Patch"})
    assert mine.slug == "alder-patch"
    refused(lambda: member_requests.save_member(**who, data={"name": "Other"}, member=theirs))
    member_requests.archive_member(**who, member=theirs)
    theirs.refresh_from_db()
    assert theirs.archived_at is None
    other = member_requests.save_member(**who, data={"name": "Brook Acre"})
    member_requests.archive_member(**who, member=other)
    member_requests.bring_back_member(**stranger, member=other)
    other.refresh_from_db()
    assert other.archived_at
    member_requests.bring_back_member(**who, member=other)
    other.refresh_from_db()
    assert other.archived_at is None


def test_their_feeds_are_neither_made_nor_revoked(who, stranger):
    bender = BenderFactory(**_of(stranger))
    with pytest.raises(ValueError, match="of the organisation"):
        feeds.make_feed(**who, bender=bender)
    feed = feeds.make_feed(**stranger, bender=bender)
    feeds.revoke_feed(**who, bender=bender)
    assert feeds.open_feed(organisation=who["organisation"], bender=bender) is None
    assert CalendarFeed.objects.get().revoked_at is None and feed


def test_their_tasks_are_not_pressed_moved_fixed_or_made(who, stranger):
    person, task = a_day(who["organisation"])
    actual = a_problem(person, task, user=who["user"])
    photo = actual.photos.get()
    template = WorkTemplate.objects.create(name="Theirs", slug="theirs", **_of(stranger))
    mine = WorkTemplate.objects.create(name="Mine", slug="mine", **_of(who))
    own_skill = SkillFactory(**_of(stranger))
    one = [steps.Step("posts", 1, skill=own_skill)]
    for work in (
        lambda: record(**stranger, task=task, key=uuid4(), person=None, what="stop", at=timezone.now(), done=3),
        lambda: set_not_before(**stranger, task=task, day=None),
        lambda: schedules.set_fixed(**stranger, task=task, fixed=True),
        lambda: resolve(**stranger, actual=actual, how="bent again"),
        lambda: remove_photo(**stranger, photo=photo, reason="another house"),
        lambda: steps.make_tasks(**stranger, house=task.house),
        lambda: steps.plan_house(**stranger, house=task.house, template=template, due=None),
        lambda: steps.plan_house(**who, house=task.house, template=template, due=None),
        lambda: steps.save_template(**who, name="Mine", steps=[steps.Step("posts", 1)], template=template),
        lambda: steps.save_template(**who, name="Mine", steps=one, template=mine),
        lambda: steps.remove_template(**who, template=template),
    ):
        refused(work)
    task.refresh_from_db()
    assert (Actual.objects.get(), task.done, task.fixed) == (actual, 0, False)
    assert WorkTemplate.objects.filter(pk=template.pk, name="Theirs").exists()
    assert steps.save_template(**who, name="Theirs", steps=[steps.Step("posts", 1)]).slug == "theirs"
    assert steps.standard_template(**who).pk == mine.pk
    SkillFactory(name="Bending", **_of(stranger))
    assert all(step.skill is None for step in steps.standard_steps(**_of(who)))


def test_a_press_with_a_key_of_theirs_is_ours(who, stranger):
    (person, task), (other_person, other) = a_day(who["organisation"]), a_day(stranger["organisation"])
    press(person, task, "stop", done=3)
    press(other_person, other, "stop", done=5)
    task.refresh_from_db()
    assert (task.done, Actual.objects.of(who["organisation"]).get().done) == (3, 3)


def test_their_work_is_not_planned_with_ours(who, stranger):
    organisation = who["organisation"]
    crew, bender, _, tasks = a_season(organisation)
    their_crew, their_bender, _, _ = a_season(stranger["organisation"])
    assert [task.pk for task in live_tasks(organisation=organisation)] == [task.pk for task in tasks]
    start = datetime(2027, 5, 3, 5, 15, tzinfo=UTC)
    work = schedule_problem(organisation=organisation, tasks=list(live_tasks(organisation=organisation)), start=start)
    assert {way for ways in work.ways.values() for way in ways} == {(crew.pk, None), (crew.pk, bender.pk)}
    assert set(work.dues) == {str(tasks[0].house_id)}
    schedule = schedules.create_schedule(**stranger, now=NOW)
    assert schedule.number == schedules.create_schedule(**who, now=NOW).number == 1
    refused(lambda: published(organisation, schedule))
    ours = worked(organisation, who["user"])
    published(stranger["organisation"], worked(stranger["organisation"], stranger["user"]))
    assert published(organisation, ours) == 3
    assert {task.crew for task in Task.objects.of(stranger["organisation"])} == {their_crew}
    assert {task.bender for task in Task.objects.of(stranger["organisation"])} == {None, their_bender}
