"""Tasks of houses: counted, timed, in order, and made again without touching what is begun."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.crew.models import Actual, HouseWork, Kind, Rate, StepAfter, Task, WorkTemplate
from farmbuild.crew.steps import services
from farmbuild.crew.steps.selectors import (
    afters_of,
    rates_of,
    releases_of,
    releases_of_house,
    spreads_of,
    steps_of,
)
from farmbuild.planning.house.part import WORK_NAMES
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.services import create_plan, work_out_plan
from farmbuild.sites.services import save_house
from tests.crew.hours.making import a_run, approved
from tests.crew.steps.conftest import NEED
from tests.factories import HouseFactory, MaterialFactory, OrganisationFactory, SkillFactory
from tests.plans.small_season import small_season

pytestmark = pytest.mark.django_db


@pytest.fixture
def given(organisation, user):
    return {"organisation": organisation, "user": user}


def counts_of(house) -> dict[str, int]:
    return dict(Task.objects.filter(house=house).values_list("kind", "count"))


def test_a_twelve_foot_house_by_hand(given, build):
    house = build("12-ft-house")
    services.make_tasks(**given, house=house)
    # 48 ft at 4 ft: 13 hoops of 2 sticks. Marks from 9 in every 18 in on 120 in: 7; 236 in of pipe is less than the
    # half circle of 248 in, so a hoop is 14 pulls. Purlin: 572 / 248 in, so 3 sticks, and 4 braces. Each end wall: 2
    # sills, 4 studs, 1 short stud, 2 door posts, 1 header, and a leaf of 5. Film 52 + 2 x 16 ft, channel 2 x 48 ft and
    # 2 x 236 in: 219.3 ft. Sawn: 26 posts, 4 braces, 30 pieces of the end walls, and the end of the purlin; boards of
    # 4 bays are whole sticks of 16 ft.
    assert counts_of(house) == {
        "survey": 26, "saw": 61, "posts": 26, "mark": 26, "trial": 14, "bend": 168, "join": 13, "set": 13, "sight": 13,
        "ridge": 7, "hip": 96, "base": 96, "ends": 30, "film": 220, "anchors": 4,
    }  # fmt: skip
    bend = Task.objects.get(house=house, kind=Kind.BEND)
    # (168 x 2 + 30) / 2 = 183 minutes.
    assert (bend.people, bend.minutes) == (2, 195)
    assert Task.objects.get(house=house, kind=Kind.SIGHT).people == 3


def test_a_twenty_foot_house_by_hand(given, build):
    house = build("20-ft-house")
    services.make_tasks(**given, house=house)
    # 72 ft: 19 hoops of 3 sticks and 21 pulls (352 in is less than the half circle of 411 in). Purlins: 860 / 248 in,
    # so 4 sticks, 3 runs, and 4 braces. Film 78 + 2 x 24 ft, channel 2 x 72 + 2 x 29 ft 4 in: 328.7 ft.
    found = counts_of(house)
    assert {kind: found[kind] for kind in ("posts", "mark", "trial", "bend", "join", "ridge", "hip", "film")} == {
        "posts": 38, "mark": 57, "trial": 21, "bend": 378, "join": 38, "ridge": 16, "hip": 144, "film": 329,
    }  # fmt: skip


def pairs_of(organisation) -> set[tuple[str, str, int]]:
    kinds = dict(Task.objects.values_list("pk", "kind"))
    return {(kinds[step], kinds[after], lag) for step, after, lag in afters_of(organisation=organisation)}


def test_what_a_tunnel_has_none_of_is_passed_over(given, organisation, build):
    house = build("low-tunnel-3-4")
    services.make_tasks(**given, house=house)
    # No joints, purlins, braces, boards, end walls or anchors.
    assert list(counts_of(house)) == ["survey", "saw", "posts", "mark", "trial", "bend", "set", "sight", "film"]
    assert pairs_of(organisation) == {
        ("posts", "survey", 0), ("posts", "saw", 0),
        ("trial", "mark", 0), ("bend", "trial", 0), ("set", "bend", 0), ("set", "posts", 0),
        ("sight", "set", 0), ("film", "sight", 0),
    }  # fmt: skip


def test_lags_of_what_is_passed_over_add_up(given, organisation, build):
    template = services.standard_template(**given)
    StepAfter.objects.filter(step__template=template, step__kind="join").update(lag_minutes=60)
    StepAfter.objects.filter(step__template=template, step__kind="set", after__kind="join").update(lag_minutes=30)
    services.make_tasks(**given, house=build("low-tunnel-3-4"))
    assert ("set", "bend", 90) in pairs_of(organisation)


def test_pairs_take_as_many_queries_for_many_houses(given, organisation, build, django_assert_num_queries):
    for number in range(3):
        services.make_tasks(**given, house=build("low-tunnel-3-4", length=Decimal(6096 + number)))
    with django_assert_num_queries(3):
        assert len(afters_of(organisation=organisation)) == 3 * 8
    assert afters_of(organisation=OrganisationFactory()) == []


def test_made_again_what_is_begun_stays_and_the_rest_follows(given, build):
    house = build("12-ft-house")
    services.make_tasks(**given, house=house)
    start = timezone.now()
    Task.objects.filter(kind=Kind.POSTS).update(state=Task.State.STARTED)
    Task.objects.filter(kind=Kind.BEND).update(starts_at=start, ends_at=start + timedelta(hours=4))
    keys = dict(Task.objects.values_list("kind", "pk"))
    recorded = Task.objects.get(kind=Kind.HIP)
    Actual.objects.create(organisation=house.organisation, task=recorded, key=uuid4(), done=4)
    house.length *= 2
    house.hip_board_material = house.base_board_material = None
    house.hip_board_rows = house.base_board_rows = 0
    house.hip_board_lengths = house.base_board_lengths = []
    house.save()
    services.make_tasks(**given, house=house)
    after = {task.kind: task for task in Task.objects.all()}
    assert (after["posts"].count, after["posts"].state) == (26, "started")
    # 25 hoops now: 24 x 14.
    assert after["bend"].count == 336
    assert after["bend"].starts_at == start
    assert {kind: task.pk for kind, task in after.items()} == {k: v for k, v in keys.items() if k != "base"}
    assert after["hip"].count == 96  # someone recorded work of it


def test_a_house_that_cannot_be_built_has_no_tasks(given, build):
    house = build("12-ft-house")
    house.post_span = house.post_span * 5
    house.save()
    with pytest.raises(ValidationError, match="Correct its spec first"):
        services.make_tasks(**given, house=house)
    assert not Task.objects.exists()
    assert not HouseWork.objects.exists()


def test_another_organisations_house_and_template_are_refused(given, build):
    other = HouseFactory()
    with pytest.raises(type(other).DoesNotExist):
        services.make_tasks(**given, house=other)
    foreign = services.standard_template(organisation=other.organisation, user=None)
    with pytest.raises(ValidationError):
        services.plan_house(**given, house=build("12-ft-house"), template=foreign, due=None)


class TestTemplates:
    def test_the_standard_one_is_made_once(self, given, organisation):
        ladder = SkillFactory(organisation=organisation, name="Ladder work")
        first = services.standard_template(**given)
        assert services.standard_template(**given) == first
        steps = {step.kind: step for step in steps_of(template=first)}
        assert set(steps) == set(Kind.values)
        assert (steps["set"].people, steps["sight"].people, steps["sight"].skill) == (2, 3, ladder)
        assert steps["film"].position == len(steps)

    @pytest.mark.parametrize(
        ("steps", "words"),
        [
            ([], "Tick at least one step"),
            ([services.Step("join", 2, waits=(("bend", 0),))], "Bend the batch, which is not ticked"),
            (
                [services.Step("set", 2, waits=(("sight", 0),)), services.Step("sight", 3, waits=(("set", 0),))],
                "Set and spring in waits for Sight and adjust, which waits for Set and spring in",
            ),
            ([services.Step("trial", 2), services.Step("bend", 2)], "has to wait for the trial hoop"),
        ],
    )
    def test_what_cannot_be_done_is_refused_in_words(self, given, steps, words):
        with pytest.raises(ValidationError, match=words):
            services.save_template(**given, name="Wrong", steps=steps)
        assert not WorkTemplate.objects.exists()

    def test_one_that_houses_are_built_by_stays(self, given, build):
        services.make_tasks(**given, house=build("12-ft-house"))
        with pytest.raises(ValidationError, match="Choose other steps"):
            services.remove_template(**given, template=WorkTemplate.objects.get())
        assert WorkTemplate.objects.get().steps.count() == len(Kind.values)


class TestRates:
    def test_recorded_work_gives_the_spread_and_the_rate(self, given, organisation, build):
        services.make_tasks(**given, house=build("12-ft-house"))
        task = Task.objects.get(kind=Kind.BEND)
        # 30 min of 2 for 20 pulls: 3 each; 40 min of 1 for 10: 4; 45 min of 2 for 10: 9. Else nothing.
        days = [("10:30", 2, 20), ("10:40", 1, 10), ("10:45", 2, 10), ("10:20", 2, 0)]
        for day, (ends, people, done) in enumerate(days):
            approved(a_run(task, ends=ends, day=day, people=people, done=done))
        # Not approved.
        a_run(task, ends="10:01", day=4, done=20)
        spread = spreads_of(organisation=organisation)["bend"]
        assert (spread.records, spread.median, spread.lowest, spread.highest) == (3, 4, 3, 9)
        assert spreads_of(organisation=OrganisationFactory()) == {}
        services.save_rates(**given, rates={"bend": (spread.median, Decimal(0))})
        services.make_tasks(**given, house=task.house)
        task.refresh_from_db()
        assert task.minutes == 345  # 168 x 4 / 2 = 336

    def test_a_wrong_rate_stores_nothing(self, given, organisation):
        wrong = {"bend": (Decimal(5), Decimal(0)), "film": (Decimal(-1), Decimal(0))}
        with pytest.raises(ValidationError) as error:
            services.save_rates(**given, rates=wrong)
        assert set(error.value.message_dict) == {"film"}
        assert not Rate.objects.exists()
        assert rates_of(organisation=organisation)["bend"].minutes_each == 2


class TestMaterialsOnSite:
    def test_without_a_plan_on_the_day_the_house_needs_them(self, build):
        house = build("12-ft-house")
        days = releases_of_house(house=house)
        assert days["survey"] is days["sight"] is None
        assert {days[kind] for kind in ("posts", "mark", "film")} == {NEED}

    def test_a_row_of_the_houses_own_is_waited_for_by_the_work_that_it_is_used_in(self, given, build):
        house = build("12-ft-house")
        strings = MaterialFactory(organisation=house.organisation, kind="hardware")
        own = {"material": strings, "quantity": Decimal(1), "per": "house", "length": Decimal(0), "note": ""}
        save_house(**given, house=house, data={}, own_rows=[own | {"step": "survey"}, own | {"step": ""}])
        days = releases_of_house(house=house)
        assert (days["survey"], days["sight"]) == (NEED, None)

    def test_by_the_accepted_plan_when_what_is_ordered_comes(self, given, organisation):
        season = small_season(organisation)
        plan = create_plan(**season.ask(given["user"])).plan
        work_out_plan(plan.pk)
        plan.refresh_from_db()
        accept_plan(**given, plan=plan)
        house = season.houses[0]
        lines = PurchaseOrderLine.objects.filter(order__plan=plan, reservations__house=house)
        posts = lines.filter(reservations__purpose="ground posts").distinct()
        assert posts
        due = max(line.need_by + timedelta(days=line.late_days) for line in posts)
        assert releases_of_house(house=house)["posts"] == due
        posts.model.objects.filter(pk__in=[line.pk for line in posts]).update(promised_on=date(2027, 6, 30))
        assert releases_of_house(house=house)["posts"] == date(2027, 6, 30)
        assert releases_of_house(house=house)["survey"] is None
        several = releases_of(organisation=organisation, houses=season.houses)
        assert {kind: several[house.pk, kind] for kind in Kind.values} == releases_of_house(house=house)
        assert PurchaseOrder.objects.filter(plan=plan).exists()


def test_kinds_of_work_are_called_the_same_at_the_house_as_by_the_crew():
    assert {kind.value: name for kind, name in WORK_NAMES.items()} == dict(Kind.choices)
