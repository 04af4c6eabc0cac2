"""Screws, bolts and anchors."""

from __future__ import annotations

from collections.abc import Iterator

from farmbuild.measure import count_noun, format_count
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.house.context import HouseContext, SpecContext
from farmbuild.planning.house.part import NONE, Part, PartWork, WorkKind, quantity_of, workings_of
from farmbuild.planning.house.parts import boards, hoops, purlins, sides
from farmbuild.planning.results import TakeoffRow


def rows(house: HouseContext) -> list[TakeoffRow]:
    return [*_screws(house), *_bolts(house), *_anchors(house)]


def _screws(house: HouseContext) -> Iterator[TakeoffRow]:
    spec = house.spec
    in_hoops, in_purlins, in_curtains = hoops.joints(house), purlins.joints(house), sides.joints(house)
    joints, each = in_hoops + in_purlins + in_curtains, spec.screws_per_joint
    in_hoop, in_purlin = hoops.screws_a_joint(spec), purlins.screws_a_joint(spec)
    total = in_hoops * in_hoop + in_purlins * in_purlin + in_curtains * each
    if not (spec.screw_material and total):
        return
    if in_hoop == in_purlin == each:
        working = sentence(
            "%(joints)s in hoops + %(in_purlins)s in purlins%(curtains)s = %(joints_2)s; x %(screws)s = %(total)s",
            joints=count_noun(in_hoops, "joint"),
            in_purlins=in_purlins,
            curtains=sentence(" + %(in_curtains)s in curtain pipes", in_curtains=in_curtains) if in_curtains else "",
            joints_2=joints,
            screws=count_noun(each, "screw"),
            total=total,
        )
    else:
        parts = (
            (in_hoops, in_hoop, _("hoops")),
            (in_purlins, in_purlin, _("purlins")),
            (in_curtains, each, _("curtain pipes")),
        )
        words = joined(
            " + ",
            (
                sentence(
                    "%(joints)s in %(what)s x %(of_each)s",
                    joints=count_noun(n, "joint"),
                    what=sentence(what),
                    of_each=of_each,
                )
                for n, of_each, what in parts
                if n
            ),
        )
        working = sentence("%(words)s = %(screws)s", words=words, screws=count_noun(total, "screw"))
    yield house.counted("joint screws", spec.screw_material, total, working)


def _bolts(house: HouseContext) -> Iterator[TakeoffRow]:
    spec = house.spec
    crossings = boards.crossings(house)
    total = crossings * spec.bolts_per_crossing
    if not (spec.bolt_material and total):
        return
    board_rows = crossings // house.shape.hoops
    working = sentence(
        "%(board_rows)s x %(hoops)s hoops = %(crossings)s; x %(bolts)s = %(total)s",
        board_rows=count_noun(board_rows, "board row"),
        hoops=house.shape.hoops,
        crossings=count_noun(crossings, "crossing"),
        bolts=count_noun(spec.bolts_per_crossing, "bolt"),
        total=total,
    )
    yield house.counted("board bolts", spec.bolt_material, total, working)


def _anchors(house: HouseContext) -> Iterator[TakeoffRow]:
    spec = house.spec
    if not (spec.anchor_material and spec.anchor_count):
        return
    working = sentence("%(anchors)s as the house spec says", anchors=count_noun(spec.anchor_count, "anchor"))
    yield house.counted("anchors", spec.anchor_material, spec.anchor_count, working)


def _anchor_work(house: HouseContext) -> tuple[int, str]:
    found = list(_anchors(house))
    return quantity_of(found), workings_of(found) or sentence("The house has no anchors.")


def _said(house: SpecContext) -> str:
    spec = house.spec
    kinds = (
        (spec.screw_material, spec.screws_per_joint, _("joint")),
        (spec.bolt_material, spec.bolts_per_crossing, _("crossing")),
    )
    found = [
        sentence(
            "%(name)s%(each)s",
            name=house.name_of(code),
            each=sentence(", %(each)s at each %(where)s", each=each, where=sentence(where)) if each else "",
        )
        for code, each, where in kinds
        if code
    ]
    return joined("; ", found) or NONE


def _anchors_said(house: SpecContext) -> str:
    spec = house.spec
    if not spec.anchor_count:
        return NONE
    return sentence(
        "%(anchor_count)s: %(value)s",
        anchor_count=format_count(spec.anchor_count),
        value=house.name_of(spec.anchor_material) or sentence("no anchor chosen"),
    )


PART = Part(
    rows=rows,
    purposes={
        "joint screws": (WorkKind.JOIN, WorkKind.RIDGE),
        "board bolts": (WorkKind.HIP, WorkKind.BASE),
        "anchors": (WorkKind.ANCHORS,),
    },
    works=(PartWork(WorkKind.ANCHORS, (_("anchor"), _("anchors")), _anchor_work),),
    said={"Fasteners": _said, "Anchors": _anchors_said},
)
