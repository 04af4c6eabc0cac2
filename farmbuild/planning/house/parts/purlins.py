"""Ridge and side purlins: whole sticks joined by swage or sleeve, along the house."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import count_noun, join_words, noun_for
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.house.context import HouseContext, SpecContext, SpecProblem
from farmbuild.planning.house.part import NONE, Part, PartWork, WorkKind, quantity_of
from farmbuild.planning.house.parts import braces
from farmbuild.planning.house.shape import ceil_ratio, to_mm
from farmbuild.planning.house.sleeves import Joining
from farmbuild.planning.house.spec import SLEEVES, HouseSpec, Joint
from farmbuild.planning.results import TakeoffRow

SLEEVE_ROW = "purlin sleeves"
STAGGERED, FIRST = "staggered purlins", "first sticks of purlins"


def joined_sticks(run: Decimal, stick: Decimal, insertion: Decimal) -> int:
    """Whole sticks that make a run when each slides ``insertion`` into the next: n L - (n - 1) s >= run."""
    if run <= stick:
        return 1
    return ceil_ratio(run - insertion, stick - insertion)


def runs(spec: HouseSpec) -> int:
    """Purlins from end to end of the house."""
    return spec.ridge_purlins + spec.side_purlins if spec.purlin_material else 0


def joints(house: HouseContext) -> int:
    """In all purlins of the house; a staggered one has one more, behind its first stick."""
    spec = house.spec
    if not runs(spec):
        return 0
    ridge, side = staggered(spec)
    usual = joined_sticks(spec.length, spec.purlin_stick_length, spec.purlin_insertion) - 1
    found = usual * (runs(spec) - ridge - side)
    if ridge + side:
        found += joined_sticks(spec.length - spec.purlin_first_stick, spec.purlin_stick_length, Decimal(0)) * (
            ridge + side
        )
    return found


def staggered(spec: HouseSpec) -> tuple[int, int]:
    """Of the ridge and of the side purlins: every second run across the house, the ridge in the middle.

    None where one stick makes a run.
    """
    if not (spec.purlin_first_stick and spec.purlin_joint in SLEEVES and spec.purlin_stick_length < spec.length):
        return 0, 0
    if not runs(spec):
        return 0, 0
    ridge = 1 if spec.ridge_purlins and spec.side_purlins // 2 % 2 else 0
    return ridge, runs(spec) // 2 - ridge


def rows(house: HouseContext) -> list[TakeoffRow]:
    spec = house.spec
    if not spec.purlin_material:
        return []
    ridge, side = staggered(spec)
    both = (("ridge purlins", spec.ridge_purlins - ridge), ("side purlins", spec.side_purlins - side))
    found = [
        run_row(
            house,
            purpose,
            spec.purlin_material,
            stick=spec.purlin_stick_length,
            insertion=spec.purlin_insertion,
            count=count,
        )
        for purpose, count in both
        if count
    ]
    return [*found, *_staggered(house), *_sleeves(house)]


def _staggered(house: HouseContext) -> Iterator[TakeoffRow]:
    """What is left of each run behind its sawn first stick, and these."""
    spec, count = house.spec, sum(staggered(house.spec))
    if not count:
        return
    yield run_row(
        house,
        STAGGERED,
        spec.purlin_material,
        stick=spec.purlin_stick_length,
        insertion=Decimal(0),
        count=count,
        first=spec.purlin_first_stick,
    )
    working = sentence(
        "every second of %(runs)s starts with a stick of %(purlin_first_stick)s, so that joints "
        "side by side do not line up: %(count)s",
        runs=count_noun(runs(spec), "run"),
        purlin_first_stick=house.say(spec.purlin_first_stick),
        count=count,
    )
    yield house.pieces(FIRST, spec.purlin_material, spec.purlin_first_stick, count, working)


def _sleeves(house: HouseContext) -> Iterator[TakeoffRow]:
    spec, total = house.spec, joints(house)
    if spec.purlin_joint in SLEEVES and total:
        working = sentence(
            "%(joints)s in %(runs)s, a sleeve of %(purlin_sleeve_length)s at each; the sticks butt and lose no length",
            joints=count_noun(total, "joint"),
            runs=count_noun(runs(spec), "run"),
            purlin_sleeve_length=house.say(spec.purlin_sleeve_length),
        )
        yield house.pieces(SLEEVE_ROW, spec.purlin_sleeve_material, spec.purlin_sleeve_length, total, working)


def screws_a_joint(spec: HouseSpec) -> int:
    return spec.purlin_sleeve_screws if spec.purlin_joint in SLEEVES else spec.screws_per_joint


def run_row(
    house: HouseContext,
    purpose: str,
    material: str,
    *,
    stick: Decimal,
    insertion: Decimal,
    count: int,
    first: Decimal = Decimal(0),
) -> TakeoffRow:
    """So many runs of joined pipe along the house, less what ``first`` of each is made of another piece."""
    run, slide = house.spec.length - first, insertion
    n = joined_sticks(run, stick, slide)
    if n == 1:
        working = sentence(
            "%(runs)s of %(run)s, the length of the house%(less)s, each one piece of a %(stick)s stick",
            runs=count_noun(count, "run"),
            run=house.say(run),
            less=sentence(" less the first stick of %(first)s", first=house.say(first)) if first else "",
            stick=house.say(stick),
        )
        return house.pieces(purpose, material, run, count, working)
    made = n * stick - (n - 1) * slide
    trim = made - run
    if slide:
        each = sentence(
            "(%(run)s - %(slide)s) / (%(stick)s - %(slide)s), rounded up, is %(sticks)s with %(joints)s of %(slide)s",
            run=house.say(run),
            slide=house.say(slide),
            stick=house.say(stick),
            sticks=count_noun(n, "stick"),
            joints=count_noun(n - 1, "joint"),
        )
    else:
        each = sentence(
            _("%(run)s / %(stick)s, rounded up, is %(sticks)s with %(joints)s that loses no length")
            if n == 2
            else _("%(run)s / %(stick)s, rounded up, is %(sticks)s with %(joints)s that lose no length"),
            run=house.say(run),
            stick=house.say(stick),
            sticks=count_noun(n, "stick"),
            joints=count_noun(n - 1, "joint"),
        )
    working = sentence(
        "%(each)s, %(made)s long; %(runs)s: %(n)s x %(count)s = %(n_2)s",
        each=each,
        made=house.say(made),
        runs=count_noun(count, "run"),
        n=n,
        count=count,
        n_2=n * count,
    )
    if trim > 0:
        working += sentence("; saw %(trim)s off the plain end of the last stick of each run", trim=house.say(trim))
    return TakeoffRow(
        house=house.ref,
        purpose=purpose,
        material=material,
        length=stick,
        quantity=n * count,
        unit="sticks",
        whole=True,
        working=working,
        trim=trim,
        trims=count if trim > 0 else 0,
        run=run,
        slide=slide,
        runs=count,
    )


def fits(house: HouseContext) -> Iterator[SpecProblem]:
    spec = house.spec
    if spec.ridge_purlins + spec.side_purlins:
        yield from run_problems(
            house,
            spec.purlin_material,
            stick=spec.purlin_stick_length,
            insertion=spec.purlin_insertion,
            fields=("purlin_material", "purlin_insertion"),
            called=_("purlin"),
            joint=spec.purlin_joint,
        )
        if spec.purlin_joint in SLEEVES:
            for part, message in _joining(house).problems():
                yield SpecProblem("purlin_material" if part == "tube" else f"purlin_{part}", message)
        yield from _first_stick(house)


def _first_stick(house: HouseContext) -> Iterator[SpecProblem]:
    spec, say, first = house.spec, house.say, house.spec.purlin_first_stick
    if not first:
        return
    why = ""
    if spec.purlin_joint not in SLEEVES:
        why = sentence(
            "Purlins are staggered where sleeves join them alone, since a sawn stick may have lost its swage. Type 0."
        )
    elif not spec.purlin_sleeve_length <= first < spec.purlin_stick_length:
        why = sentence(
            "A first stick of %(first)s staggers no joint. Type at least the sleeve, "
            "%(purlin_sleeve_length)s, and less than a stick, %(purlin_stick_length)s.",
            first=say(first),
            purlin_sleeve_length=say(spec.purlin_sleeve_length),
            purlin_stick_length=say(spec.purlin_stick_length),
        )
    if why:
        yield SpecProblem("purlin_first_stick", why)


def remarks(house: HouseContext) -> Iterator[SpecProblem]:
    if joints(house) and house.spec.purlin_joint in SLEEVES:
        for message in _joining(house).remarks():
            yield SpecProblem("purlin_sleeve_material", message)


def _joining(house: HouseContext) -> Joining:
    spec = house.spec
    return Joining(
        called=_("purlins"),
        joint=spec.purlin_joint,
        tube=house.materials[spec.purlin_material],
        sleeve=house.materials.get(spec.purlin_sleeve_material),
        sleeve_length=spec.purlin_sleeve_length,
        insertion=spec.purlin_insertion,
        stick_length=spec.purlin_stick_length,
        units=house.units,
    )


def run_problems(
    house: HouseContext,
    material: str,
    *,
    stick: Decimal,
    insertion: Decimal,
    fields: tuple[str, str],
    called: str,
    joint: Joint = Joint.SWAGE,
) -> Iterator[SpecProblem]:
    """What keeps sticks from joining along the house, but for a sleeve. ``fields``: of the material and of the
    insertion."""
    spec, say = house.spec, house.say
    of_material, of_insertion = fields
    if insertion >= stick:
        yield SpecProblem(
            of_insertion,
            sentence(
                "An insertion of %(insertion)s is as long as the %(called)s stick of %(stick)s. Type less.",
                insertion=say(insertion),
                called=sentence(called),
                stick=say(stick),
            ),
        )
    elif stick < spec.length and joint not in SLEEVES:
        tube = house.materials[material]
        run = sentence("A run of %(length)s joins sticks of %(stick)s", length=say(spec.length), stick=say(stick))
        if joint == Joint.NONE:
            yield SpecProblem(
                "purlin_joint", sentence("%(run)s, and nothing joins them. Choose how they are joined.", run=run)
            )
        elif not tube.swaged:
            yield SpecProblem(
                of_material,
                sentence("%(run)s, and %(tube)s has no swaged end. Choose a swaged tube.", run=run, tube=tube.name),
            )
        elif insertion == 0:
            yield SpecProblem(of_insertion, sentence("%(run)s with no insertion. Type how far they slide.", run=run))


@dataclass(frozen=True)
class PurlinPlace:
    """One purlin in section: x from the middle (left is negative) and height above the ground, mm."""

    name: str
    x: Decimal
    height: Decimal


def places(house: HouseContext) -> tuple[PurlinPlace, ...]:
    """The ridge at the crown, side purlins at equal steps along the pipe from each foot of the hoop to it."""
    spec, shape = house.spec, house.shape
    if not spec.purlin_material:
        return ()
    found = [("ridge", shape.developed / 2)] if spec.ridge_purlins else []
    each = spec.side_purlins // 2
    for k in range(1, each + 1):
        along = shape.developed / 2 * k / (each + 1)
        found += [("side", along), ("side", shape.developed - along)]
    placed = []
    for name, along in found:
        x, height, _ = shape.arc.point_at(float(along))
        placed.append(PurlinPlace(name, to_mm(x), shape.foot_height + to_mm(height)))
    return tuple(placed)


def _ridge(house: HouseContext) -> tuple[int, str]:
    found = [row for row in (*rows(house), *braces.rows(house)) if row.purpose != SLEEVE_ROW]
    total = quantity_of(found)
    if not total:
        return 0, sentence("The house has no purlins and no corner braces.")
    words = joined(
        " + ",
        (
            sentence("%(quantity)s for %(purpose)s", quantity=row.quantity, purpose=sentence(row.purpose))
            for row in found
        ),
    )
    many = joints(house)
    return total, sentence("%(words)s = %(total)s", words=words, total=total) + (
        sentence("; %(joints)s among them", joints=count_noun(many, "joint")) if many else ""
    )


def _said(house: SpecContext) -> str:
    """1 ridge and 2 side purlins: rail, sticks of 10'"""
    spec = house.spec
    counts = ((spec.ridge_purlins, _("ridge")), (spec.side_purlins, _("side")))
    words = join_words(joined(" ", (str(count), sentence(where))) for count, where in counts if count)
    if not words:
        return NONE
    called = noun_for(spec.ridge_purlins + spec.side_purlins, "purlin")
    stick = (
        sentence(", sticks of %(purlin_stick_length)s", purlin_stick_length=house.say(spec.purlin_stick_length))
        if spec.purlin_stick_length
        else ""
    )
    return sentence(
        "%(words)s %(called)s: %(value)s%(stick)s",
        words=words,
        called=sentence(called),
        value=house.name_of(spec.purlin_material) or sentence("no tube chosen"),
        stick=stick,
    )


PART = Part(
    rows=rows,
    purposes=dict.fromkeys(
        ("ridge purlins", "side purlins", STAGGERED, FIRST, SLEEVE_ROW), (WorkKind.SAW, WorkKind.RIDGE)
    ),
    fits=fits,
    remarks=remarks,
    works=(PartWork(WorkKind.RIDGE, (_("length of pipe"), _("lengths of pipe")), _ridge),),
    said={"Purlins": _said},
)
