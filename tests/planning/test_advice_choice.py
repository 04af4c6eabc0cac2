"""The best choice of houses against every choice, and crews' hours slot by slot."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.advice import builders as advised
from farmbuild.planning.advice.builders import Builders, CrewTime, time_limits
from farmbuild.planning.advice.chances import WANTED, Waits, chances
from farmbuild.planning.advice.choice import Answer, OutOfTries, best_choice
from farmbuild.planning.advice.limits import Limit
from farmbuild.planning.scheduling.inputs import After, Need, Placed, Resource, Resources, Task, Way, Window, WorkPlan
from tests.size import examples

TODAY = date(2027, 3, 1)


@examples(40)
@given(st.data())
def test_no_choice_that_fits_is_worth_more(data):
    kinds = data.draw(st.lists(st.sampled_from("xyz"), min_size=1, max_size=6))
    names = [f"h{n}" for n in range(len(kinds))]
    value = {kind: data.draw(st.integers(1, 5)) for kind in "xyz"}
    worth = [value[kind] for kind in kinds]
    takes = {kind: data.draw(st.integers(0, 3)) for kind in "xyz"}
    there = data.draw(st.integers(0, 9))
    limit = Limit({name: takes[kind] for name, kind in zip(names, kinds, strict=True) if takes[kind]}, there)
    never = data.draw(st.lists(st.lists(st.sampled_from("xyz"), min_size=1, max_size=3).map(Counter), max_size=3))
    proven = data.draw(st.booleans())

    def counted(chosen) -> Counter[str]:
        return Counter(kinds[n] for n in chosen)

    def first(chosen):
        return Answer(not any(bad <= counted(chosen) for bad in never[:1]), proven)

    def second(chosen):
        return Answer(not any(bad <= counted(chosen) for bad in never[1:]))

    def fits(chosen) -> bool:
        return sum(takes[kinds[n]] for n in chosen) <= there and first(frozenset(chosen)).fits and second(chosen).fits

    choices = [some for size in range(len(kinds) + 1) for some in combinations(range(len(kinds)), size)]
    most = max(sum(worth[n] for n in some) for some in choices if fits(some))
    found = best_choice(worth, [limit], names, kinds, [first, second])
    assert fits(found.chosen)
    assert sum(worth[n] for n in found.chosen) == most
    assert list(found.chosen) == sorted(set(found.chosen))
    # Of one kind the first are taken.
    for kind, many in counted(found.chosen).items():
        assert [n for n in found.chosen if kinds[n] == kind] == [n for n, one in enumerate(kinds) if one == kind][:many]
    if proven:
        assert found.proven
    elif not found.proven:
        # Only a "no" that is not sure leaves doubt, and only where more might fit.
        without_it = max(sum(worth[n] for n in some) for some in choices if sum(takes[kinds[n]] for n in some) <= there)
        assert without_it > most


def test_a_refusal_that_is_not_sure_proves_nothing():
    found = best_choice([1, 1], [], ["a", "b"], ["x", "y"], [lambda chosen: Answer(len(chosen) < 2, proven=False)])
    assert (len(found.chosen), found.proven) == (1, False)
    sure = best_choice([1, 1], [], ["a", "b"], ["x", "y"], [lambda chosen: Answer(len(chosen) < 2)])
    assert (len(sure.chosen), sure.proven) == (1, True)


def test_whoever_gives_up_leaves_the_best_so_far():
    asked = []

    def one(chosen):
        asked.append(chosen)
        if len(asked) > 3:
            raise OutOfTries
        return Answer(len(chosen) < 2)

    found = best_choice([3, 2, 1], [], list("abc"), list("xyz"), [one])
    assert (found.chosen, found.proven) == ((0,), False)


SPANS = st.tuples(st.integers(0, 12), st.integers(1, 5)).map(lambda span: (span[0], span[0] + span[1]))


@st.composite
def workers(draw):
    resources = []
    for ref in ("crew", "gang", "bender"):
        at, windows = 0, []
        for off, on in draw(st.lists(st.tuples(st.integers(0, 3), st.integers(1, 6)), max_size=3)):
            windows.append(Window(at + off, at + off + on, 2))
            at += off + on
        resources.append(Resource(ref, 2, tuple(windows), travels=ref != "bender"))
    tasks = []
    needs = st.lists(st.sampled_from(["crew", "gang", "bender"]), min_size=1, max_size=2, unique=True)
    for at in range(draw(st.integers(0, 6))):
        ways = tuple(
            Way(tuple(Need(ref) for ref in draw(needs)), draw(st.integers(1, 6)))
            for _ in range(draw(st.integers(1, 2)))
        )
        fixed = None
        if draw(st.booleans()):
            start, end = draw(SPANS)
            fixed = Placed(f"t{at}", start, end, draw(st.integers(0, len(ways) - 1)))
        due = draw(st.none() | st.integers(0, 18))
        tasks.append(Task(f"t{at}", ways, due=due, job=draw(st.sampled_from(["", "h1", "h2"])), fixed=fixed))
    return Builders(tuple(tasks), Resources(tuple(resources)))


@examples(80)
@given(workers())
def test_hours_until_a_day_are_counted_slot_by_slot(builders):
    crews = [one for one in builders.resources.resources if one.travels]
    held = {
        (need.resource, slot)
        for task in builders.tasks
        if task.fixed
        for need in task.ways[task.fixed.way].needs
        for slot in range(task.fixed.start, task.fixed.end)
    }
    own = [task for task in builders.tasks if not task.fixed and task.job and task.due is not None]
    expected = []
    for due in sorted({task.due for task in own}):
        there = sum(
            1
            for crew in crews
            for window in crew.windows
            for slot in range(window.start, window.end)
            if slot < due and (crew.ref, slot) not in held
        )
        takes: dict[str, int] = {}
        for task in own:
            if task.due <= due:
                least = min(
                    way.duration if {need.resource for need in way.needs} & {"crew", "gang"} else 0 for way in task.ways
                )
                takes[task.job] = takes.get(task.job, 0) + least
        expected.append(Limit(takes, there))
    assert list(time_limits(builders)) == expected
    assert builders.crews
    assert not Builders((), Resources((Resource("bender", 1),))).crews


class TestCrewTime:
    WAY = (Way((Need("crew"),), 4),)

    def asked(self, monkeypatch, tasks, plan=None, **more):
        """What the schedule was asked, and who asks."""
        seen = []

        def plan_work(tasks, resources, **_):
            seen.append({task.ref: task for task in tasks})
            return plan or WorkPlan((), 0, 0, True)

        monkeypatch.setattr(advised, "plan_work", plan_work)
        return seen, CrewTime(Builders(tuple(tasks), Resources((Resource("crew", 1, travels=True),)), **more))

    def test_without_builders_everything_fits(self):
        assert CrewTime(None).fits(frozenset("a")).fits

    def test_only_what_uses_material_of_the_late_house_waits_for_it(self, monkeypatch):
        fixed = Placed("f", 2, 6, 0)
        tasks = [
            Task("a1", self.WAY, job="a", release=3),
            Task("a2", self.WAY, job="a"),
            Task("b1", self.WAY, job="b"),
            Task("c1", self.WAY, job="c"),
            Task("a3", self.WAY, job="a", fixed=fixed, due=9, after=(After("a1"),)),
            Task("f", self.WAY, job="else", fixed=fixed, due=5, after=(After("x"),)),
        ]
        days = {TODAY + timedelta(days=n): 10 * n for n in range(4)}
        material = frozenset({"a1", "a3", "b1", "c1"})
        seen, crews = self.asked(monkeypatch, tasks, material=material, days=days)
        both = frozenset("ab")
        assert crews.fits(both, late="a", comes=TODAY + timedelta(days=2)).fits
        (task,) = seen
        assert set(task) == {"a1", "a2", "b1", "a3", "f"}
        assert [task[ref].release for ref in ("a1", "a2", "b1", "a3")] == [20, 0, 0, 0]
        # What stands elsewhere keeps its place, and its own day is nobody's matter here.
        assert (task["f"].due, task["f"].after, task["f"].fixed) == (None, (), fixed)
        assert (task["a3"].due, task["a3"].after) == (9, (After("a1"),))
        crews.fits(both, late="a", comes=TODAY + timedelta(days=1))
        assert seen[-1]["a1"].release == 10
        # A day before all that is known is no wait; one after is as late as can be.
        crews.fits(both, late="a", comes=TODAY - timedelta(days=5))
        assert seen[-1]["a1"].release == 3
        crews.fits(both, late="b", comes=TODAY - timedelta(days=5))
        crews.fits(both)
        assert len(seen) == 3
        crews.fits(both, late="a", comes=TODAY + timedelta(days=50))
        assert seen[-1]["a1"].release == 30
        crews.fits(both, late="b", comes=TODAY + timedelta(days=3))
        assert (seen[-1]["a1"].release, seen[-1]["b1"].release) == (3, 30)

    def test_where_all_is_fixed_nobody_is_asked(self, monkeypatch):
        fixed = Placed("f", 2, 6, 0)
        seen, crews = self.asked(
            monkeypatch, [Task("f", self.WAY, job="else", fixed=fixed), Task("g", self.WAY, job="g")]
        )
        assert crews.fits(frozenset("a")).fits
        assert not seen
        assert crews.fits(frozenset("g")).fits
        assert len(seen) == 1

    @pytest.mark.parametrize(
        ("changes", "fits", "proven"),
        [
            ({}, True, True),
            ({"late": ("a",)}, False, False),
            ({"late": ("a",), "late_bound": 1}, False, True),
            ({"unplaced": (("a1", ()),)}, False, False),
        ],
    )
    def test_a_no_is_sure_where_the_schedule_proves_it(self, monkeypatch, changes, fits, proven):
        plan = WorkPlan((), 0, 0, True, **changes)
        _, crews = self.asked(monkeypatch, [Task("a1", self.WAY, job="a")], plan)
        found = crews.fits(frozenset("a"))
        assert (found.fits, found.proven) == (fits, proven)


@examples(30)
@given(
    st.lists(st.integers(0, 9), min_size=1, max_size=9),
    st.integers(0, 12),
    st.integers(1, 30),
    st.integers(0, 3),
)
def test_ordered_by_its_day_it_comes_often_enough_and_a_day_later_not(leads, need, seasons, spare):
    """The same seed draws the same seasons, whenever it is ordered."""
    waits = [Waits("h", TODAY + timedelta(days=need), ("pipe",), bends=4, tube="t", again="pipe")]

    def ordered(day):
        return chances(
            waits, {"pipe": leads}, ordered_on=day, spoil=Fraction(1, 3), spare={"t": spare}, seasons=seasons
        )[0]

    by = ordered(TODAY).order_by
    assert ordered(by).share >= WANTED > ordered(by + timedelta(days=1)).share


def test_spare_sticks_that_are_used_up_are_not_owed():
    """Nearly all sticks are spoilt: the first house uses up the spare ones, and the last waits only for its own."""
    houses = [
        Waits(name, TODAY + timedelta(days=at), ("pipe",), bends=bends, tube="t", again="pipe")
        for name, at, bends in (("a", 4, 9), ("b", 4, 1), ("c", 3, 2))
    ]
    found = chances(
        houses, {"pipe": [3]}, ordered_on=TODAY, spoil=Fraction(999_999, 1_000_000), spare={"t": 11}, seasons=50
    )
    # c needs its two first, a nine; of those that need theirs on one day the first listed has them.
    assert [float(one.share) for one in found] == [1, 0, 1]
    late = Waits("d", TODAY + timedelta(days=3), ("pipe",), bends=1, tube="t", again="pipe")
    early = Waits("c", TODAY + timedelta(days=2), ("pipe",), bends=9, tube="t", again="pipe")
    half = chances([early, late], {"pipe": [2]}, ordered_on=TODAY, spoil=Fraction(1, 2), spare={"t": 1}, seasons=400)
    # One stick, good half of the time: then nobody waits again, whatever was spoilt before it.
    assert 0.4 < half[1].share < 0.6
