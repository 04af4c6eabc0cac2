"""What holds the parts of a house together and is bought by count, and the wire and door skins that go with it.

How many of each a house takes is common practice, no source; each rule stands in its row's working.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from farmbuild.measure import count_noun, join_words
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.house.context import HouseContext, SpecContext, SpecProblem
from farmbuild.planning.house.fields import FIELDS, FieldKind
from farmbuild.planning.house.part import NONE, Part, WorkKind
from farmbuild.planning.house.parts import braces, ends, film, hoops, purlins
from farmbuild.planning.house.parts.doors import framed_doors
from farmbuild.planning.house.shape import ceil_ratio
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.materials import Kind
from farmbuild.planning.results import TakeoffRow

#: A door's film is folded round each edge of the leaf by this (common practice, no source): 2 in.
SKIN_FOLD = Decimal("50.8")


@dataclass(frozen=True)
class Fitting:
    """One thing that is counted. ``count``: how many the house takes, and how that was counted, in words; 0: none.

    ``holds``: without it something stays loose, so a house that takes it and buys none is told.
    """

    purpose: str
    field: str
    works: tuple[WorkKind, ...]
    count: Callable[[HouseContext], tuple[int, str]]
    holds: bool = False


def _connectors(house: HouseContext) -> tuple[int, str]:
    runs, hoops_ = purlins.runs(house.spec), house.shape.hoops
    return runs * hoops_, (
        sentence(
            "one where each purlin crosses a hoop: %(purlins)s x %(hoops_)s hoops = %(runs)s",
            purlins=count_noun(runs, "purlin"),
            hoops_=hoops_,
            runs=runs * hoops_,
        )
    )


def _at_posts(house: HouseContext) -> tuple[int, str]:
    hoops_, each = house.shape.hoops if house.spec.post_material else 0, house.spec.fasteners_per_post
    total = 2 * hoops_ * each
    return total, sentence(
        "2 posts a hoop, %(each)s at each: 2 x %(hoops_)s hoops x %(each)s = %(total)s",
        each=each,
        hoops_=hoops_,
        total=total,
    )


def _clamps(house: HouseContext) -> tuple[int, str]:
    count = sum(row.quantity for row in braces.rows(house))
    return 2 * count, sentence(
        "2 a brace, one at each end: 2 x %(count)s = %(count_2)s", count=count, count_2=2 * count
    )


def _doors(house: HouseContext) -> int:
    return sum(doors.count for doors in framed_doors(house.spec)) if house.spec.end_frame_material else 0


def _hinges(house: HouseContext) -> tuple[int, str]:
    count, each = _doors(house), house.spec.hinges_per_door
    return count * each, sentence(
        "%(doors)s x %(hinges)s = %(count)s",
        doors=count_noun(count, "door"),
        hinges=count_noun(each, "hinge"),
        count=count * each,
    )


def _stops(house: HouseContext) -> tuple[int, str]:
    count = _doors(house)
    return count, sentence("%(doors)s, a stop for each: %(count)s", doors=count_noun(count, "door"), count=count)


def _channel_screws(house: HouseContext) -> tuple[int, str]:
    # Without screws there may be no spacing; they are counted at the usual one then.
    spacing, total, words = house.spec.channel_screw_spacing or HouseSpec.channel_screw_spacing, 0, []
    for where, length, count in film.channel_runs(house):
        each = ceil_ratio(length, spacing) + 1
        total += count * each
        words.append(
            sentence(
                "%(count)s x %(each)s on %(length)s of channel %(where)s",
                count=count,
                each=each,
                length=house.say(length),
                where=sentence(where),
            )
        )
    return total, sentence(
        "at each end and every %(spacing)s between: %(words)s = %(total)s",
        spacing=house.say(spacing),
        words=joined(" + ", words),
        total=total,
    )


def _end_screws(house: HouseContext) -> tuple[int, str]:
    frame = sum(_joints(wall) for wall in ends.walls(house))
    leaves, each = _doors(house), house.spec.end_screws_per_joint
    total = (frame + 6 * leaves) * each
    return total, (
        sentence(
            "%(joints)s in the frame: sill ends and splices, both ends of studs and headers, tops of "
            "door posts; 6 in each of %(doors)s; (%(frame)s + %(leaves)s) x %(screws)s = %(total)s",
            joints=count_noun(frame, "joint"),
            doors=count_noun(leaves, "door"),
            frame=frame,
            leaves=6 * leaves,
            screws=count_noun(each, "screw"),
            total=total,
        )
    )


def _joints(wall: ends.EndWall) -> int:
    """Each run of sill has a joint more than it has pieces; it joins a door post at the foot."""
    sills = len(wall.sills) + (2 if wall.doors.count else 1)
    both_ends = len(wall.studs) + len(wall.short_studs) + (1 if wall.header else 0)
    return sills + 2 * both_ends + len(wall.door_posts)


def _for_two_layers(what: str) -> Callable[[HouseContext], tuple[int, str]]:
    def count(house: HouseContext) -> tuple[int, str]:
        blown = 1 if house.spec.film_material and house.spec.film_layers == 2 else 0
        return blown, sentence(
            "one %(what)s to blow air between the 2 layers of film: %(blown)s", what=sentence(what), blown=blown
        )

    return count


def _tape(house: HouseContext) -> tuple[int, str]:
    joints, each = hoops.joints(house) + purlins.joints(house), house.spec.joints_per_roll
    rolls = -(-joints // each)
    return rolls, (
        sentence(
            "%(joints)s of pipe taped so that none cuts the film, %(each)s from one roll: "
            "%(joints_2)s / %(each)s, rounded up = %(rolls)s",
            joints=count_noun(joints, "joint"),
            each=each,
            joints_2=joints,
            rolls=rolls,
        )
    )


def _ties(house: HouseContext) -> tuple[int, str]:
    count = house.spec.anchor_count if house.spec.anchor_material else 0
    return count, sentence("one for each of %(anchors)s: %(count)s", anchors=count_noun(count, "anchor"), count=count)


FITTINGS = (
    Fitting("purlin connectors", "purlin_connector_material", (WorkKind.RIDGE,), _connectors, holds=True),
    Fitting("hoop-to-post fasteners", "post_fastener_material", (WorkKind.SET,), _at_posts, holds=True),
    Fitting("brace clamps", "brace_clamp_material", (WorkKind.RIDGE,), _clamps, holds=True),
    Fitting("end wall screws", "end_screw_material", (WorkKind.ENDS,), _end_screws, holds=True),
    Fitting("door hinges", "hinge_material", (WorkKind.ENDS,), _hinges, holds=True),
    Fitting("door stops", "door_stop_material", (WorkKind.ENDS,), _stops),
    Fitting("channel screws", "channel_screw_material", (WorkKind.FILM,), _channel_screws, holds=True),
    Fitting("inflation fans", "fan_material", (WorkKind.FILM,), _for_two_layers(_("fan"))),
    Fitting("inflation hoses", "hose_material", (WorkKind.FILM,), _for_two_layers(_("hose"))),
    Fitting("joint tape", "tape_material", (WorkKind.JOIN, WorkKind.FILM), _tape),
    Fitting("anchor ties", "anchor_tie_material", (WorkKind.ANCHORS,), _ties, holds=True),
)


def rows(house: HouseContext) -> list[TakeoffRow]:
    return [*_counted(house), *_skins(house), *_wire(house)]


def _counted(house: HouseContext) -> Iterator[TakeoffRow]:
    for fitting in FITTINGS:
        material = getattr(house.spec, fitting.field)
        if material and (counted := fitting.count(house))[0]:
            yield house.counted(fitting.purpose, material, *counted)


def _wire(house: HouseContext) -> Iterator[TakeoffRow]:
    """In the channel, as long as it."""
    if not house.spec.wire_material:
        return
    for row in film.channel_rows(house):
        purpose = row.purpose.replace("channel", "fixing wire")
        yield replace(
            row,
            purpose=purpose,
            material=house.spec.wire_material,
            working=sentence("as the channel: %(working)s", working=row.working),
        )


# Door skins


def _sheets(house: HouseContext) -> dict[tuple[Decimal, Decimal], int]:
    """Doors by the width and height of their skin, folds included."""
    found: Counter[tuple[Decimal, Decimal]] = Counter()
    for doors in framed_doors(house.spec):
        found[doors.leaf_width + 2 * SKIN_FOLD, doors.leaf_height + 2 * SKIN_FOLD] += doors.count
    return dict(found)


def _strip(roll: Decimal, wide: Decimal, high: Decimal, count: int) -> tuple[int, Decimal, int]:
    """(skins side by side over the roll, length off the roll, how many such) with the least film; 0: too narrow."""
    ways = [(int(roll // across), along) for across, along in ((high, wide), (wide, high)) if across <= roll]
    return min(
        ((beside, along, -(-count // beside)) for beside, along in ways),
        key=lambda way: (way[1] * way[2], way[2]),
        default=(0, Decimal(0), 0),
    )


def _skins(house: HouseContext) -> Iterator[TakeoffRow]:
    code, total = house.spec.door_skin_material, _doors(house)
    if not (code and total):
        return
    material, say = house.materials[code], house.say
    if material.kind is not Kind.FILM:
        yield house.counted(
            "door skins",
            code,
            total,
            sentence("%(doors)s, a sheet for each: %(total)s", doors=count_noun(total, "door"), total=total),
        )
        return
    assert material.width is not None
    for (wide, high), count in _sheets(house).items():
        beside, along, strips = _strip(material.width, wide, high, count)
        working = sentence(
            "%(doors)s, the film folded round each edge by %(skin_fold)s: %(wide)s x %(high)s; "
            "%(beside)s side by side over the roll of %(width)s, so %(strips)s of %(along)s",
            doors=count_noun(count, "door"),
            skin_fold=say(SKIN_FOLD),
            wide=say(wide),
            high=say(high),
            beside=beside,
            width=say(material.width),
            strips=strips,
            along=say(along),
        )
        yield house.pieces("door skins", code, along, strips, working)


def fits(house: HouseContext) -> Iterator[SpecProblem]:
    code, say = house.spec.door_skin_material, house.say
    if not (code and _doors(house)) or (material := house.materials[code]).kind is not Kind.FILM:
        return
    if material.width is None:
        yield SpecProblem(
            "door_skin_material",
            sentence("%(material)s has no width. Type the width of its roll first.", material=material.name),
        )
        return
    for (wide, high), count in _sheets(house).items():
        if not _strip(material.width, wide, high, count)[0]:
            yield SpecProblem(
                "door_skin_material",
                sentence(
                    "%(material)s is %(width)s wide; the skin of a door takes %(wide)s x %(high)s. Choose a "
                    "wider film.",
                    material=material.name,
                    width=say(material.width),
                    wide=say(wide),
                    high=say(high),
                ),
            )
            return


def remarks(house: HouseContext) -> Iterator[SpecProblem]:
    """What the house needs to hold together and does not buy."""
    missing = [row for row in FITTINGS if row.holds and not getattr(house.spec, row.field) and row.count(house)[0]]
    if missing:
        words = join_words(
            sentence("%(count)s %(purpose)s", count=row.count(house)[0], purpose=sentence(row.purpose))
            for row in missing
        )
        yield SpecProblem(
            missing[0].field,
            sentence("Not bought with this house: %(words)s. Choose them under Fittings.", words=words),
        )


_SECTION = "Fittings"
#: More than these make no line.
_NAMED = 3


def _said(house: SpecContext) -> str:
    """purlin connectors, door hinges, brace clamps and 5 more"""
    fields = (field for field in FIELDS if field.section == _SECTION and field.kind is FieldKind.MATERIAL)
    words: list[str] = [sentence(field.noun) for field in fields if getattr(house.spec, field.name)]
    more = len(words) - _NAMED
    return join_words([*words[:_NAMED], *([sentence("%(more)s more", more=more)] if more > 0 else [])]) or NONE


PART = Part(
    rows=rows,
    purposes={row.purpose: row.works for row in FITTINGS}
    | {
        "door skins": (WorkKind.ENDS,),
        "fixing wire along the house": (WorkKind.FILM,),
        "fixing wire over the end hoops": (WorkKind.FILM,),
    },
    fits=fits,
    remarks=remarks,
    said={_SECTION: _said},
)
