"""What changed since a schedule was worked out or published, and which of its tasks no longer fit."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import translation

from farmbuild.crew.models import (
    BenderBooking,
    CrewSettings,
    DayOff,
    HouseWork,
    Kind,
    Member,
    Person,
    StepAfter,
    Task,
    Travel,
    WorkHours,
    WorkTemplate,
)
from farmbuild.crew.schedule import comparison
from farmbuild.crew.schedule.comparison import compare
from farmbuild.sites.models import Site
from tests.crew.schedule.test_services import NOW, a_season, published, worked
from tests.factories import CrewFactory, HouseFactory, PersonFactory, SiteFactory, SkillFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def no_answers_of_other_tests():
    cache.clear()


@pytest.fixture
def season(organisation):
    """Posts on Monday 3 May 2027 and Tuesday around the bend of six hours, and setting on Tuesday 9 to 11."""
    crew, bender, house, tasks = a_season(organisation)
    Person.objects.filter(pk=crew.people.first().pk).update(name="Ana Lindqvist")
    crew.name = "South"
    crew.save()
    return crew, bender, house, tasks


def stands(organisation, schedule):
    return compare(organisation=organisation, schedule=schedule, now=NOW)


def told(found, task) -> str:
    return " ".join(found.misfits[task.pk])


def lend(organisation, bender, first, last):
    member = Member.objects.create(organisation=organisation, name="Next farm", slug="next-farm")
    return BenderBooking.objects.create(organisation=organisation, bender=bender, member=member, first=first, last=last)


def test_nothing_changed_is_nothing_told(organisation, user, season):
    schedule = worked(organisation, user)
    assert not stands(organisation, schedule)
    published(organisation, schedule)
    schedule.refresh_from_db()
    assert not stands(organisation, schedule)


def test_a_day_off_is_told_with_who_and_hurts_the_tasks_of_that_day(organisation, user, season):
    """Posts and bend fill Monday and take Tuesday's first hours; setting waits for both. All need two people."""
    crew, _, _, tasks = season
    schedule = worked(organisation, user)
    DayOff.objects.create(
        organisation=organisation,
        person=crew.people.get(name="Ana Lindqvist"),
        first=date(2027, 5, 4),
        last=date(2027, 5, 4),
    )
    found = stands(organisation, schedule)
    assert found.changes == ("Ana Lindqvist is off 4 May 2027. South has one fewer then.",)
    assert "South has 1 person on Tuesday 4 May at" in told(found, tasks[2]) and "takes 2." in told(found, tasks[2])
    with pytest.raises(ValidationError, match=r"no longer fit.*Work out again"):
        published(organisation, schedule)
    assert not Task.objects.exclude(starts_at=None).exists()
    DayOff.objects.all().delete()
    assert not stands(organisation, schedule)
    published(organisation, schedule)


def test_a_change_that_hurts_no_task_is_told_and_lets_it_be_published(organisation, user, season):
    crew, _, _, _ = season
    schedule = worked(organisation, user)
    DayOff.objects.create(
        organisation=organisation, person=crew.people.first(), first=date(2027, 6, 4), last=date(2027, 6, 5)
    )
    found = stands(organisation, schedule)
    assert "off 4 June 2027 to 5 June 2027" in found.changes[0] and not found.misfits
    assert published(organisation, schedule) == 3
    schedule.refresh_from_db()
    assert not stands(organisation, schedule)


def test_a_bender_that_is_lent_meanwhile(organisation, user, season):
    _, bender, _, tasks = season
    schedule = worked(organisation, user)
    booking = lend(organisation, bender, date(2027, 5, 3), date(2027, 5, 5))
    found = stands(organisation, schedule)
    assert found.changes == ("Rail bender is lent to Next farm 3 May 2027 to 5 May 2027.",)
    assert "Rail bender is away on Monday 3 May at" in told(found, tasks[1])
    assert set(found.misfits) == {tasks[1].pk}
    BenderBooking.objects.filter(pk=booking.pk).update(state=BenderBooking.State.CANCELLED)
    assert not stands(organisation, schedule)


def test_hours_that_are_cut(organisation, user, season):
    crew, _, _, tasks = season
    schedule = worked(organisation, user)
    WorkHours.objects.filter(week=crew.week).update(starts=time(10))
    found = stands(organisation, schedule)
    assert found.changes == (f"The working hours {crew.week.name} of South changed.",)
    assert tasks[2].pk in found.misfits


def test_material_that_comes_later(organisation, user, season):
    _, _, house, tasks = season
    schedule = worked(organisation, user)
    house.need_date = date(2027, 5, 6)
    house.save()
    found = stands(organisation, schedule)
    said = " ".join(found.changes)
    assert f"Materials of {house} for" in said and "on site on 6 May 2027 now, not on 3 May 2027." in said
    for task in tasks[:2]:
        assert "and may not before Thursday 6 May." in told(found, task)


def test_who_may_do_it(organisation, user, season):
    crew, _, _, tasks = season
    schedule = worked(organisation, user)
    skill = SkillFactory(organisation=organisation, name="Bending")
    WorkTemplate.objects.get().steps.filter(kind=Kind.BEND).update(skill=skill)
    found = stands(organisation, schedule)
    assert "The steps Plain changed" in found.changes[0]
    assert "skill “Bending”" in told(found, tasks[1]) and set(found.misfits) == {tasks[1].pk}
    crew.people.first().skills.add(skill)
    found = stands(organisation, schedule)
    assert not found.misfits and any("has the skill Bending now" in words for words in found.changes)
    other = CrewFactory(organisation=organisation, week=crew.week, name="North")
    PersonFactory.create_batch(2, crew=other)
    Person.objects.filter(name="Ana Lindqvist").update(crew=other)
    found = stands(organisation, schedule)
    assert "Ana Lindqvist is in North now, was in South." in found.changes
    assert all(task.pk in found.misfits for task in tasks)
    assert "South may not do it any more" in told(found, tasks[0])


def test_what_waits_and_what_takes_longer(organisation, user, season):
    _, _, house, tasks = season
    schedule = worked(organisation, user)
    StepAfter.objects.filter(lag_minutes=60).update(lag_minutes=60 * 48)
    Task.objects.filter(pk=tasks[0].pk).update(minutes=300)
    HouseWork.objects.update(due=date(2027, 5, 9))
    found = stands(organisation, schedule)
    said = " ".join(found.changes)
    assert f"Ground posts of {house} takes 2 people and 5 h now, not 2 and 4 h." in said
    assert f"{house} is to stand by 9 May 2027 now." in said
    assert "The steps Plain changed: a skill, or what waits for what." in found.changes
    assert "has 4 h of work and takes 5 h." in told(found, tasks[0])
    assert f"starts before “Bend the batch” of {house} has ended and 48 h have gone." in told(found, tasks[2])


def test_a_task_that_starts_not_before_a_day(organisation, user, season):
    _, _, house, tasks = season
    schedule = worked(organisation, user)
    Task.objects.filter(pk=tasks[2].pk).update(not_before=date(2027, 5, 6))
    found = stands(organisation, schedule)
    assert found.changes == (f"Set and spring in of {house} starts on 6 May 2027 at the earliest.",)
    assert set(found.misfits) == {tasks[2].pk}
    again = worked(organisation, user)
    place = next(row for row in again.result["placed"] if row["task"] == tasks[2].pk)
    assert datetime.fromisoformat(place["starts_at"]).date() == date(2027, 5, 6)


def test_a_longer_journey(organisation, user, season):
    """A second house elsewhere, an hour away; the crew goes there in between or after."""
    _, _, house, _ = season
    twin = HouseFactory(
        site=SiteFactory(organisation=organisation),
        recipe=house.recipe,
        need_date=date(2027, 5, 3),
        organisation=organisation,
    )
    HouseWork.objects.create(organisation=organisation, house=twin, template=house.work.template)
    Task.objects.create(organisation=organisation, house=twin, kind=Kind.POSTS, people=2, minutes=60)
    one, other = sorted((house.site, twin.site), key=lambda site: site.pk)
    road = Travel.objects.create(organisation=organisation, one=one, other=other, minutes=15)
    schedule = worked(organisation, user)
    Travel.objects.filter(pk=road.pk).update(minutes=1440)
    CrewSettings.objects.create(organisation=organisation, travel_minutes=45)
    found = stands(organisation, schedule)
    assert f"From {one.name} to {other.name} it takes 24 h now, not 15 min." in found.changes
    assert any("it takes 45 min now, not 30 min" in words for words in found.changes)
    assert "cannot be in time for" in str(found.misfits)


def test_another_name_of_a_site_changes_nothing(organisation, user, season):
    _, _, house, _ = season
    Travel.objects.create(
        organisation=organisation, one=house.site, other=SiteFactory(organisation=organisation), minutes=15
    )
    schedule = worked(organisation, user)
    Site.objects.filter(pk=house.site_id).update(name="Below the mill")
    assert not stands(organisation, schedule)


def test_work_as_it_goes_on_changes_nothing_and_what_is_overdue_is_told(organisation, user, season):
    _, _, _, tasks = season
    schedule = worked(organisation, user)
    published(organisation, schedule)
    schedule.refresh_from_db()
    for task in tasks:
        task.refresh_from_db()
    first = min(tasks[:2], key=lambda task: task.starts_at)
    Task.objects.filter(pk=first.pk).update(state=Task.State.STARTED)
    assert not stands(organisation, schedule)
    late = compare(organisation=organisation, schedule=schedule, now=first.ends_at + timedelta(hours=1))
    assert not late.changes and set(late.misfits) == {first.pk}
    assert "and is not done." in told(late, first)
    late = compare(organisation=organisation, schedule=schedule, now=tasks[2].ends_at + timedelta(hours=1))
    assert "and is not begun." in told(late, tasks[2])


def test_the_pages_tell_it(signed_in, organisation, user, season):
    _, bender, _, tasks = season
    published(organisation, worked(organisation, user))
    board = reverse("crew:board")
    assert "Since schedule 1 was published" not in text_of(signed_in.get(board))
    DayOff.objects.create(organisation=organisation, first=date(2027, 5, 4), last=date(2027, 5, 4), reason="Feast")
    page = text_of(signed_in.get(board))
    assert "Since schedule 1 was published" in page and "Everybody is off 4 May 2027." in page
    assert "no longer fit" in page and "Work out again" in page and f"/crew/tasks/{tasks[2].pk}/" in page
    new = worked(organisation, user)
    lend(organisation, bender, date(2027, 5, 3), date(2027, 5, 7))
    page = text_of(signed_in.get(reverse("crew:schedule", args=[new.number])))
    assert "Rail bender is lent to Next farm" in page and "Rail bender is away on Monday 3 May" in page
    assert "Work out again" in page and "Publish it for everybody" not in page
    answer = text_of(signed_in.post(reverse("crew:schedule-publish", args=[new.number]), follow=True))
    assert "1 task no longer fits what is there now" in answer


def test_the_board_looks_at_tasks_only_where_something_changed(signed_in, organisation, user, season, monkeypatch):
    published(organisation, worked(organisation, user))
    looked = []
    monkeypatch.setattr(comparison, "misfits_of", lambda **given: looked.append(1) or {})
    signed_in.get(reverse("crew:board"))
    assert not looked
    DayOff.objects.create(organisation=organisation, first=date(2027, 9, 4), last=date(2027, 9, 4))
    for _ in range(3):
        assert "Everybody is off 4 September 2027." in text_of(signed_in.get(reverse("crew:board")))
    assert looked == [1]


def test_as_many_queries_for_many_houses_as_for_few(organisation, user, season):
    crew, _, house, _ = season
    schedule = worked(organisation, user)

    def look(houses: int) -> int:
        for n in range(houses):
            twin = HouseFactory(
                site=house.site, recipe=house.recipe, need_date=date(2027, 5, 3), slug=f"twin-{houses}-{n}"
            )
            HouseWork.objects.create(organisation=organisation, house=twin, template=house.work.template)
            Task.objects.create(organisation=organisation, house=twin, kind=Kind.POSTS, people=2, minutes=60)
            DayOff.objects.create(
                organisation=organisation, person=crew.people.first(), first=date(2027, 7, 1), last=date(2027, 7, 1 + n)
            )
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert stands(organisation, schedule)
        return len(caught)

    assert look(2) == look(20)


def test_rows_of_others_are_nothing_to_it(organisation, user, season):
    schedule = worked(organisation, user)
    other = CrewFactory()
    PersonFactory(crew=other)
    DayOff.objects.create(organisation=other.organisation, first=date(2027, 5, 3), last=date(2027, 5, 9))
    assert not stands(organisation, schedule)


def test_what_was_told_in_one_language_is_told_anew_in_another(organisation, user, season):
    schedule = worked(organisation, user)
    DayOff.objects.create(
        organisation=organisation, person=season[0].people.first(), first=date(2027, 6, 4), last=date(2027, 6, 5)
    )
    with translation.override("en"):
        english = stands(organisation, schedule).changes
    with translation.override("es"):
        spanish = stands(organisation, schedule).changes
    assert english and spanish and english != spanish
    with translation.override("en"):
        assert stands(organisation, schedule).changes == english


def test_materials_are_looked_for_once_for_the_basis_and_the_misfits(organisation, user, season):
    schedule = worked(organisation, user)
    DayOff.objects.create(
        organisation=organisation, person=season[0].people.first(), first=date(2027, 5, 4), last=date(2027, 5, 4)
    )
    with CaptureQueriesContext(connection) as asked:
        assert stands(organisation, schedule).misfits
    held = [row for row in asked if 'FROM "stock_reservation" INNER JOIN "buying_purchaseorderline"' in row["sql"]]
    assert len(held) == 1
