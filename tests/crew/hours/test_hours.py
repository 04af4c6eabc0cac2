"""Hours past the crew's day are caught, corrected with a reason and approved; rates learn from approved hours alone."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import DatabaseError, transaction
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from farmbuild.crew.actuals.taking_back import take_back
from farmbuild.crew.hours.other_work import remove, write_down
from farmbuild.crew.hours.presenters import hours_page, read_seen
from farmbuild.crew.hours.selectors import forgotten_of, hours_of, runs_of, to_correct_of, waiting_before
from farmbuild.crew.hours.services import approve, correct
from farmbuild.crew.models import Actual, HourApproval, HourCorrection, Kind, OtherWork, Task
from farmbuild.crew.steps.selectors import spreads_of
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Membership
from tests.crew.daylist.test_ticks import a_day, press
from tests.crew.gate.test_gate import a_batch, a_house
from tests.crew.hours.making import MONDAY, a_run, approved
from tests.factories import MembershipFactory, PersonFactory
from tests.hoops.batches.making import make_shop
from tests.reading import text_of
from tests.waiting import comes_second

pytestmark = pytest.mark.django_db
WEEK = "/crew/worked/?week=2026-11-02"


@pytest.fixture
def two(organisation):
    """Ann and Ben of one crew, and a task of 40 posts."""
    ann, task = a_day(organisation)
    ann.name = "Ann"
    ann.save()
    return ann, PersonFactory(crew=task.crew, name="Ben"), task


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


def now(run):
    return runs_of(organisation=run.organisation).get(pk=run.pk)


def seen(*runs):
    return [(run.pk, now(run).latest) for run in runs]


def fix(who, run, minutes=360, people=3, reason="Stop was forgotten", **more):
    given = {"minutes": minutes, "people": people, "reason": reason, "seen": None} | more
    return correct(**who, actual=run, **given)


def rate(organisation):
    spread = spreads_of(organisation=organisation).get("posts")
    return spread and (spread.records, spread.median)


def test_a_forgotten_stop_teaches_nothing_before_it_is_corrected_and_approved(who, two, organisation):
    """10:00 to 04:00 by three: 54 person-hours for 10 posts. Corrected to 16:00: 6 h of three, 108 min a post."""
    ann, _, task = two
    run = a_run(task, ann, begins="10:00", ends="04:00", to=1, people=3, done=10)
    assert run.late and hours_of(now(run)).person_minutes == 54 * 60
    assert list(to_correct_of(organisation=organisation)) == [run]
    (wrong,) = hours_page(organisation=organisation, first=MONDAY.date())["wrong"]
    assert wrong.words == "stop at 16:00, 6 h"
    with pytest.raises(ValidationError, match="past the end of the crew's day"):
        approve(**who, runs=seen(run))
    assert rate(organisation) is None
    row = fix(who, run)
    # The original stays, and it waits.
    run.refresh_from_db()
    assert run.stopped_at - run.started_at == timedelta(hours=18)
    assert (now(run).latest, now(run).approved, rate(organisation)) == (row.pk, False, None)
    assert not to_correct_of(organisation=organisation).exists()
    assert approve(**who, runs=seen(run)) == 1
    assert rate(organisation) == (1, Decimal(108))


def test_corrected_again_it_waits_again(who, two, organisation):
    ann, _, task = two
    run = a_run(task, ann, done=10)
    approve(**who, runs=seen(run))
    assert rate(organisation) == (1, Decimal(12))
    fix(who, run, minutes=60, people=1)
    assert (now(run).approved, rate(organisation)) == (False, None)
    with pytest.raises(ValidationError, match="changed since the page was loaded"):
        fix(who, run, minutes=70)
    with pytest.raises(ValidationError, match="changed since the page was loaded"):
        approve(**who, runs=[(run.pk, None)])
    approve(**who, runs=seen(run))
    assert approve(**who, runs=seen(run)) == 0
    assert rate(organisation) == (1, Decimal(6))
    assert HourApproval.objects.count() == 2


def test_a_correction_says_why_and_keeps_to_a_day(who, two):
    ann, _, task = two
    run = a_run(task, ann)
    for wrong, field in (({"reason": " "}, "reason"), ({"minutes": 1441}, "minutes"), ({"people": 0}, "people")):
        with pytest.raises(ValidationError) as refused:
            fix(who, run, **wrong)
        assert set(refused.value.message_dict) == {field}
    assert not HourCorrection.objects.exists()


@pytest.mark.parametrize(
    ("ends", "to", "day", "late"),
    [("16:00", 0, 0, False), ("16:01", 0, 0, True), ("11:00", 1, 0, True), ("12:00", 0, 5, True)],
)
def test_past_the_end_of_the_day(two, ends, to, day, late):
    """At 16:00 it is over; on a Saturday nobody works."""
    ann, _, task = two
    assert a_run(task, ann, ends=ends, to=to, day=day).late is late


def test_typed_hours_longer_than_the_day_are_late(two):
    """07:00 to 16:00 is nine hours."""
    ann, _, task = two
    monday = MONDAY.date()
    assert not press(ann, task, "stop", minutes=9 * 60, day=monday).late
    assert press(ann, task, "stop", minutes=9 * 60 + 1, day=monday).late


def test_a_run_that_nobody_stopped_is_found_and_ends_with_its_correction(who, two, organisation):
    ann, _, task = two
    start = press(ann, task, "start", timezone.now() - timedelta(days=3))
    assert forgotten_of(organisation=organisation) == [start]
    row = fix(who, start, minutes=90, people=1)
    assert row.actual.begun == start and row.actual.length == timedelta(minutes=90)
    assert forgotten_of(organisation=organisation) == []
    assert hours_of(now(row.actual)).minutes == 90
    with pytest.raises(ValidationError, match="changed since"):
        fix(who, start)


def test_who_runs_now_is_not_forgotten(two, organisation):
    """Also where the crew has no hours that day: it is over at midnight."""
    ann, ben, task = two
    task.crew.week.hours.all().delete()
    start = press(ben, task, "start", timezone.now())
    assert forgotten_of(organisation=organisation) == []
    take_back(organisation=organisation, user=MembershipFactory(organisation=organisation).user, actual=start)
    ann.crew = None
    ann.save()
    Task.objects.filter(pk=task.pk).update(crew=None)
    press(ann, task, "start", timezone.now())
    assert forgotten_of(organisation=organisation) == []


def test_all_who_were_at_it_count_together(two, organisation):
    """Ann counted for both: 2 h of her and 2 h of Ben are 4 person-hours for 20 posts, 12 min each."""
    ann, ben, task = two
    approved(a_run(task, ann, done=20))
    other = a_run(task, ben)
    # His hours are not approved yet.
    assert rate(organisation) is None
    approved(other)
    assert rate(organisation) == (1, Decimal(12))


def test_what_was_taken_back_teaches_nothing(who, two, organisation):
    ann, _, task = two
    run = approved(a_run(task, ann, done=20))
    assert rate(organisation) == (1, Decimal(6))
    take_back(**who, actual=run)
    assert rate(organisation) is None


def test_own_hours_are_approved_by_another_where_there_is_one(who, two, organisation, user):
    ann, ben, task = two
    ann.user = user
    ann.save()
    own, his = a_run(task, ann), a_run(task, ben)
    other = MembershipFactory(organisation=organisation, role=Membership.Role.PLANNER).user
    assert approve(**who, runs=seen(own, his)) == 1
    assert (now(own).approved, now(his).approved) == (False, True)
    with pytest.raises(ValidationError, match="Your own hours"):
        approve(**who, runs=seen(own))
    Membership.objects.filter(user=other).update(role=Membership.Role.CREW)
    assert approve(**who, runs=seen(own)) == 1


def test_who_plans_approves_and_whose_they_are_corrects(who, two, organisation):
    ann, ben, task = two
    ann.user = MembershipFactory(organisation=organisation, role=Membership.Role.CREW).user
    ann.save()
    own, his = a_run(task, ann), a_run(task, ben)
    hers = {"organisation": organisation, "user": ann.user}
    with pytest.raises(PermissionDenied):
        approve(**hers, runs=seen(his))
    with pytest.raises(PermissionDenied):
        fix(hers, his)
    assert fix(hers, own).by == ann.user


def test_rows_of_others_are_refused(two, user):
    ann, _, task = two
    run = a_run(task, ann)
    stranger = MembershipFactory()
    theirs = {"organisation": stranger.organisation, "user": stranger.user}
    with pytest.raises(Task.DoesNotExist):
        fix(theirs, run)
    with pytest.raises(ValidationError, match="changed since"):
        approve(**theirs, runs=seen(run))


def test_the_database_keeps_corrections_and_approvals(who, two):
    ann, ben, task = two
    run, other = a_run(task, ann), a_run(task, ben)
    row = fix(who, run)
    approve(**who, runs=seen(run))
    for rows in (HourCorrection.objects, HourApproval.objects):
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.update(by=None)
    with pytest.raises(DatabaseError, match="as its own correction left it"), transaction.atomic():
        HourApproval.objects.create(organisation=run.organisation, actual=other, correction=row)
    with pytest.raises(DatabaseError, match="of a run"), transaction.atomic():
        HourApproval.objects.create(organisation=MembershipFactory().organisation, actual=other)


# Other work


def test_other_work_counts_in_hours_and_teaches_no_rate(who, two, organisation):
    ann, _, task = two
    work = write_down(
        **who, house=task.house, what="Cleared  stones", day=MONDAY.date(), minutes=90, people=2, person=ann
    )
    assert (work.what, work.crew) == ("Cleared stones", ann.crew)
    page = hours_page(organisation=organisation, first=MONDAY.date())
    assert (page["person_hours"], page["waiting"]) == ("3.0", 1)
    assert approve(**who, **read_seen(page["groups"][0].seen)) == 1
    page = hours_page(organisation=organisation, first=MONDAY.date())
    assert (page["waiting"], page["groups"][0].seen) == (0, "")
    assert spreads_of(organisation=organisation) == {}
    remove(**who, work=work, reason="Written down twice")
    assert hours_page(organisation=organisation, first=MONDAY.date())["person_hours"] == "0.0"
    with pytest.raises(ValidationError, match="already"):
        remove(**who, work=work, reason="again")
    today = today_of(organisation=organisation)
    with pytest.raises(ValidationError, match="today or an earlier day"):
        write_down(**who, house=task.house, what="x", day=today + timedelta(days=1), minutes=5)
    assert write_down(**who, house=task.house, what="x", day=today, minutes=5).day == today
    with pytest.raises(DatabaseError), transaction.atomic():
        OtherWork.objects.update(minutes=5)


def test_other_work_on_its_pages(signed_in, two, organisation):
    _, _, task = two
    form = {"what": "Cleared stones", "day": "2026-11-02", "hours": "1.5", "people": "2"}
    address = reverse("crew:hours-other-new", args=[task.house.slug])
    assert "Written down: Cleared stones" in text_of(signed_in.post(address, form, follow=True))
    assert "Type the hours as a number" in text_of(signed_in.post(address, form | {"hours": "30"}))
    work = OtherWork.objects.get()
    house = text_of(signed_in.get(reverse("crew:house-work", args=[task.house.slug])))
    assert "Cleared stones" in house and "1 h 30 min for 2 people" in house
    assert "Cleared stones" in text_of(signed_in.get(WEEK))
    where = reverse("crew:hours-other", args=[work.pk])
    assert "Taken back: Cleared stones" in text_of(signed_in.post(where, {"reason": "Twice"}, follow=True))
    assert "Twice" in text_of(signed_in.get(where))


def test_what_waits_of_earlier_days_is_counted_up_to_the_day_before(two, organisation):
    """Two runs of Monday; the one of Tuesday went past the day, so it is to correct first."""
    ann, ben, task = two
    a_run(task, ann, done=10)
    a_run(task, ben)
    a_run(task, ben, ends="20:00", day=1)
    days = [MONDAY.date() + timedelta(days=n) for n in range(3)]
    assert [waiting_before(organisation=organisation, day=day) for day in days] == [0, 2, 2]


# Pages


def test_a_day_is_approved_with_one_press(signed_in, two, organisation, user):
    ann, ben, task = two
    a_run(task, ann, done=10)
    a_run(task, ben)
    late = a_run(task, ben, ends="20:00", day=1)
    page = signed_in.get(WEEK)
    assert "4.0 person-hours from" in text_of(page) and "1 to correct" in text_of(page)
    (group, _), (other, _) = page.context["tables"]
    assert (group.waiting, other.waiting, other.wrong) == (2, 0, 1)
    press_it = {"seen": group.seen, "day": "2026-11-02"}
    answer = signed_in.post(reverse("crew:hours-approve"), press_it, follow=True)
    assert "The hours are approved" in text_of(answer) and answer.redirect_chain[0][0] == WEEK
    assert not runs_of(organisation=organisation).exclude(pk=late.pk).filter(approved=False).exists()
    assert not now(late).approved
    # What was corrected since is not approved unseen.
    fix({"organisation": organisation, "user": user}, group.rows[0].record, minutes=60, people=1)
    assert "changed since" in text_of(signed_in.post(reverse("crew:hours-approve"), press_it, follow=True))


def test_one_run_is_corrected_on_its_page(signed_in, two):
    ann, _, task = two
    run = a_run(task, ann, begins="10:00", ends="03:00", to=1, people=3, done=10)
    address = reverse("crew:hours-run", args=[run.pk])
    page = signed_in.get(address)
    assert "stop at 16:00, 6 h" in text_of(page) and page.context["form"]["hours"].value() == "6"
    form = {"hours": "6", "people": "3", "reason": "Stop was forgotten", "seen": ""}
    assert "Say why" in text_of(signed_in.post(address, form | {"reason": ""}))
    assert "wait for approval" in text_of(signed_in.post(address, form, follow=True))
    assert "Stop was forgotten" in text_of(signed_in.get(address))
    assert "changed since" in text_of(signed_in.post(address, form))


def test_pages_of_others(client, two):
    ann, _, task = two
    run = a_run(task, ann)
    work = write_down(
        organisation=task.organisation, user=None, house=task.house, what="Stones", day=MONDAY.date(), minutes=5
    )
    client.force_login(MembershipFactory().user)
    for name, key in (("hours-run", run.pk), ("hours-other", work.pk), ("hours-other-new", task.house.slug)):
        assert client.get(reverse(f"crew:{name}", args=[key])).status_code == 404
    assert "Stones" not in text_of(client.get(WEEK))


def test_a_worker_sees_no_button_to_approve(client, two, organisation):
    ann, _, task = two
    a_run(task, ann)
    client.force_login(MembershipFactory(organisation=organisation, role=Membership.Role.YARD).user)
    page = client.get(WEEK)
    assert "Approve these hours" not in page.text
    assert client.post(reverse("crew:hours-approve"), {"seen": page.context["groups"][0].seen}).status_code == 403


def test_the_workbook_has_all_hours(signed_in, who, two, organisation):
    ann, ben, task = two
    run = a_run(task, ann, people=2, done=7)
    a_run(task, ben, ends="20:00", day=1)
    fix(who, run, minutes=90, people=2, reason="Lunch")
    write_down(**who, house=task.house, what="Cleared stones", day=MONDAY.date(), minutes=30, person=ben)
    answer = signed_in.get(reverse("crew:hours-workbook"))
    assert "hours-" in answer["Content-Disposition"]
    sheet = load_workbook(BytesIO(answer.content))["Hours"]
    rows = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=4)]
    told = [(row[2], row[4], row[6], row[7], row[9], row[10], row[11]) for row in rows[:3]]
    assert told == [
        ("Ann", "Ground posts", 1.5, 2, 7, "waits for approval", "Lunch"),
        ("Ben", "Cleared stones", 0.5, 1, None, "waits for approval", None),
        ("Ben", "Ground posts", 0, 1, 0, "to correct", None),
    ]
    assert rows[3][8] == "=SUM(I4:I6)"


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_approving_against_correcting(organisation, user):
    """Whichever ends last: no hours are approved that nobody saw."""
    who = {"organisation": organisation, "user": user}
    person, task = a_day(organisation)
    run = a_run(task, person)
    said = comes_second(lambda: fix(who, run, minutes=60), lambda: approve(**who, runs=[(run.pk, None)]))
    assert said.startswith("These hours changed since") and not now(run).approved
    last = now(run).latest
    comes_second(lambda: approve(**who, runs=[(run.pk, last)]), lambda: fix(who, run, minutes=70, seen=last))
    assert (now(run).approved, now(run).corrected_minutes) == (False, 70)
    last = now(run).latest
    both = comes_second(lambda: fix(who, run, minutes=80, seen=last), lambda: fix(who, run, minutes=90, seen=last))
    assert both.startswith("These hours changed since") and now(run).corrected_minutes == 80
    pair = [(run.pk, now(run).latest)]
    assert comes_second(lambda: approve(**who, runs=pair), lambda: approve(**who, runs=pair)) == 0
    assert Actual.objects.count() == 1


def test_a_bend_that_batches_count_teaches_once_it_is_done(organisation, user):
    """Two hours by two for the pulls after the trial hoop's."""
    shop = make_shop(organisation, user)
    house = a_house(shop, "One")
    batch = a_batch(shop, house)
    batch.prove()
    bend = Task.objects.get(house=house, kind=Kind.BEND)
    run = approved(a_run(bend, PersonFactory(organisation=organisation), people=2))
    assert "bend" not in spreads_of(organisation=organisation)
    Task.objects.filter(pk=bend.pk).update(state=Task.State.DONE, done=48)
    assert spreads_of(organisation=organisation)["bend"].median == 5
    fix({"organisation": organisation, "user": user}, run)
    assert "bend" not in spreads_of(organisation=organisation)
