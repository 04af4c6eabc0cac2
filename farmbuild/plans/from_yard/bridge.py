"""What planning says of the yard alone, and who could build from it, to and from JSON: money and lengths as text."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from farmbuild.planning.advice.builders import Builders
from farmbuild.planning.advice.without_buying import Further, Held, Wanted, WithoutBuying, without_buying
from farmbuild.planning.scheduling import WorkError
from farmbuild.planning.scheduling.packing import pack_work, work_from

__all__ = [
    "Builders",
    "Further",
    "Held",
    "Wanted",
    "WithoutBuying",
    "WorkError",
    "builders_from",
    "found_from",
    "held_from",
    "pack_asked",
    "pack_found",
    "without_buying",
]


def pack_asked(builders: Builders | None, held: Sequence[Held]) -> Any:
    """As JSON gives it back, so that what is stored compares with what is now."""
    packed = {
        "builders": None if builders is None else _packed(builders),
        "held": sorted([one.lot, one.quantity, sorted(one.houses)] for one in held),
    }
    return json.loads(json.dumps(packed))


def held_from(asked: Any) -> list[Held]:
    return [Held(lot, quantity, frozenset(houses)) for lot, quantity, houses in asked.get("held", ())]


def _packed(builders: Builders) -> dict[str, Any]:
    return {
        "work": pack_work(builders.tasks, builders.resources),
        "material": sorted(builders.material),
        "cannot": builders.cannot,
        "days": {day.isoformat(): slot for day, slot in builders.days.items()},
        "benders": builders.benders,
    }


def builders_from(asked: Any) -> Builders | None:
    packed = asked.get("builders")
    if packed is None:
        return None
    tasks, resources = work_from(packed["work"])
    return Builders(
        tasks=tasks,
        resources=resources,
        material=frozenset(packed["material"]),
        cannot=tuple((house, why) for house, why in packed["cannot"]),
        days={date.fromisoformat(day): slot for day, slot in packed["days"].items()},
        benders=packed["benders"],
    )


def pack_found(found: WithoutBuying) -> Any:
    return {
        "houses": list(found.houses),
        "further": [
            {
                "house": one.house,
                "pays": None if one.pays is None else str(one.pays),
                "buys": [[material, None if length is None else str(length), n] for material, length, n in one.buys],
                "comes": one.comes and one.comes.isoformat(),
                "in_time": one.in_time,
                "why": one.why,
            }
            for one in found.further
        ],
        "proven": found.proven,
        "values": [[house, str(value)] for house, value in found.values],
    }


def found_from(packed: Any) -> WithoutBuying:
    return WithoutBuying(
        houses=tuple(packed["houses"]),
        further=tuple(
            Further(
                house=one["house"],
                pays=one["pays"] and Decimal(one["pays"]),
                buys=tuple((material, length and Decimal(length), n) for material, length, n in one["buys"]),
                comes=one["comes"] and date.fromisoformat(one["comes"]),
                in_time=one["in_time"],
                why=one["why"],
            )
            for one in packed["further"]
        ),
        proven=packed["proven"],
        values=tuple((house, Decimal(value)) for house, value in packed["values"]),
    )
