"""The work of one house, counted: how many pulls, posts, joints or feet of board each kind of it is.

Minutes follow from counts and rates. Counts come from the take-off and from the hoop's recipe, so that a longer
house, a closer spacing or another recipe changes the days that it takes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from enum import StrEnum

from farmbuild.measure import UnitSystem, count_noun
from farmbuild.mechanics.recipe import BendRecipe
from farmbuild.planning.house.context import Work
from farmbuild.planning.house.parts.pipe import purlin_joints
from farmbuild.planning.house.shape import HouseShape, ceil_ratio, house_shape
from farmbuild.planning.house.spec import House, Recipe
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.inputs import Material
from farmbuild.planning.results import TakeoffRow

FOOT = Decimal("304.8")
#: Work is planned by the quarter of an hour.
STEP_MINUTES = 15


class WorkKind(StrEnum):
    """Kinds of work in the usual order of building."""

    SURVEY = "survey"
    POSTS = "posts"
    MARK = "mark"
    TRIAL = "trial"
    BEND = "bend"
    JOIN = "join"
    SET = "set"
    SIGHT = "sight"
    RIDGE = "ridge"
    HIP = "hip"
    BASE = "base"
    ENDS = "ends"
    FILM = "film"
    ANCHORS = "anchors"


#: What one unit of each kind is called: one, and many. Boards and film are counted in feet in every country, so that
#: a rate means the same whatever units a reader has chosen.
UNITS: dict[WorkKind, tuple[str, str]] = {
    WorkKind.SURVEY: ("hoop foot", "hoop feet"),
    WorkKind.POSTS: ("post", "posts"),
    WorkKind.MARK: ("stick", "sticks"),
    WorkKind.TRIAL: ("pull", "pulls"),
    WorkKind.BEND: ("pull", "pulls"),
    WorkKind.JOIN: ("joint", "joints"),
    WorkKind.SET: ("hoop", "hoops"),
    WorkKind.SIGHT: ("hoop", "hoops"),
    WorkKind.RIDGE: ("length of pipe", "lengths of pipe"),
    WorkKind.HIP: ("foot of board", "feet of board"),
    WorkKind.BASE: ("foot of board", "feet of board"),
    WorkKind.ENDS: ("piece of frame", "pieces of frame"),
    WorkKind.FILM: ("foot of film and channel", "feet of film and channel"),
    WorkKind.ANCHORS: ("anchor", "anchors"),
}

#: Purposes of take-off rows that each kind of work uses up; it cannot start before they are on site.
USES: dict[WorkKind, frozenset[str]] = {
    WorkKind.SURVEY: frozenset(),
    WorkKind.POSTS: frozenset({"ground posts"}),
    WorkKind.MARK: frozenset({"hoops"}),
    WorkKind.TRIAL: frozenset({"hoops"}),
    WorkKind.BEND: frozenset({"hoops"}),
    WorkKind.JOIN: frozenset({"hoops", "joint screws"}),
    WorkKind.SET: frozenset({"hoops", "ground posts"}),
    WorkKind.SIGHT: frozenset(),
    WorkKind.RIDGE: frozenset({"ridge purlins", "side purlins", "corner braces", "joint screws"}),
    WorkKind.HIP: frozenset({"hip boards", "board bolts"}),
    WorkKind.BASE: frozenset({"base boards", "board bolts"}),
    WorkKind.ENDS: frozenset({"front end wall", "back end wall", "front doors", "back doors"}),
    WorkKind.FILM: frozenset(
        {"film over the house", "film on the end walls", "channel along the house", "channel over the end hoops"}
    ),
    WorkKind.ANCHORS: frozenset({"anchors"}),
}


@dataclass(frozen=True)
class WorkCount:
    """``count`` 0: the house has none of it. ``working``: how it was counted, in words with the numbers in."""

    kind: WorkKind
    count: int
    working: str

    @property
    def words(self) -> str:
        return count_noun(self.count, *UNITS[self.kind])


@dataclass(frozen=True)
class _Counting:
    work: Work
    rows: tuple[TakeoffRow, ...]

    @property
    def shape(self) -> HouseShape:
        return self.work.shape

    @property
    def recipe(self) -> Recipe:
        return self.work.spec.recipe

    def of(self, kind: WorkKind) -> list[TakeoffRow]:
        return [row for row in self.rows if row.purpose in USES[kind]]

    @property
    def bend(self) -> BendRecipe:
        made = self.recipe
        return BendRecipe(
            stick_length=made.stick_length,
            sticks=made.sticks,
            insertion=made.insertion,
            radius=made.radius,
            first_mark=made.first_mark,
            pitch=made.pitch,
            stop_gap=made.stop_gap,
        )


def count_work(house: House, materials: Mapping[str, Material], units: UnitSystem) -> tuple[WorkCount, ...]:
    """Count every kind of work of a house that passes ``check_spec``, in the usual order of building.

    Raises GeometryError for a recipe that makes no hoop.
    """
    counting = _Counting(Work(house, house_shape(house.spec), materials, units), take_off(house, materials, units))
    return tuple(WorkCount(kind, *_HOW[kind](counting)) for kind in WorkKind)


def person_minutes(count: int, minutes_each: Decimal, minutes_once: Decimal) -> Decimal:
    """What one person would need alone."""
    return count * minutes_each + minutes_once


def minutes_on_site(count: int, minutes_each: Decimal, minutes_once: Decimal, people: int) -> int:
    """(count x minutes each + minutes once) / people, up to the next quarter of an hour."""
    steps = person_minutes(count, minutes_each, minutes_once) / people / STEP_MINUTES
    return int(steps.to_integral_value(ROUND_CEILING)) * STEP_MINUTES


def duration_words(count: int, minutes_each: Decimal, minutes_once: Decimal, people: int) -> str:
    """The sum of ``minutes_on_site`` as it would stand on paper."""
    total = person_minutes(count, minutes_each, minutes_once)
    minutes = minutes_on_site(count, minutes_each, minutes_once, people)
    sum_ = f"{count} x {_plain(minutes_each)} + {_plain(minutes_once)} = {_plain(total)} person-minutes"
    split = f"; shared by {people}: {_plain((total / people).quantize(Decimal('0.1')))} minutes" if people > 1 else ""
    return f"{sum_}{split}; rounded up to quarter hours: {minutes}"


def _plain(number: Decimal) -> str:
    return f"{number.normalize():f}"


def _survey(c: _Counting) -> tuple[int, str]:
    hoops = c.shape.hoops
    return 2 * hoops, f"2 feet a hoop to mark in the ground: 2 x {hoops} hoops = {2 * hoops}"


def _posts(c: _Counting) -> tuple[int, str]:
    rows = c.of(WorkKind.POSTS)
    return _sum(rows), _workings(rows) or "The house has no ground posts."


def _mark(c: _Counting) -> tuple[int, str]:
    sticks = c.shape.hoops * c.recipe.sticks
    marks = count_noun(c.bend.pulls, "mark")
    return sticks, f"{c.shape.hoops} hoops x {count_noun(c.recipe.sticks, 'stick')} = {sticks}, each with {marks}"


def _pulls_in_hoop(c: _Counting) -> tuple[int, str]:
    bend = c.bend
    all_marks = bend.pulls * bend.sticks
    words = f"{count_noun(bend.sticks, 'stick')} x {count_noun(bend.pulls, 'mark')}"
    if idle := all_marks - bend.pulls_in_hoop:
        words += f" less {count_noun(idle, 'mark')} on straight legs"
    return bend.pulls_in_hoop, f"{words} = {count_noun(bend.pulls_in_hoop, 'pull')} a hoop"


def _trial(c: _Counting) -> tuple[int, str]:
    pulls, words = _pulls_in_hoop(c)
    return pulls, f"One hoop: {words}. A trial that is spoilt takes as long again."


def _bend(c: _Counting) -> tuple[int, str]:
    pulls, words = _pulls_in_hoop(c)
    rest = c.shape.hoops - 1
    return rest * pulls, (
        f"{c.shape.hoops} hoops less the trial hoop, which is the first of them, leaves {rest};"
        f" {words}: {rest} x {pulls} = {rest * pulls}"
    )


def _join(c: _Counting) -> tuple[int, str]:
    each = c.recipe.sticks - 1
    if not each:
        return 0, "Each hoop is one stick, so nothing is joined."
    return c.shape.hoops * each, f"{c.shape.hoops} hoops x {count_noun(each, 'joint')} = {c.shape.hoops * each}"


def _hoops(c: _Counting) -> tuple[int, str]:
    return c.shape.hoops, f"{count_noun(c.shape.hoops, 'hoop')} in the house"


def _ridge(c: _Counting) -> tuple[int, str]:
    parts = [(row.purpose, row.quantity) for row in c.of(WorkKind.RIDGE) if row.purpose != "joint screws"]
    total = sum(quantity for _, quantity in parts)
    if not total:
        return 0, "The house has no purlins and no corner braces."
    words = " + ".join(f"{quantity} for {purpose}" for purpose, quantity in parts)
    joints = purlin_joints(c.work)
    return total, f"{words} = {total}" + (f"; {count_noun(joints, 'joint')} among them" if joints else "")


def _boards(material: str, rows_a_side: int, c: _Counting) -> tuple[int, str]:
    if not (material and rows_a_side):
        return 0, "The house has none."
    rows = 2 * rows_a_side
    feet = ceil_ratio(c.shape.length * rows, FOOT)
    say = c.work.say(c.shape.length)
    return feet, f"{count_noun(rows, 'row')} over both sides x {say} = {feet} ft, full feet"


def _hip(c: _Counting) -> tuple[int, str]:
    return _boards(c.work.spec.hip_board_material, c.work.spec.hip_board_rows, c)


def _base(c: _Counting) -> tuple[int, str]:
    return _boards(c.work.spec.base_board_material, c.work.spec.base_board_rows, c)


def _ends(c: _Counting) -> tuple[int, str]:
    totals: dict[str, int] = {}
    for row in c.of(WorkKind.ENDS):
        totals[row.purpose] = totals.get(row.purpose, 0) + row.quantity
    if not totals:
        return 0, "The house has no framed end walls."
    total = sum(totals.values())
    words = " + ".join(f"{count} in the {purpose}" for purpose, count in totals.items())
    return total, f"{words} = {total}"


def _film(c: _Counting) -> tuple[int, str]:
    rows = c.of(WorkKind.FILM)
    run = sum(((row.length or Decimal(0)) * row.quantity for row in rows), Decimal(0))
    if not run:
        return 0, "The house has no film and no channel."
    words = " + ".join(f"{row.quantity} x {c.work.say(row.length or Decimal(0))} of {row.purpose}" for row in rows)
    feet = ceil_ratio(run, FOOT)
    return feet, f"{words} = {feet} ft, full feet"


def _anchors(c: _Counting) -> tuple[int, str]:
    rows = c.of(WorkKind.ANCHORS)
    return _sum(rows), _workings(rows) or "The house has no anchors."


def _sum(rows: Iterable[TakeoffRow]) -> int:
    return sum(row.quantity for row in rows)


def _workings(rows: Iterable[TakeoffRow]) -> str:
    return "; ".join(row.working for row in rows)


_HOW: dict[WorkKind, Callable[[_Counting], tuple[int, str]]] = {
    WorkKind.SURVEY: _survey,
    WorkKind.POSTS: _posts,
    WorkKind.MARK: _mark,
    WorkKind.TRIAL: _trial,
    WorkKind.BEND: _bend,
    WorkKind.JOIN: _join,
    WorkKind.SET: _hoops,
    WorkKind.SIGHT: _hoops,
    WorkKind.RIDGE: _ridge,
    WorkKind.HIP: _hip,
    WorkKind.BASE: _base,
    WorkKind.ENDS: _ends,
    WorkKind.FILM: _film,
    WorkKind.ANCHORS: _anchors,
}
