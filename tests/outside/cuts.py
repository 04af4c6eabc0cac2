"""A cut plan looked at stick by stick: every piece wanted is cut once, and every stick holds what is cut of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from tests.outside.books import Project
from tests.outside.typed import bare_unit, length

Plan = Mapping[str, Any]


def kerf(project: Project, material: str) -> Fraction:
    """What a cut takes; a knife takes nothing of film."""
    if project.materials[material]["kind"] == "film":
        return Fraction(0)
    return length(project.answers["kerf"], bare_unit(project.units, small=True))


def sizes(project: Project, table: Mapping[str, Mapping[str, str]]) -> dict[str, Fraction | None]:
    """Of each offer or lot, the length of one."""
    bare = bare_unit(project.units, small=False)
    return {ref: length(row["length"], bare) if row.get("length") else None for ref, row in table.items()}


def stick_problems(project: Project, plan: Plan) -> list[str]:
    """Sticks that do not hold their pieces and cuts, that are more than the lot has, or that nobody sells."""
    found = []
    offered = {(project.offers[ref]["material"], size) for ref, size in sizes(project, project.offers).items()}
    taken: Counter[str] = Counter()
    for stick in plan["layouts"]:
        whole, cut = Fraction(stick["stick_length"]), kerf(project, stick["material"])
        pieces = [Fraction(piece["length"]) for piece in stick["pieces"]]
        # Each piece is parted from the next, and from what is left; the last may end with the stick.
        used = sum(pieces) + cut * (len(pieces) - 1)
        left = max(whole - used - cut, Fraction(0))
        if used > whole or not pieces or stick["times"] < 1:
            found.append(f"{stick['stick_length']} of {stick['material']} does not hold {pieces}")
        if Fraction(stick["remainder"]) != left:
            found.append(f"{stick['stick_length']} of {stick['material']}: {float(left)} is left")
        if stick["lot"]:
            lot = project.stock[stick["lot"]]
            taken[stick["lot"]] += stick["times"]
            if (lot["material"], sizes(project, project.stock)[stick["lot"]]) != (stick["material"], whole):
                found.append(f"{stick['lot']} is not {stick['stick_length']} of {stick['material']}")
        elif (stick["material"], whole) not in offered:
            found.append(f"nobody sells {stick['stick_length']} of {stick['material']}")
    for row in plan["allocations"]:
        taken[row["lot"]] += row["quantity"]
        if project.stock[row["lot"]].get("offcut") == "yes":
            found.append(f"{row['lot']} is an offcut and given out whole")
    found += [
        f"{ref}: {count} taken of {project.stock[ref]['quantity']}"
        for ref, count in taken.items()
        if count > int(project.stock[ref]["quantity"])
    ]
    return found


def cut_problems(project: Project, plan: Plan) -> list[str]:
    """Pieces that are wanted and not cut, or cut and not wanted; whole ones and counted ones too."""
    wanted: Counter[Any] = Counter()
    given: Counter[Any] = Counter()
    for row in plan["takeoff"]:
        key = (row["house"], row["purpose"], row["material"])
        if row["whole"]:
            wanted[key, row["length"]] += row["quantity"]
        elif project.materials[row["material"]]["kind"] == "fixing channel":
            # Butted end to end, so its length alone counts.
            wanted[key, "run"] += Decimal(row["length"]) * row["quantity"]
        else:
            wanted[key, Decimal(row["length"])] += row["quantity"]
    for stick in plan["layouts"]:
        for piece in stick["pieces"]:
            key = (piece["house"], piece["purpose"], stick["material"])
            if project.materials[stick["material"]]["kind"] == "fixing channel":
                given[key, "run"] += Decimal(piece["length"]) * stick["times"]
            else:
                given[key, Decimal(piece["length"])] += stick["times"]
    for row in [*plan["allocations"], *plan["unmet"]]:
        key = (row["house"], row["purpose"], row["material"])
        whole = (key, row["length"]) in wanted
        given[key, row["length"] if whole else Decimal(row["length"])] += row["quantity"]
    whole_sticks = {key for key in wanted if key[1] is None or isinstance(key[1], str)} - {
        key for key in wanted if key[1] == "run"
    }
    found = [
        f"{key}: {wanted[key]} wanted, {given[key]} given"
        for key in wanted.keys() | given.keys()
        if key not in whole_sticks and wanted[key] != given[key]
    ]
    # What the yard does not give whole is bought; orders are held against that.
    return found + [f"{key}: {given[key]} given of {wanted[key]}" for key in whole_sticks if given[key] > wanted[key]]


def to_buy(project: Project, plan: Plan) -> Counter[tuple[str, str | None]]:
    """By material and length: sticks that the cuts want new, and what the yard does not give whole."""
    need: Counter[tuple[str, str | None]] = Counter()
    for row in plan["takeoff"]:
        if row["whole"]:
            need[row["material"], row["length"]] += row["quantity"]
    for row in [*plan["allocations"], *plan["unmet"]]:
        if (row["material"], row["length"]) in need and _whole(plan, row):
            need[row["material"], row["length"]] -= row["quantity"]
    for stick in plan["layouts"]:
        if not stick["lot"]:
            need[stick["material"], stick["stick_length"]] += stick["times"]
    return +need


def _whole(plan: Plan, row: Mapping[str, Any]) -> bool:
    return any(
        one["whole"]
        for one in plan["takeoff"]
        if all(one[name] == row[name] for name in ("house", "purpose", "material", "length"))
    )
