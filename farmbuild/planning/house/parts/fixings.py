"""Screws, bolts and anchors."""

from __future__ import annotations

from farmbuild.measure import count_noun
from farmbuild.planning.house.context import Work
from farmbuild.planning.house.parts.boards import board_crossings
from farmbuild.planning.house.parts.pipe import purlin_joints
from farmbuild.planning.results import TakeoffRow


def screws(work: Work) -> list[TakeoffRow]:
    spec = work.spec
    in_hoops = work.shape.hoops * (spec.recipe.sticks - 1)
    in_purlins = purlin_joints(work)
    joints = in_hoops + in_purlins
    total = joints * spec.screws_per_joint
    if not (spec.screw_material and total):
        return []
    working = (
        f"{count_noun(in_hoops, 'joint')} in hoops + {in_purlins} in purlins = {joints};"
        f" x {count_noun(spec.screws_per_joint, 'screw')} = {total}"
    )
    return [work.counted("joint screws", spec.screw_material, total, working)]


def bolts(work: Work) -> list[TakeoffRow]:
    spec = work.spec
    crossings = board_crossings(work)
    total = crossings * spec.bolts_per_crossing
    if not (spec.bolt_material and total):
        return []
    rows = crossings // work.shape.hoops
    working = (
        f"{count_noun(rows, 'board row')} x {work.shape.hoops} hoops = {count_noun(crossings, 'crossing')};"
        f" x {count_noun(spec.bolts_per_crossing, 'bolt')} = {total}"
    )
    return [work.counted("board bolts", spec.bolt_material, total, working)]


def anchors(work: Work) -> list[TakeoffRow]:
    spec = work.spec
    if not (spec.anchor_material and spec.anchor_count):
        return []
    working = f"{count_noun(spec.anchor_count, 'anchor')} as the house spec says"
    return [work.counted("anchors", spec.anchor_material, spec.anchor_count, working)]
