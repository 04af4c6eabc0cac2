"""The checks find what is wrong: each kind of fault is put into a right plan, and told."""

from __future__ import annotations

import ast
import copy
from collections import Counter
from pathlib import Path

import pytest

from tests.outside.arc import set_over
from tests.outside.cuts import cut_problems, stick_problems
from tests.outside.houses import PROJECTS
from tests.outside.orders import buying_problems
from tests.outside.plans import plan_of
from tests.outside.runs import makes_runs
from tests.outside.takeoff import plan_differences
from tests.outside.typed import IMPERIAL, INCH, METRIC, bare_unit, length

PROJECT = PROJECTS["feet"]


@pytest.fixture
def plan():
    return copy.deepcopy(plan_of("feet")[1])


def told(plan) -> list[str]:
    found = stick_problems(PROJECT, plan) + cut_problems(PROJECT, plan) + buying_problems(PROJECT, plan)
    for ref in PROJECT.houses:
        found += plan_differences(PROJECT.house(ref), [row for row in plan["takeoff"] if row["house"] == ref])
    return found


def test_a_right_plan_has_no_problem(plan):
    assert told(plan) == []


def _longer(row):
    row["length"] = str(float(row["length"]) + 1.5875)


def _purlin(plan, **changes):
    next(row for row in plan["takeoff"] if row["purpose"] == "ridge purlins" and row["whole"]).update(changes)


FAULTS = {
    "a purlin is a stick short": lambda plan: _purlin(plan, quantity=1),
    "a purlin is sawn too short": lambda plan: _purlin(plan, trim="999"),
    "a purlin is not sawn": lambda plan: _purlin(plan, trims=0),
    "a row is missing": lambda plan: plan["takeoff"].pop(),
    "a row is there twice": lambda plan: plan["takeoff"].append(dict(plan["takeoff"][-1])),
    "a row has one more": lambda plan: plan["takeoff"][5].update(quantity=plan["takeoff"][5]["quantity"] + 1),
    "a piece is a sixteenth longer": lambda plan: _longer(next(r for r in plan["takeoff"] if not r["whole"])),
    "a row is of another material": lambda plan: plan["takeoff"][0].update(material="emt-1"),
    "a stick is cut once more": lambda plan: plan["layouts"][0].update(times=plan["layouts"][0]["times"] + 1),
    "a piece is cut of nothing": lambda plan: plan["layouts"][0]["pieces"].append(plan["layouts"][0]["pieces"][0]),
    "a piece is forgotten": lambda plan: plan["layouts"][0]["pieces"].pop(),
    "what is left is wrong": lambda plan: plan["layouts"][0].update(remainder="1"),
    "more than the lot has": lambda plan: plan["allocations"][0].update(quantity=999),
    "one too few ordered": lambda plan: plan["orders"][0]["lines"][0].update(quantity=1, packs=1),
    "half a pack": lambda plan: plan["orders"][1]["lines"][-1].update(packs=1, quantity=7),
    "the wrong price": lambda plan: plan["orders"][0]["lines"][0].update(unit_price="1"),
    "a cent too many": lambda plan: plan["orders"][0].update(total=str(float(plan["orders"][0]["total"]) + 0.01)),
    "delivery free": lambda plan: plan["orders"][0].update(delivery="12.34"),
    "a line is missing": lambda plan: plan["orders"][0]["lines"].pop(),
    "an order is missing": lambda plan: plan["orders"].pop(),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_told(plan, fault):
    FAULTS[fault](plan)
    assert told(plan), fault


def test_what_works_out_here_takes_nothing_from_the_application():
    """Only the tests, which compare, may import it."""
    for path in Path(__file__).parent.glob("*.py"):
        if path.name.startswith("test_") or path.name == "headings.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not any(name.split(".")[0] == "farmbuild" for name in names), path.name


@pytest.mark.parametrize(
    ("typed", "units", "small", "mm"),
    [
        ("7' 3 1/2\"", IMPERIAL, False, "2222.5"),
        ('93.5"', IMPERIAL, False, "2374.9"),
        ('4 1/4"', IMPERIAL, True, "107.95"),
        ("12", IMPERIAL, False, "3657.6"),
        ("12", IMPERIAL, True, "304.8"),
        ("6 mil", IMPERIAL, True, "0.1524"),
        ("2.38 m", METRIC, False, "2380"),
        ("655", METRIC, True, "655"),
        ("105 cm", METRIC, False, "1050"),
    ],
)
def test_lengths_are_read(typed, units, small, mm):
    """1 in is 25.4 mm exactly."""
    assert float(length(typed, bare_unit(units, small=small))) == pytest.approx(float(mm), abs=1e-12)


def test_the_arc_against_a_table():
    """Circular segments of radius 1 (Machinery's Handbook, table of segments, from memory): at a centre angle of 90
    degrees the arc is 1.571, the chord 1.414 and the height 0.293; at 60 degrees 1.047, 1.000 and 0.134."""
    for arc, chord, height in ((1.5707963, 1.4142136, 0.2928932), (1.0471976, 1.0, 0.1339746)):
        found = set_over(arc * 1000, chord * 1000)
        assert found.radius == pytest.approx(1000, rel=1e-6)
        assert found.rise == pytest.approx(height * 1000, rel=1e-5)
        assert found.height(0) == found.rise
        assert found.height(chord * 500) == pytest.approx(0, abs=1e-3)
    legs = set_over(3.14159265358979 * 500 + 200, 1000)
    assert (legs.radius, legs.leg, legs.rise) == pytest.approx((500, 100, 600))


def test_sticks_of_any_length_make_runs():
    """Joints of 4 in: 21 ft and two of 10 ft make 40 ft 4 in, which is 40 ft less 4 in sawn off."""
    feet = lambda n: n * 12 * INCH  # noqa: E731
    mixed = Counter({feet(21): 2, feet(10): 4})
    assert makes_runs(mixed, Counter({4 * INCH: 2}), feet(40), 4 * INCH)
    assert not makes_runs(mixed, Counter({5 * INCH: 2}), feet(40), 4 * INCH)
    assert not makes_runs(mixed + Counter({feet(10): 1}), Counter({4 * INCH: 2}), feet(40), 4 * INCH)
    assert not makes_runs(Counter({feet(10): 5}), Counter({feet(10) - 4 * INCH: 1}), feet(40) - 16 * INCH, 4 * INCH)
