"""Whatever planning counts of a house is marked, one and many."""

from __future__ import annotations

import ast

from farmbuild.measure import noun_for
from farmbuild.planning.house import nouns
from farmbuild.planning.house.own_rows import PER_NAMES, Per
from farmbuild.planning.house.spec import Joint
from farmbuild.planning.materials import Kind
from tests.where import ROOT


def counted() -> set[str]:
    """The nouns that are named where they are counted."""
    found = set()
    for path in (ROOT / "farmbuild/planning/house").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            named = isinstance(node, ast.Call) and getattr(node.func, "id", "") == "count_noun"
            if named and isinstance(node.args[1], ast.Constant):
                found.add(node.args[1].value)
    return found


def test_every_noun_that_is_counted_is_marked_one_and_many():
    assert len(counted()) > 15
    wanted = {noun_for(count, noun) for noun in counted() for count in (1, 2)}
    assert wanted - {*nouns.NOUNS} == set()


def test_kinds_and_joints_are_marked():
    assert {kind.value for kind in Kind} == {*nouns.KINDS}
    assert {joint.value for joint in Joint} == {*nouns.JOINTS}


def test_what_a_row_is_for_each_of_is_marked_in_numbers():
    many = {f"{name}s" for per, name in PER_NAMES.items() if per not in (Per.HOUSE, Per.END, Per.FOOT, Per.METRE)}
    assert many - {*nouns.NOUNS} == set()
