"""Screws, bolts and anchors."""

from __future__ import annotations

from collections.abc import Iterator

from farmbuild.measure import count_noun, format_count
from farmbuild.measure.speech import gettext_noop as _
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
        working = (
            f"{count_noun(in_hoops, 'joint')} in hoops + {in_purlins} in purlins"
            f"{f' + {in_curtains} in curtain pipes' if in_curtains else ''} = {joints};"
            f" x {count_noun(each, 'screw')} = {total}"
        )
    else:
        parts = ((in_hoops, in_hoop, "hoops"), (in_purlins, in_purlin, "purlins"), (in_curtains, each, "curtain pipes"))
        words = " + ".join(f"{count_noun(n, 'joint')} in {what} x {of_each}" for n, of_each, what in parts if n)
        working = f"{words} = {count_noun(total, 'screw')}"
    yield house.counted("joint screws", spec.screw_material, total, working)


def _bolts(house: HouseContext) -> Iterator[TakeoffRow]:
    spec = house.spec
    crossings = boards.crossings(house)
    total = crossings * spec.bolts_per_crossing
    if not (spec.bolt_material and total):
        return
    board_rows = crossings // house.shape.hoops
    working = (
        f"{count_noun(board_rows, 'board row')} x {house.shape.hoops} hoops = {count_noun(crossings, 'crossing')};"
        f" x {count_noun(spec.bolts_per_crossing, 'bolt')} = {total}"
    )
    yield house.counted("board bolts", spec.bolt_material, total, working)


def _anchors(house: HouseContext) -> Iterator[TakeoffRow]:
    spec = house.spec
    if not (spec.anchor_material and spec.anchor_count):
        return
    working = f"{count_noun(spec.anchor_count, 'anchor')} as the house spec says"
    yield house.counted("anchors", spec.anchor_material, spec.anchor_count, working)


def _anchor_work(house: HouseContext) -> tuple[int, str]:
    found = list(_anchors(house))
    return quantity_of(found), workings_of(found) or "The house has no anchors."


def _said(house: SpecContext) -> str:
    spec = house.spec
    kinds = (
        (spec.screw_material, spec.screws_per_joint, "joint"),
        (spec.bolt_material, spec.bolts_per_crossing, "crossing"),
    )
    found = [
        f"{house.name_of(code)}{f', {each} at each {where}' if each else ''}" for code, each, where in kinds if code
    ]
    return "; ".join(found) or NONE


def _anchors_said(house: SpecContext) -> str:
    spec = house.spec
    if not spec.anchor_count:
        return NONE
    return f"{format_count(spec.anchor_count)}: {house.name_of(spec.anchor_material) or 'no anchor chosen'}"


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
