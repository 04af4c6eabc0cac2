"""Hours become money where a planner approves them: a row a person, the rate of the day, reversed and never edited."""

from __future__ import annotations

from datetime import date, time, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction

from farmbuild.costs.models import PaidTime, PayRate
from farmbuild.costs.time.approved import not_in_money_of
from farmbuild.costs.time.services import name_people, put_waiting, take_back_time, type_time
from farmbuild.crew.actuals.taking_back import take_back
from farmbuild.crew.hours.other_work import remove, write_down
from farmbuild.crew.hours.services import approve, correct
from farmbuild.crew.models import HourApproval
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.services import save_organisation
from tests.costs.making import DAY, FIRST, Team, a_task, paid
from tests.crew.hours.making import a_run
from tests.factories import DayOffFactory, OrganisationFactory, PersonFactory
from tests.reading import text_of
from tests.waiting import comes_second

pytestmark = pytest.mark.django_db
MIDNIGHT = "It ends before it starts. Where it went past midnight, tick that it ended on the next day."


@pytest.fixture
def team(organisation, user):
    return Team(organisation, user).rates()


def typed(team, person, minutes, **more):
    given = {"day": DAY, "house": team.house, "step": "set", "minutes": minutes} | more
    return type_time(**team.who, person=person, **given)


def refused(call) -> str:
    with pytest.raises(ValidationError) as error:
        call()
    return " ".join(error.value.messages)


def test_the_worked_figures(team):
    """14.5 h x 29 + 14.5 h x 34.75 = 924.38, and 3.25 h x 34.75 = 112.94, each row rounded by itself."""
    for day in (0, 1):
        for person in (team.ann, team.ben):
            typed(team, person, 435, day=DAY + timedelta(days=day))
    assert sum(row.amount for row in PaidTime.objects.all()) == Decimal("924.38")
    [row] = typed(team, team.ben, 195, day=DAY + timedelta(days=2))
    assert (row.amount, row.rate) == (Decimal("112.94"), Decimal("34.75"))


def test_hours_typed_without_times_keep_nobody_from_being_paid(team):
    typed(team, team.ann, 30)
    assert team.approve(a_run(team.task, team.ann, begins="10:00", ends="12:00", people=2)) == 1
    assert [(name, minutes) for name, minutes, *_ in paid()] == [("Ann", 30), ("Ann", 120), ("Ben", 120)]


def test_a_run_of_two_is_a_row_a_person(team):
    run = a_run(team.task, team.ann, begins="10:00", ends="12:00", people=2)
    assert team.approve(run) == 1
    assert paid() == [("Ann", 120, Decimal(58), False), ("Ben", 120, Decimal("69.5"), False)]
    row = PaidTime.objects.first()
    assert (row.house, row.step, row.day, row.by) == (team.house, "posts", DAY, team.user)
    assert (row.starts_at, row.ends_at) == (run.started_at, run.stopped_at)
    assert row.approval.actual == run


def test_never_more_or_fewer_people_than_the_run_had(team):
    run = a_run(team.task, team.ann, people=3)
    DayOffFactory(
        organisation=team.organisation, person=team.ben, first=DAY + timedelta(days=1), last=DAY + timedelta(days=1)
    )
    other = a_run(team.task, team.ann, day=1, people=2)
    team.approve(run, other)
    assert paid() == []
    assert [one.actual for one in not_in_money_of(organisation=team.organisation)] == [run, other]
    third = PersonFactory(crew=None, organisation=team.organisation, name="Cy")
    approval = HourApproval.objects.get(actual=run)
    for people in ([team.ann, team.ben], [team.ann, team.ann, team.ben]):
        words = refused(lambda people=people: name_people(**team.who, approval=approval, people=people))
        assert words == "3 people worked. Choose as many, 2 are chosen."
    words = refused(lambda: name_people(**team.who, approval=approval, people=[team.ann, team.ben, third]))
    assert words == "There is no price for an hour of Cy on 2 November 2026. Set one first, from that day on."
    team.rate("20")
    name_people(**team.who, approval=approval, people=[third, team.ben, team.ann])
    assert [row[0] for row in paid()] == ["Cy", "Ben", "Ann"]
    assert "changed since" in refused(lambda: name_people(**team.who, approval=approval, people=[third] * 3))


def test_a_person_without_a_rate_has_that_of_the_crew_else_of_everybody(team):
    cy = PersonFactory(crew=team.crew, name="Cy")
    run = a_run(team.task, cy, begins="08:00", ends="09:00")
    team.approve(run)
    assert paid() == []
    team.rate("18")
    team.rate("21", crew=team.crew, since=DAY + timedelta(days=1))
    later = a_run(team.task, cy, begins="08:00", ends="09:00", day=1)
    team.approve(later)
    assert put_waiting(**team.who) == 1
    assert put_waiting(**team.who) == 0
    assert [(row[0], row[2]) for row in paid()] == [("Cy", Decimal(21)), ("Cy", Decimal(18))]


def test_a_rate_that_changes_later_changes_nothing_past(team):
    run = a_run(team.task, team.ann)
    team.approve(run)
    team.rate("50", person=team.ann)
    assert PayRate.objects.filter(person=team.ann).count() == 1
    assert paid() == [("Ann", 120, Decimal(58), False)]
    fix(team, run, minutes=60)
    team.approve(run)
    assert paid()[1:] == [("Ann", -120, Decimal(-58), False), ("Ann", 60, Decimal(50), False)]


def fix(team, run, *, minutes, people=1, reason="Stop was forgotten", seen=None):
    return correct(**team.who, actual=run, minutes=minutes, people=people, reason=reason, seen=seen)


def test_hours_corrected_since_wait_to_be_approved_and_are_not_in_money(team):
    run = a_run(team.task, team.ann, begins="10:00", ends="12:00")
    team.approve(run)
    fix(team, run, minutes=90)
    assert not not_in_money_of(organisation=team.organisation).exists()


def test_at_two_houses_at_once_is_refused_with_both(team):
    one = a_run(team.task, team.ann, begins="10:00", ends="12:00", people=2)
    other = a_run(a_task(team.organisation, team.crew), team.ben, begins="11:30", ends="13:00")
    words = refused(lambda: team.approve(one, other))
    assert words == (
        f"Ben would be at two things at once: Ground posts at {team.house}, 10:00 to 12:00 on 2 November 2026, and"
        f" Ground posts at {other.task.house}, 11:30 to 13:00 on 2 November 2026. Correct one of them first."
    )
    assert (paid(), HourApproval.objects.count()) == ([], 0)
    team.approve(one)
    assert "two things at once" in refused(lambda: team.approve(other))
    assert "two things at once" in refused(lambda: typed(team, team.ann, None, starts=time(11, 59), ends=time(12, 30)))
    fix(team, one, minutes=90, people=2)
    team.approve(one, other)
    assert [row[:2] for row in paid()][4:] == [("Ann", 90), ("Ben", 90), ("Ben", 90)]
    # One after the other, to the minute, is no overlap.
    typed(team, team.ann, None, starts=time(11, 30), ends=time(12, 30))


def test_past_the_end_of_the_day_it_is_two_rows(team):
    run = a_run(team.task, team.ann, begins="14:00", ends="18:00")
    fix(team, run, minutes=180)
    team.approve(run)
    assert paid() == [("Ann", 120, Decimal(58), False), ("Ann", 60, Decimal(29), True)]
    before, after = PaidTime.objects.all()
    assert before.ends_at == after.starts_at
    typed(team, team.ben, 600)
    assert paid()[2:] == [("Ben", 540, Decimal("312.75"), False), ("Ben", 60, Decimal("34.75"), True)]
    # A break lies before the end of the day, also where it is longer than what lies there.
    for at, minutes in enumerate((30, 20), start=1):
        typed(team, team.ben, minutes, day=DAY + timedelta(days=at), starts=time(15, 30), ends=time(16, 30))
    assert paid()[4:] == [("Ben", 30, Decimal("17.38"), True), ("Ben", 20, Decimal("11.58"), True)]


def test_what_is_taken_back_is_taken_back_whole_and_once(team):
    run = a_run(team.task, team.ann, people=2)
    team.approve(run)
    row = PaidTime.objects.first()
    assert len(take_back_time(**team.who, row=row, reason="Wrong people")) == 2
    assert refused(lambda: take_back_time(**team.who, row=row, reason="Again")) == "This is taken back already."
    assert "Say why" in refused(lambda: take_back_time(**team.who, row=row, reason=" "))
    assert PaidTime.objects.net().count() == 0
    assert put_waiting(**team.who) == 2
    take_back(**team.who, actual=run, reason="Never happened")
    assert sum(row[1] for row in paid()) == sum(row[2] for row in paid()) == 0
    assert len(paid()) == 8
    assert not not_in_money_of(organisation=team.organisation).exists()


def test_other_work_goes_the_same_way(team):
    work = write_down(**team.who, house=team.house, what="Cleared stones", day=DAY, minutes=30, person=team.ann)
    approve(**team.who, runs=[], other=[work.pk])
    assert paid() == [("Ann", 30, Decimal("14.5"), False)]
    assert PaidTime.objects.get().what == "Cleared stones"
    remove(**team.who, work=work, reason="Twice")
    assert [row[1] for row in paid()] == [30, -30]
    assert PaidTime.objects.last().reason == "Taken back: Twice"


def test_typed_time_that_cannot_be(team, organisation):
    stranger = PersonFactory(organisation=OrganisationFactory())
    tonight = {"day": today_of(organisation=organisation), "starts": time(22), "ends": time(2), "next_day": True}
    for words, given in (
        ("Choose one from the list.", {"person": stranger}),
        ("It is charged once it is done. Type today or an earlier day.", {"day": date(2099, 1, 1)}),
        ("It is charged once it is done. Type today or an earlier day.", tonight),
        ("Choose a step, or say what was done.", {"step": ""}),
        ("Choose a house, or a job as a whole: one of the two.", {"house": None}),
        ("Type the hours, or from when to when.", {"minutes": None}),
        ("Type hours of one day, up to 24.", {"minutes": 1441}),
        ("Type both times, or neither.", {"starts": time(8)}),
        (MIDNIGHT, {"starts": time(8), "ends": time(8)}),
        ("Type from when to when it was, where it went past midnight.", {"next_day": True}),
        ("These are more hours than lie between the two times.", {"starts": time(8), "ends": time(8, 30)}),
        (
            "There is no price for an hour of Ann on 31 December 2025. Set one first, from that day on.",
            {"day": FIRST - timedelta(days=1)},
        ),
    ):
        given = {"person": team.ann, "minutes": 60} | given
        assert refused(lambda given=given: typed(team, **given)) == words
    typed(team, team.ann, 1000)
    assert "more than 24 hours of Ann on 2 November 2026" in refused(lambda: typed(team, team.ann, 500))
    assert PaidTime.objects.net().count() == 2


def test_one_thing_ends_as_the_next_begins_and_a_day_has_24_hours(team):
    for starts, ends in ((time(8), time(10)), (time(10), time(11))):
        typed(team, team.ann, None, starts=starts, ends=ends)
    typed(team, team.ann, 21 * 60)
    assert sum(PaidTime.objects.values_list("minutes", flat=True)) == 24 * 60
    assert "more than 24 hours" in refused(lambda: typed(team, team.ann, 1))


def test_no_row_is_edited_or_deleted_and_none_is_paid_twice(team):
    [row] = typed(team, team.ann, None, starts=time(8), ends=time(9))
    values = {field.attname: getattr(row, field.attname) for field in PaidTime._meta.concrete_fields}
    del values["id"]
    other_house = a_task(team.organisation, team.crew).house
    back = values | {"minutes": -60, "amount": -row.amount, "reverses_id": row.pk, "reason": "Wrong"}
    for wrong in (
        lambda: PaidTime.objects.filter(pk=row.pk).update(amount=1),
        lambda: PaidTime.objects.filter(pk=row.pk)._raw_delete("default"),
        lambda: PaidTime.objects.create(**values | {"house_id": other_house.pk}),
        lambda: PaidTime.objects.create(**back | {"house_id": other_house.pk}),
        lambda: PaidTime.objects.create(**back | {"amount": Decimal(-1)}),
        lambda: PaidTime.objects.create(**back | {"reason": ""}),
        lambda: PaidTime.objects.create(
            **values | {"organisation_id": OrganisationFactory().pk, "starts_at": None, "ends_at": None}
        ),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            wrong()
    PaidTime.objects.create(**back)
    with pytest.raises(DatabaseError), transaction.atomic():
        PaidTime.objects.create(**back)


@pytest.mark.parametrize(("currency", "amount"), [("JPY", Decimal(1251)), ("KWD", Decimal("1250.850"))])
def test_coins_without_and_with_three_decimals(team, user, currency, amount):
    """36 min at 2084.75 an hour are 1250.85, in whole coins of the currency."""
    PayRate.objects.all().delete()
    team.organisation.currency = currency
    team.organisation.save()
    team.rate("2084.75", person=team.ann)
    [row] = typed(team, team.ann, 36)
    assert row.amount == amount


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
class TestTwoAtOnce:
    def test_two_planners_approve_the_same_hours(self, team):
        run = a_run(team.task, team.ann)
        assert comes_second(lambda: team.approve(run), lambda: team.approve(run)) == 0
        assert len(paid()) == 1

    def test_two_planners_approve_hours_that_overlap(self, team):
        one = a_run(team.task, team.ann)
        other = a_run(a_task(team.organisation, team.crew), team.ann)
        words = comes_second(lambda: team.approve(one), lambda: team.approve(other))
        assert "Ann would be at two things at once" in words
        assert len(paid()) == 1

    def test_hours_are_corrected_while_they_are_put_into_money(self, team):
        run = a_run(team.task, team.ann, people=2)
        DayOffFactory(organisation=team.organisation, person=team.ben, first=DAY, last=DAY)
        team.approve(run)
        approval = HourApproval.objects.get()
        comes_second(
            lambda: name_people(**team.who, approval=approval, people=[team.ann, team.ben]),
            lambda: fix(team, run, minutes=60),
        )
        assert sum(row[1] for row in paid()) == 0
        words = comes_second(
            lambda: fix(team, run, minutes=50, seen=run.corrections.last().pk),
            lambda: name_people(**team.who, approval=approval, people=[team.ann, team.ben]),
        )
        assert "changed since" in words

    def test_the_currency_stays_while_hours_are_paid(self, team):
        run = a_run(team.task, team.ann)
        data = {"currency": "EUR"}
        words = comes_second(
            lambda: team.approve(run),
            lambda: save_organisation(organisation=team.organisation, user=team.user, data=data),
        )
        assert "1 row of paid time" in words


@pytest.mark.parametrize(
    ("day", "starts", "ends", "rows"),
    [
        # The crew's day ends at 16:00; the rest of the night is of the day on which it began.
        ("2026-11-02", "15:00", "01:30", [(60, "29.00", False), (570, "275.50", True)]),
        ("2026-11-02", "16:00", "00:00", [(480, "232.00", True)]),
        # Clocks go back in the night to the Sunday, and go on in March: five hours, and three.
        ("2026-10-31", "22:00", "02:00", [(300, "145.00", True)]),
        ("2026-03-07", "22:00", "02:30", [(270, "130.50", True)]),
        ("2026-03-07", "22:00", "03:30", [(270, "130.50", True)]),
    ],
)
def test_work_past_midnight_is_typed_once(signed_in, team, day, starts, ends, rows):
    save_organisation(organisation=team.organisation, user=team.user, data={"time_zone": "America/Chicago"})
    form = {"person": team.ann.pk, "day": day, "house": team.house.pk, "step": "set", "starts": starts, "ends": ends}
    answer = signed_in.post("/costs/time/new/", form)
    assert MIDNIGHT in text_of(answer) and not PaidTime.objects.exists()
    signed_in.post("/costs/time/new/", form | {"next_day": "on"})
    assert paid() == [("Ann", minutes, Decimal(amount).normalize(), after) for minutes, amount, after in rows]
    assert {str(row.day) for row in PaidTime.objects.all()} == {day}
    # Over midnight too nobody is at two things at once.
    next_one = str(date.fromisoformat(day) + timedelta(days=1))
    again = form | {"day": next_one, "starts": "00:00", "ends": "01:00"}
    if ends != "00:00":
        assert "at two things at once" in text_of(signed_in.post("/costs/time/new/", again))
    else:
        assert signed_in.post("/costs/time/new/", again).status_code == 302
